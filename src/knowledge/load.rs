//! Reads knowledge files: the built-in ones first, then a user's, which add or replace by name.

mod complaints;
mod figures;
mod repairs;
mod words;

use super::error::{Mistake, Wrong};
use super::raw::{
    Ordered, RawBench, RawCause, RawCaution, RawComplaints, RawFact, RawKind, RawTerminal, RawTolerance, RawWords, Text,
};
use super::resolve::{self, Report};
use super::{BenchWork, Cause, Caution, Fact, Kind, KindId, Knowledge, Moment, Role, Service, TerminalWord};
use serde::Deserialize;
use serde::de::DeserializeOwned;

/// What a file holds, by its name.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Sort {
    Table,
    Facts,
    Terminals,
    Cautions,
    Causes,
    Repairs,
    Limits,
    Tolerances,
    Words,
    Complaints,
    Bench,
    Kinds,
}

impl Sort {
    /// `tables/x.yaml` is a lookup table, `facts/x.yaml` single figures, `parts/x.yaml` kinds; the rest go by their own names.
    fn of(name: &str) -> Option<Self> {
        let mut parts = name.trim_end_matches(".yaml").rsplit('/');
        let (file, folder) = (parts.next()?, parts.next());
        match (folder, file) {
            (_, "bench") => Some(Self::Bench),
            (_, "terminals") => Some(Self::Terminals),
            (_, "cautions") => Some(Self::Cautions),
            (_, "causes") => Some(Self::Causes),
            (_, "repairs") => Some(Self::Repairs),
            (_, "limits") => Some(Self::Limits),
            (_, "tolerances") => Some(Self::Tolerances),
            (_, "words") => Some(Self::Words),
            (_, "complaints") => Some(Self::Complaints),
            (Some("tables"), _) => Some(Self::Table),
            (Some("facts"), _) => Some(Self::Facts),
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
        let all: Vec<_> = super::embedded::FILES.iter().chain(files).copied().collect();
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
        let mut sorted: Vec<_> = files.iter().map(|(name, text)| (Sort::of(name), *name, *text)).collect();
        // Kinds lean on tables, words and cautions, so those are read first; the order of files is kept within a sort.
        sorted.sort_by_key(|(sort, ..)| *sort);
        for (sort, name, text) in sorted {
            let mut report = Report { file: name, mistakes: Vec::new() };
            match sort {
                Some(sort) => knowledge.read(sort, text, &mut report),
                None => report.whole(
                    "a knowledge file stands in `parts/`, `tables/` or `facts/`, or is called `words`, `bench`, \
                    `complaints`, `cautions`, `causes`, `repairs`, `limits`, `terminals` or `tolerances`",
                ),
            }
            mistakes.append(&mut report.mistakes);
        }
        if mistakes.is_empty() {
            knowledge.all_served()?;
            Ok(knowledge)
        } else {
            Err(mistakes)
        }
    }

    /// Checks that some kind serves as each thing that an install file calls for without naming a kind.
    fn all_served(&self) -> Result<(), Vec<Mistake>> {
        let missing = Service::ALL.iter().filter(|(_, s)| self.serving(*s).is_none());
        let mistakes: Vec<Mistake> = missing
            .map(|(words, _)| Mistake { file: "parts".to_owned(), line: 0, column: 0, wrong: Wrong::NotServed(words) })
            .collect();
        if mistakes.is_empty() { Ok(()) } else { Err(mistakes) }
    }

    /// The kind that serves as something that an install file calls for without naming a kind.
    pub fn serving(&self, service: Service) -> Option<KindId> {
        let mut kinds = self.kinds.enumerate();
        kinds.find(|(_, kind)| kind.serves.contains(&service)).map(|(id, _)| id)
    }

    fn read(&mut self, sort: Sort, text: &str, report: &mut Report<'_>) {
        match sort {
            Sort::Table => {
                if let Some(raw) = report.parse(text) {
                    self.add_table(&raw, report);
                }
            }
            Sort::Facts => {
                for (key, raw) in report.parse::<Ordered<RawFact>>(text).unwrap_or_default().0 {
                    let fact = Fact {
                        value: report.said(&raw.value, "a value"),
                        status: report.status(&raw.status),
                        source: report.said(&raw.source, "a source"),
                    };
                    self.facts.insert(key.value, fact);
                }
            }
            Sort::Terminals => {
                for (name, raw) in report.parse::<Ordered<RawTerminal>>(text).unwrap_or_default().0 {
                    let word = TerminalWord {
                        means: report.said(&raw.means, "a meaning"),
                        status: report.status(&raw.status),
                        source: report.said(&raw.source, "a source"),
                    };
                    self.terminals.insert(name.value, word);
                }
            }
            Sort::Cautions => {
                for (key, raw) in report.parse::<Ordered<RawCaution>>(text).unwrap_or_default().0 {
                    let words = |list: &[Text]| list.iter().map(|word| word.value.clone()).collect();
                    let caution = Caution {
                        when: report.moments(&key, &raw.when),
                        on: words(&raw.on),
                        not_with: words(&raw.not_with),
                        named: words(&raw.named),
                        no_test_there: raw.no_test_there,
                        no_jumper_there: raw.no_jumper_there,
                        says: report.said(&raw.says, "a caution"),
                        status: report.status(&raw.status),
                        source: report.said(&raw.source, "a source"),
                    };
                    self.cautions.insert(key.value, caution);
                }
            }
            Sort::Causes => {
                for (key, raw) in report.parse::<Ordered<RawCause>>(text).unwrap_or_default().0 {
                    let cause = report.cause(&key, &raw);
                    match self.causes.iter_mut().find(|known| known.key == cause.key) {
                        Some(known) => *known = cause,
                        None => self.causes.push(cause),
                    }
                }
            }
            Sort::Repairs => self.add_repairs(text, report),
            Sort::Limits => self.add_limits(text, report),
            Sort::Tolerances => {
                for (key, raw) in report.parse::<Ordered<RawTolerance>>(text).unwrap_or_default().0 {
                    self.add_tolerance(&key, &raw, report);
                }
            }
            Sort::Words => {
                for (key, raw) in report.parse::<Ordered<RawWords>>(text).unwrap_or_default().0 {
                    let table = words::words(&raw, report);
                    self.words.insert(key.value, table);
                }
            }
            Sort::Bench => {
                if let Some(raw) = report.parse::<RawBench>(text) {
                    let incoming = raw.incoming.0.iter();
                    self.bench = BenchWork {
                        power: raw.power.iter().map(|line| report.said(line, "what is done")).collect(),
                        incoming: incoming.map(|(k, v)| (k.value.clone(), report.said(v, "a question"))).collect(),
                        source: report.said(&raw.source, "a source"),
                    };
                }
            }
            Sort::Complaints => {
                if let Some(raw) = report.parse::<RawComplaints>(text) {
                    self.complaints = complaints::complaints(&raw, report);
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
        let mut report = Report { file, mistakes: Vec::new() };
        if let Some(own) = report.parse::<OwnKinds>(text) {
            self.add_raw_kinds(&own.kinds, &mut report);
        }
        if report.mistakes.is_empty() { Ok(()) } else { Err(report.mistakes) }
    }

    fn add_raw_kinds(&mut self, raw: &[RawKind], report: &mut Report<'_>) {
        let mut here: Vec<&str> = Vec::new();
        let mut served: Vec<&str> = Vec::new();
        for raw in raw {
            for service in &raw.serves {
                if served.contains(&service.value.as_str()) {
                    report.note(service, Wrong::Twice(service.value.clone()));
                }
                served.push(&service.value);
            }
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

    /// Adds a kind. What it is called by, no other kind is called by any more, and what it serves as, no other one
    /// does: the last word is the user's. One that takes another's name serves as that one did.
    fn replace(&mut self, mut kind: Kind) {
        if let Some(known) = self.kinds.iter().find(|known| known.name == kind.name) {
            let kept = known.serves.iter().filter(|s| !kind.serves.contains(s));
            let kept: Vec<Service> = kept.copied().collect();
            kind.serves.extend(kept);
        }
        for known in self.kinds.iter_mut() {
            known.serves.retain(|service| !kind.serves.contains(service));
            known.aliases.retain(|alias| *alias != kind.name && !kind.aliases.contains(alias));
        }
        match self.kinds.iter_mut().find(|known| known.name == kind.name) {
            Some(known) => *known = kind,
            None => {
                self.kinds.push(kind);
            }
        }
    }

    /// The kind that `name` stands for: a kind's own name first, then the other names.
    pub fn kind(&self, name: &str) -> Option<KindId> {
        let last = |hit: &dyn Fn(&Kind) -> bool| {
            let hits = self.kinds.enumerate().filter(|(_, kind)| hit(kind));
            hits.map(|(id, _)| id).last()
        };
        last(&|kind| kind.name == name).or_else(|| last(&|kind| kind.aliases.iter().any(|a| a == name)))
    }
}

impl Knowledge {
    /// What a fault of this mode of a part with this role usually comes of.
    pub fn cause(&self, role: Role, mode: &str) -> Option<&Cause> {
        self.causes.iter().find(|cause| cause.of.contains(&role) && cause.modes.iter().any(|known| known == mode))
    }
}

impl Report<'_> {
    fn cause(&mut self, key: &Text, raw: &RawCause) -> Cause {
        let of = self.roles(&raw.of);
        Cause {
            key: key.value.clone(),
            of,
            modes: raw.modes.iter().map(|mode| mode.value.clone()).collect(),
            look: self.said(&raw.look, "what to look at"),
            status: self.status(&raw.status),
            source: self.said(&raw.source, "a source"),
        }
    }

    fn moments(&mut self, key: &Text, words: &[Text]) -> Vec<Moment> {
        let mut when = Vec::new();
        for word in words {
            match Moment::ALL.iter().find(|(_, known)| *known == word.value) {
                Some((moment, _)) => when.push(*moment),
                None => self.unknown(word, "moment"),
            }
        }
        if words.is_empty() {
            self.unreadable(key, "a caution that says `when:`");
        }
        when
    }

    fn roles(&mut self, words: &[Text]) -> Vec<Role> {
        let mut of = Vec::new();
        for word in words {
            match resolve::role(&word.value) {
                Some(role) => of.push(role),
                None => self.unknown(word, "role"),
            }
        }
        of
    }

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
    fn status(&mut self, text: &Text) -> String {
        if !["seen", "memory", "computed", "practice"].contains(&text.value.as_str()) {
            self.unreadable(text, "`seen`, `memory`, `computed` or `practice`");
        }
        text.value.clone()
    }
}
