//! Reads knowledge files: the built-in ones first, then a user's, which add or replace by name.

use super::error::{Mistake, Wrong};
use super::raw::{
    Ordered, RawCaution, RawKind, RawTable, RawTerminal, RawTolerance, RawWords, Text,
};
use super::resolve::{self, Report};
use super::{
    Caution, Kind, KindId, Knowledge, LookupTable, NoticedState, Row, TerminalWord, Tolerances,
    Unit, Word, WordTable,
};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_yaml::Spanned;
use std::collections::BTreeMap;

/// What a file holds, by its name.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Sort {
    Table,
    Terminals,
    Cautions,
    Tolerances,
    Words,
    Kinds,
}

impl Sort {
    /// `tables/x.yaml` is a lookup table, `parts/x.yaml` kinds; the rest go by their own names.
    fn of(name: &str) -> Option<Self> {
        let mut parts = name.trim_end_matches(".yaml").rsplit('/');
        let (file, folder) = (parts.next()?, parts.next());
        match (folder, file) {
            (_, "terminals") => Some(Self::Terminals),
            (_, "cautions") => Some(Self::Cautions),
            (_, "tolerances") => Some(Self::Tolerances),
            (_, "words") => Some(Self::Words),
            (Some("tables"), _) => Some(Self::Table),
            (Some("parts"), _) => Some(Self::Kinds),
            _ => None,
        }
    }
}

/// A file of knowledge: its name (`parts/relays.yaml`) and its text.
pub type NamedText<'a> = (&'a str, &'a str);

impl Knowledge {
    /// Everything that is built in.
    ///
    /// # Panics
    ///
    /// Never: a test reads the same files.
    #[expect(clippy::expect_used, reason = "embedded knowledge is checked by tests")]
    pub fn built_in() -> Self {
        Self::load(super::embedded::FILES).expect("embedded knowledge is checked by tests")
    }

    /// What is built in, with a user's files added: a kind, table, word table or caution of the same name replaces.
    ///
    /// # Errors
    ///
    /// All mistakes of all files.
    pub fn with_files(files: &[NamedText<'_>]) -> Result<Self, Vec<Mistake>> {
        let all: Vec<_> = super::embedded::FILES
            .iter()
            .chain(files)
            .copied()
            .collect();
        Self::load(&all)
    }

    /// Reads these files alone.
    ///
    /// # Errors
    ///
    /// All mistakes of all files.
    pub fn load(files: &[NamedText<'_>]) -> Result<Self, Vec<Mistake>> {
        let mut knowledge = Self::default();
        let mut mistakes = Vec::new();
        let mut sorted: Vec<_> = files
            .iter()
            .map(|(name, text)| (Sort::of(name), *name, *text))
            .collect();
        // Kinds lean on tables, words and cautions, so those are read first; the order of files is kept within a sort.
        sorted.sort_by_key(|(sort, ..)| *sort);
        for (sort, name, text) in sorted {
            let mut report = Report {
                file: name,
                mistakes: Vec::new(),
            };
            match sort {
                Some(sort) => knowledge.read(sort, text, &mut report),
                None => report.whole(
                    "a knowledge file stands in `parts/` or `tables/`, or is called `words`, \
                    `cautions`, `terminals` or `tolerances`",
                ),
            }
            mistakes.append(&mut report.mistakes);
        }
        if mistakes.is_empty() {
            Ok(knowledge)
        } else {
            Err(mistakes)
        }
    }

    fn read(&mut self, sort: Sort, text: &str, report: &mut Report<'_>) {
        match sort {
            Sort::Table => {
                if let Some(raw) = report.parse(text) {
                    self.add_table(&raw, report);
                }
            }
            Sort::Terminals => {
                for (name, raw) in report
                    .parse::<Ordered<RawTerminal>>(text)
                    .unwrap_or_default()
                    .0
                {
                    let word = TerminalWord {
                        means: report.said(&raw.means, "a meaning"),
                        status: report.status(&raw.status),
                        source: report.said(&raw.source, "a source"),
                    };
                    self.terminals.insert(name.value, word);
                }
            }
            Sort::Cautions => {
                for (key, raw) in report
                    .parse::<Ordered<RawCaution>>(text)
                    .unwrap_or_default()
                    .0
                {
                    let caution = Caution {
                        opening: raw.opening,
                        says: report.said(&raw.says, "a caution"),
                        status: report.status(&raw.status),
                        source: report.said(&raw.source, "a source"),
                    };
                    self.cautions.insert(key.value, caution);
                }
            }
            Sort::Tolerances => {
                for (key, raw) in report
                    .parse::<Ordered<RawTolerance>>(text)
                    .unwrap_or_default()
                    .0
                {
                    self.add_tolerance(&key, &raw, report);
                }
            }
            Sort::Words => {
                for (key, raw) in report
                    .parse::<Ordered<RawWords>>(text)
                    .unwrap_or_default()
                    .0
                {
                    let table = words(&raw, report);
                    self.words.insert(key.value, table);
                }
            }
            Sort::Kinds => {
                let raw: Vec<RawKind> = report.parse(text).unwrap_or_default();
                self.add_raw_kinds(&raw, report);
            }
        }
    }

    /// Adds the kinds under `kinds:` of an install file, of which it reads nothing else; one of the same name replaces.
    ///
    /// # Errors
    ///
    /// All mistakes, with their places in that file.
    pub fn add_kinds_of_install(&mut self, file: &str, text: &str) -> Result<(), Vec<Mistake>> {
        #[derive(Deserialize)]
        struct OwnKinds {
            #[serde(default)]
            kinds: Vec<RawKind>,
        }
        let mut report = Report {
            file,
            mistakes: Vec::new(),
        };
        if let Some(own) = report.parse::<OwnKinds>(text) {
            self.add_raw_kinds(&own.kinds, &mut report);
        }
        if report.mistakes.is_empty() {
            Ok(())
        } else {
            Err(report.mistakes)
        }
    }

    fn add_raw_kinds(&mut self, raw: &[RawKind], report: &mut Report<'_>) {
        let mut here: Vec<&str> = Vec::new();
        for raw in raw {
            for name in std::iter::once(&raw.kind).chain(&raw.also) {
                if here.contains(&name.value.as_str()) {
                    report.note(name, Wrong::Twice(name.value.clone()));
                }
                here.push(&name.value);
            }
            if let Some(kind) = resolve::kind(raw, report, self) {
                self.replace(kind);
            }
        }
    }

    fn replace(&mut self, kind: Kind) {
        match self.kinds.iter_mut().find(|known| known.name == kind.name) {
            Some(known) => *known = kind,
            None => {
                self.kinds.push(kind);
            }
        }
    }

    /// The kind that `name` stands for: its own name first, then the other names; the last added wins.
    pub fn kind(&self, name: &str) -> Option<KindId> {
        let last = |hit: &dyn Fn(&Kind) -> bool| {
            let hits = self.kinds.enumerate().filter(|(_, kind)| hit(kind));
            hits.map(|(id, _)| id).last()
        };
        last(&|kind| kind.name == name)
            .or_else(|| last(&|kind| kind.aliases.iter().any(|a| a == name)))
    }

    fn add_table(&mut self, raw: &RawTable, report: &mut Report<'_>) {
        let name = report.said(&raw.table, "a name");
        let mut rows: Vec<Row> = Vec::new();
        for row in &raw.rows {
            let ascending = rows.last().is_none_or(|last| row.at.value > last.at);
            if !(row.at.value > 0.0 && row.at.value.is_finite() && ascending) {
                let text = row.at.value.to_string();
                let expected = "above zero and above the row before";
                report.note(&row.at, Wrong::OutOfRange { text, expected });
            }
            if !(row.gives.value > 0.0 && row.gives.value.is_finite()) {
                let text = row.gives.value.to_string();
                report.note(
                    &row.gives,
                    Wrong::OutOfRange {
                        text,
                        expected: "above zero",
                    },
                );
            }
            let source = raw
                .sources
                .0
                .iter()
                .find(|(key, _)| key.value == row.source.value);
            if source.is_none() {
                report.unknown(&row.source, "source");
            }
            rows.push(Row {
                at: row.at.value,
                gives: row.gives.value,
                least: row.least,
                most: row.most,
                mark: row.mark.clone(),
                status: report.status(&row.status),
                source: source.map(|(_, text)| text.clone()).unwrap_or_default(),
            });
        }
        if rows.len() < 2 {
            report.note(&raw.table, Wrong::Missing("a second row"));
        }
        let about = report.said(&raw.about, "what it holds");
        let of = report.said(&raw.of, "what is looked up");
        let gives = report.said(&raw.gives, "what it gives");
        self.tables.insert(
            name,
            LookupTable {
                about,
                of,
                gives,
                rows,
            },
        );
    }

    fn add_tolerance(&mut self, key: &Text, raw: &RawTolerance, report: &mut Report<'_>) {
        let Tolerances {
            meter_share,
            meter_counts,
            meter_ohms,
            supply_shared,
            supply_own,
            supply_drift,
            blunders,
        } = &mut self.tolerances;
        let (field, unit) = match key.value.as_str() {
            "meter-share" => (meter_share, Unit::Ratio),
            "meter-counts" => (meter_counts, Unit::Ratio),
            "meter-ohms" => (meter_ohms, Unit::Ohms),
            "supply-shared" => (supply_shared, Unit::Ratio),
            "supply-own" => (supply_own, Unit::Ratio),
            "supply-drift" => (supply_drift, Unit::Ratio),
            "blunders" => (blunders, Unit::Ratio),
            _ => return report.unknown(key, "tolerance"),
        };
        report.said(&raw.about, "what it is");
        report.said(&raw.source, "a source");
        match super::amount::read_quantity(&raw.value.value, unit).filter(|v| *v >= 0.0) {
            Some(value) => *field = value,
            None => report.unreadable(&raw.value, "a quantity of the right unit"),
        }
    }
}

fn words(raw: &RawWords, report: &mut Report<'_>) -> WordTable {
    for (value, expected) in [
        (&raw.contradiction, "from 0 to 0.5"),
        (&raw.width, "above 0, at most 5"),
    ] {
        let most = if expected.ends_with("0.5") { 0.5 } else { 5.0 };
        if !(value.value >= 0.0 && value.value <= most) {
            let text = value.value.to_string();
            report.note(value, Wrong::OutOfRange { text, expected });
        }
    }
    let mut words: Vec<Word> = Vec::new();
    for (key, word) in &raw.words.0 {
        words.push(Word {
            key: key.value.clone(),
            says: report.said(&word.says, "what the screen says"),
            also: word.also.iter().map(|a| a.value.clone()).collect(),
        });
    }
    let mut edges = Vec::new();
    let mut bands = Vec::new();
    for (i, band) in raw.bands.iter().enumerate() {
        match &band.below {
            Some(edge)
                if i + 1 < raw.bands.len()
                    && edges.last().is_none_or(|last| edge.value > *last) =>
            {
                edges.push(edge.value);
            }
            None if i + 1 == raw.bands.len() => {}
            _ => report.note(
                &raw.source,
                Wrong::Missing("an ascending `below` for each band but the last"),
            ),
        }
        bands.push(probabilities(&band.words, &words, &raw.source, report));
    }
    let mut states = BTreeMap::new();
    for (state, row) in &raw.states.0 {
        match NoticedState::ALL
            .iter()
            .find(|(_, word)| *word == state.value)
        {
            None => report.unknown(state, "state"),
            Some((noticed, _)) => {
                states.insert(*noticed, probabilities(row, &words, state, report));
            }
        }
    }
    WordTable {
        words,
        edges,
        width: raw.width.value,
        bands,
        states,
        contradiction: raw.contradiction.value,
        source: report.said(&raw.source, "a source"),
    }
}

/// A row of probabilities in the order of `words`; words left out have none, and the row must sum to 1.
fn probabilities(
    row: &Ordered<f64>,
    words: &[Word],
    at: &Text,
    report: &mut Report<'_>,
) -> Vec<f64> {
    for (word, _) in &row.0 {
        if words.iter().all(|w| w.key != word.value) {
            report.unknown(word, "word in this table");
        }
    }
    let of = |word: &Word| {
        row.0
            .iter()
            .find(|(k, _)| k.value == word.key)
            .map_or(0.0, |(_, p)| *p)
    };
    let row: Vec<f64> = words.iter().map(of).collect();
    let sum: f64 = row.iter().sum();
    if (sum - 1.0).abs() > 1e-9 || row.iter().any(|p| *p < 0.0) {
        let text = sum.to_string();
        report.note(
            at,
            Wrong::OutOfRange {
                text,
                expected: "a sum of probabilities of 1",
            },
        );
    }
    row
}

impl Report<'_> {
    /// Notes a mistake of the file as a whole.
    fn whole(&mut self, text: &str) {
        self.mistakes.push(Mistake {
            file: self.file.to_owned(),
            line: 0,
            column: 0,
            wrong: Wrong::Form(text.to_owned()),
        });
    }

    fn parse<T: DeserializeOwned>(&mut self, text: &str) -> Option<T> {
        let options = serde_yaml::options! { with_snippet: false, strict_booleans: true };
        match serde_yaml::from_str_with_options::<T>(text, options) {
            Ok(value) => Some(value),
            Err(error) => {
                let place = |n: u64| usize::try_from(n).unwrap_or(usize::MAX);
                let at = error.location();
                self.mistakes.push(Mistake {
                    file: self.file.to_owned(),
                    line: at.map_or(0, |at| place(at.line())),
                    column: at.map_or(0, |at| place(at.column())),
                    wrong: Wrong::Form(error.to_string()),
                });
                None
            }
        }
    }

    /// How sure a row is.
    fn status(&mut self, text: &Spanned<String>) -> String {
        if !["seen", "memory", "computed", "practice"].contains(&text.value.as_str()) {
            self.unreadable(text, "`seen`, `memory`, `computed` or `practice`");
        }
        text.value.clone()
    }
}
