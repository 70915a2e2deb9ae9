//! The records of a job file, read back.

mod closing;

use super::{
    About, Blamed, Complained, Correction, Described, Ended, FORMAT, Finding, Got, Left, Line, Moment, OnBench, Opened,
    Outcome, Probed, Proven, Reading, Record, Repair, Seen, Setting,
};
use crate::diagnostic::{Diagnostic, Report, Span, nearest, quoted};
use crate::document::{Entry, Fields, Node, Source, Text, Value, read_typed};
use crate::job::{AtHand, Held};

/// The key of a reading that proves something.
const PROOF: &str = "proof";

/// The keys by which a record is known.
const KINDS: [&str; 22] = [
    "job",
    "described",
    "about",
    "circuit",
    "history",
    "bench",
    "instruments",
    "lesson",
    "incoming",
    "complaint",
    "reading",
    "undo",
    "correct",
    "note",
    "suspected",
    "finding",
    "left",
    "resumed",
    "repair",
    "proof",
    "outcome",
    "closed",
];

/// Reads the whole lines of a job file, each with its place.
///
/// # Errors
/// Everything that is no record, each with its place.
pub fn read_lines(source: &Source) -> Result<Vec<(Span, Line)>, Report> {
    if source.text().trim().is_empty() {
        return Ok(Vec::new());
    }
    let document = read_typed(source)?;
    let mut reader = Reader { report: Report::new() };
    let list = document.as_list().unwrap_or_else(|| {
        reader.wrong::<()>("wrong-form", document.span, "a job file is a list of records");
        &[]
    });
    let lines: Vec<_> = list.iter().filter_map(|node| Some((node.span, reader.line(node)?))).collect();
    if reader.report.has_errors() { Err(reader.report) } else { Ok(lines) }
}

struct Reader {
    report: Report,
}

impl Reader {
    fn wrong<T>(&mut self, code: &'static str, span: Span, message: impl Into<String>) -> Option<T> {
        self.report.push(Diagnostic::error(code, span, message));
        None
    }

    fn line(&mut self, node: &Node) -> Option<Line> {
        let kind = node.as_map().and_then(<[Entry]>::first).map(|first| first.key.clone());
        let Some(kind) = kind else {
            return self.wrong("wrong-form", node.span, "a record is a map that begins with its name: `{undo: 3}`");
        };
        if !KINDS.contains(&kind.text.as_str()) {
            let message = format!("no record called {}", quoted(&kind.text));
            let mut wrong = Diagnostic::error("unknown-record", kind.span, message);
            if let Some(near) = nearest(&kind.text, KINDS) {
                wrong = wrong.hint(format!("did you mean {}?", quoted(near)));
            }
            self.report.push(wrong);
            return None;
        }
        let mut fields = Fields::open(node, "a record", &mut self.report);
        let record = self.record(&kind.text, &mut fields, node.span);
        let at = self.moment(&mut fields, "at");
        fields.finish(&mut self.report);
        Some(Line { at: at?, record: record? })
    }

    fn record(&mut self, kind: &str, fields: &mut Fields<'_>, span: Span) -> Option<Record> {
        Some(match kind {
            "job" => Record::Opened(self.opened(fields)?),
            "described" => Record::Described(self.described(fields)),
            "about" => Record::About(About(self.settings(fields, "about"))),
            "circuit" => Record::Circuit(self.settings(fields, "circuit")),
            "history" => Record::History(self.learnt(fields)?),
            "bench" => {
                let limit = self.number(fields, "bench");
                Record::Bench(OnBench { dummies: self.texts(fields, "dummies"), limit: limit? })
            }
            "instruments" => Record::AtHand(self.at_hand(fields, span)?),
            "lesson" => {
                self.word(fields, "lesson", &[((), "yes")])?;
                Record::Lesson
            }
            "incoming" => {
                let about = self.needed(fields, "incoming");
                Record::Incoming { says: self.needed(fields, "says")?, about: about? }
            }
            "complaint" => {
                let node = fields.needed("complaint", &mut self.report)?;
                Record::Complaint(self.complaint(node)?)
            }
            "reading" => Record::Reading(self.reading(fields, "reading", span)?),
            "undo" => Record::Undo(self.number(fields, "undo")?),
            "correct" => {
                let number = self.number(fields, "correct");
                let got = self.got(fields, span);
                let held = self.some_word(fields, "passed", &Held::ALL);
                Record::Correct(Correction { got: got?, number: number?, held })
            }
            "note" => Record::Note(self.needed(fields, "note")?),
            "suspected" => self.suspected(fields)?,
            "finding" => Record::Finding(self.finding(fields)?),
            "left" => {
                self.needed(fields, "left");
                let minutes = self.number(fields, "minutes");
                let cautions = self.texts(fields, "cautions");
                Record::Left(Left { open: self.texts(fields, "open"), cautions, minutes: minutes? })
            }
            "resumed" => {
                let program = self.needed(fields, "resumed");
                Record::Resumed { file: self.needed(fields, "file")?, program: program? }
            }
            "repair" => {
                let (part, done) = (self.needed(fields, "repair"), self.needed(fields, "done"));
                let minutes = self.some_number(fields, "minutes");
                Record::Repair(Repair { culprits: self.culprits(fields)?, part: part?, done: done?, minutes })
            }
            "proof" => Record::Reading(self.reading(fields, "proof", span)?),
            "outcome" => {
                let outcome = self.word(fields, "outcome", &Outcome::ALL);
                let says = self.optional(fields, "says");
                Record::Outcome { says, cautions: self.texts(fields, "cautions"), outcome: outcome? }
            }
            _ => Record::Closed(self.closed(fields)?),
        })
    }

    fn opened(&mut self, fields: &mut Fields<'_>) -> Option<Opened> {
        let format = fields.needed_text("job", &mut self.report);
        let install = self.needed(fields, "install");
        let file = self.needed(fields, "file");
        let program = self.needed(fields, "program");
        let seed = self.number(fields, "seed");
        let cautions = self.texts(fields, "cautions");
        let format = format?;
        if format.text != FORMAT {
            let message = format!("this job file has the form {}; this program knows {FORMAT}", quoted(&format.text));
            return self.wrong("unknown-form", format.span, message);
        }
        Some(Opened { program: program?, install: install?, file: file?, seed: seed?, cautions })
    }

    fn described(&mut self, fields: &mut Fields<'_>) -> Described {
        let mut marks = Vec::new();
        for entry in fields.map("described", &mut self.report) {
            let group = &entry.key.text;
            match &entry.value.value {
                Value::Text(mark) => marks.push((group.clone(), None, mark.clone())),
                _ => {
                    let inner = self.entries(&entry.value);
                    marks.extend(inner.into_iter().map(|(name, mark)| (group.clone(), Some(name), mark)));
                }
            }
        }
        let rest = self.settings(fields, "rest");
        Described::from_marks(marks, rest)
    }

    fn at_hand(&mut self, fields: &mut Fields<'_>, span: Span) -> Option<AtHand> {
        let names = self.texts(fields, "instruments");
        match AtHand::of(names.iter().map(String::as_str)) {
            Ok(at_hand) => Some(at_hand),
            Err(wrong) => self.wrong("unknown-word", span, wrong.join("; ")),
        }
    }

    fn complaint(&mut self, node: &Node) -> Option<Complained> {
        let mut fields = Fields::open(node, "a complaint", &mut self.report);
        let what = self.texts(&mut fields, "what");
        let facts = self.list(&mut fields, "facts").iter().map(|fact| self.seen(fact)).collect();
        let with = self.settings(&mut fields, "with");
        let usual = self.settings(&mut fields, "usual");
        let when = self.optional(&mut fields, "when");
        let history = self.optional(&mut fields, "history");
        let seen = self.yes(&mut fields, "seen", true);
        fields.finish(&mut self.report);
        let facts: Option<Vec<Seen>> = facts;
        Some(Complained { what, facts: facts?, with, usual, when, history, seen })
    }

    fn seen(&mut self, node: &Node) -> Option<Seen> {
        let mut fields = Fields::open(node, "a fact", &mut self.report);
        let with = self.settings(&mut fields, "with");
        let look = self.needed(&mut fields, "look");
        let shows = self.needed(&mut fields, "shows");
        let wrong = self.yes(&mut fields, "wrong", false);
        fields.finish(&mut self.report);
        Some(Seen { with, look: look?, shows: shows?, wrong })
    }

    fn reading(&mut self, fields: &mut Fields<'_>, key: &'static str, span: Span) -> Option<Reading> {
        let number = self.number(fields, key);
        let with = self.settings(fields, "with");
        // For people: the place says which instrument it is.
        fields.take("by");
        let [red, black] = ["red", "black"].map(|key| self.optional(fields, key));
        let [drop, amps] = ["drop", "amps"].map(|key| self.optional(fields, key));
        let ohms = ["ohms", "to"].map(|key| self.optional(fields, key));
        let [lamp, clip] = ["lamp", "clip"].map(|key| self.optional(fields, key));
        let look = self.optional(fields, "look");
        let got = self.got(fields, span);
        let expected = self.optional(fields, "expected");
        let minutes = self.some_number(fields, "minutes").unwrap_or(0.0);
        let cautions = self.texts(fields, "cautions");
        let asked = self.yes(fields, "asked", true);
        let shows = self.optional(fields, "shows that");
        let held = self.some_word(fields, "passed", &Held::ALL);
        let proof = match (key, held) {
            (PROOF, Some(held)) => Some(Proven { held, shows: shows.unwrap_or_default() }),
            (PROOF, None) => return self.wrong("missing", span, "a proof says whether it `passed`"),
            _ => None,
        };
        let ohms = match ohms {
            [Some(red), Some(black)] => Some(Probed::Ohms { red, black }),
            [None, None] => None,
            _ => return self.wrong("wrong-form", span, "ohms are read between two points: `ohms` and `to`"),
        };
        let probed = match (red, black, drop, amps, ohms, lamp, clip, look) {
            (Some(red), Some(black), None, None, None, None, None, None) => Probed::Volts { red, black },
            (None, None, Some(part), None, None, None, None, None) => Probed::Drop(part),
            (None, None, None, Some(part), None, None, None, None) => Probed::Amps(part),
            (None, None, None, None, Some(ohms), None, None, None) => ohms,
            (None, None, None, None, None, Some(tip), Some(clip), None) => Probed::Lamp { tip, clip },
            (None, None, None, None, None, None, None, Some(look)) => Probed::Look(look),
            _ => {
                let message =
                    "a reading has `red` and `black`, `drop`, `amps`, `ohms` and `to`, `lamp` and `clip`, or `look`";
                return self.wrong("wrong-form", span, message);
            }
        };
        Some(Reading { number: number?, with, probed, got: got?, expected, minutes, cautions, asked, proof })
    }

    fn got(&mut self, fields: &mut Fields<'_>, span: Span) -> Option<Got> {
        let [reads, shows, skipped] = ["reads", "shows", "skipped"].map(|key| self.optional(fields, key));
        match (reads, shows, skipped) {
            (Some(text), None, None) => Some(Got::Reads(text)),
            (None, Some(word), None) => Some(Got::Shows(word)),
            (None, None, Some(why)) => Some(Got::Skipped(why)),
            _ => self.wrong("wrong-form", span, "what was read stands behind `reads`, `shows` or `skipped`"),
        }
    }

    fn suspected(&mut self, fields: &mut Fields<'_>) -> Option<Record> {
        self.word(fields, "suspected", &[((), super::print::MISTAKES)])?;
        Some(Record::MistakesToo)
    }

    fn finding(&mut self, fields: &mut Fields<'_>) -> Option<Finding> {
        let ended = self.word(fields, "finding", &Ended::ALL);
        let culprits = self.culprits(fields);
        let cautions = self.texts(fields, "cautions");
        let minutes = self.number(fields, "minutes");
        let open = self.texts(fields, "open");
        Some(Finding { ended: ended?, culprits: culprits?, cautions, minutes: minutes?, open })
    }

    fn culprits(&mut self, fields: &mut Fields<'_>) -> Option<Vec<Blamed>> {
        self.list(fields, "culprits").iter().map(|node| self.blamed(node)).collect()
    }

    fn blamed(&mut self, node: &Node) -> Option<Blamed> {
        let mut fields = Fields::open(node, "a culprit", &mut self.report);
        let [part, fault, repair] = ["part", "fault", "repair"].map(|key| self.needed(&mut fields, key));
        let sure = self.number(&mut fields, "sure");
        fields.finish(&mut self.report);
        Some(Blamed { part: part?, fault: fault?, sure: sure?, repair: repair? })
    }

    fn needed(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<String> {
        fields.needed_text(key, &mut self.report).map(|t| t.text)
    }

    fn optional(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<String> {
        fields.text(key, &mut self.report).map(|t| t.text)
    }

    fn texts(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Vec<String> {
        fields.texts(key, &mut self.report).into_iter().map(|t| t.text).collect()
    }

    fn list<'n>(&mut self, fields: &mut Fields<'n>, key: &'static str) -> &'n [Node] {
        let Some(node) = fields.take(key) else { return &[] };
        node.as_list().unwrap_or_else(|| {
            self.wrong::<()>("wrong-form", node.span, format!("`{key}:` is a list"));
            &[]
        })
    }

    /// Names with texts.
    fn settings(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Setting {
        fields.take(key).map(|node| self.entries(node)).unwrap_or_default()
    }

    fn entries(&mut self, node: &Node) -> Setting {
        let Some(entries) = node.as_map() else {
            self.wrong::<()>("wrong-form", node.span, "this is a map of `name: text`");
            return Vec::new();
        };
        let mut found = Vec::new();
        for entry in entries {
            match entry.value.as_text() {
                Some(text) => found.push((entry.key.text.clone(), text.to_owned())),
                None => {
                    self.wrong::<()>("wrong-form", entry.value.span, "a text stands here");
                }
            }
        }
        found
    }

    fn number<T: std::str::FromStr + Finite>(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<T> {
        let text = fields.needed_text(key, &mut self.report)?;
        self.one_number(&text)
    }

    fn some_number(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<f64> {
        let text = fields.text(key, &mut self.report)?;
        self.one_number(&text)
    }

    fn one_number<T: std::str::FromStr + Finite>(&mut self, text: &Text) -> Option<T> {
        match text.text.parse::<T>() {
            Ok(number) if number.is_finite() => Some(number),
            _ => self.wrong("not-a-number", text.span, format!("{} is no number", quoted(&text.text))),
        }
    }

    fn moment(&mut self, fields: &mut Fields<'_>, key: &'static str) -> Option<Moment> {
        let text = fields.needed_text(key, &mut self.report)?;
        let found = Moment::parse(&text.text);
        if found.is_none() {
            let message = format!("{} is no time: `2026-11-25T22:38:05Z`", quoted(&text.text));
            return self.wrong("not-a-time", text.span, message);
        }
        found
    }

    fn word<T: Copy>(&mut self, fields: &mut Fields<'_>, key: &'static str, all: &[(T, &'static str)]) -> Option<T> {
        let text = fields.needed_text(key, &mut self.report)?;
        self.one_word(&text, all)
    }

    fn some_word<T: Copy>(
        &mut self,
        fields: &mut Fields<'_>,
        key: &'static str,
        all: &[(T, &'static str)],
    ) -> Option<T> {
        let text = fields.text(key, &mut self.report)?;
        self.one_word(&text, all)
    }

    fn one_word<T: Copy>(&mut self, text: &Text, all: &[(T, &'static str)]) -> Option<T> {
        if let Some((found, _)) = all.iter().find(|(_, word)| *word == text.text) {
            return Some(*found);
        }
        let known: Vec<String> = all.iter().map(|(_, word)| quoted(word)).collect();
        let message = format!("{} stands here; it may be {}", quoted(&text.text), known.join(", "));
        self.wrong("unknown-word", text.span, message)
    }

    fn yes(&mut self, fields: &mut Fields<'_>, key: &'static str, without: bool) -> bool {
        let Some(text) = fields.text(key, &mut self.report) else { return without };
        if !["yes", "no"].contains(&text.text.as_str()) {
            self.wrong::<()>("unknown-word", text.span, format!("`{key}:` is `yes` or `no`"));
        }
        text.text == "yes"
    }
}

/// Numbers that a file may hold.
trait Finite {
    fn is_finite(&self) -> bool;
}

impl Finite for f64 {
    fn is_finite(&self) -> bool {
        Self::is_finite(*self)
    }
}

impl Finite for usize {
    fn is_finite(&self) -> bool {
        true
    }
}

impl Finite for u64 {
    fn is_finite(&self) -> bool {
        true
    }
}
