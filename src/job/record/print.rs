//! A record as its line in the file.

use super::{
    Blamed, Closed, Complained, Described, Ended, FORMAT, Failed, Finding, Got, Line, Opened, Outcome, Probed, Reading,
    Record, Seen, Setting,
};
use crate::job::Held;
use crate::suspects::Learnt;
use std::fmt::{self, Display, Write};

impl Display for Line {
    /// One line of YAML with its newline.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut map = Flow::new();
        match &self.record {
            Record::Opened(opened) => map.opened(opened),
            Record::Described(described) => map.described(described),
            Record::About(about) => map.settings("about", &about.0),
            Record::Circuit(said) => map.settings("circuit", said),
            Record::History(learnt) => map.learnt(learnt),
            Record::Bench(bench) => {
                map.plain("bench", &bench.limit);
                map.texts("dummies", &bench.dummies);
            }
            Record::AtHand(at_hand) => map.texts("instruments", &at_hand.names()),
            Record::Lesson => map.text("lesson", yes(true)),
            Record::Incoming { about, says } => {
                map.text("incoming", about);
                map.text("says", says);
            }
            Record::Complaint(complaint) => map.inner("complaint", |m| m.complaint(complaint)),
            Record::Reading(reading) => map.reading(reading),
            Record::Undo(number) => map.plain("undo", number),
            Record::Correct(correction) => {
                map.plain("correct", &correction.number);
                map.got(&correction.got);
                map.held(correction.held);
            }
            Record::Note(text) => map.text("note", text),
            Record::MistakesToo => map.text("suspected", MISTAKES),
            Record::Finding(finding) => map.finding(finding),
            Record::Left(left) => {
                map.text("left", "in the middle");
                map.plain("minutes", &left.minutes);
                map.texts("cautions", &left.cautions);
                map.texts("open", &left.open);
            }
            Record::Resumed { file, program } => {
                map.text("resumed", program);
                map.text("file", file);
            }
            Record::Repair(repair) => {
                map.text("repair", &repair.part);
                map.text("done", &repair.done);
                map.optional("minutes", repair.minutes.as_ref());
                map.blamed(&repair.culprits);
            }
            Record::Outcome { outcome, says, cautions } => {
                map.text("outcome", word(&Outcome::ALL, outcome));
                if let Some(says) = says {
                    map.text("says", says);
                }
                map.texts("cautions", cautions);
            }
            Record::Closed(closed) => map.closed(closed),
        }
        map.plain("at", &self.at);
        writeln!(f, "- {}", map.end())
    }
}

/// What is suspected too after nothing else fitted.
pub(super) const MISTAKES: &str = "mistakes of wiring too";

/// The word of a value.
fn word<T: PartialEq>(all: &[(T, &'static str)], value: &T) -> &'static str {
    all.iter().find(|(one, _)| one == value).map_or("", |(_, word)| word)
}

/// A flow map under way: `{key: value, ...}`.
struct Flow(String);

impl Flow {
    fn new() -> Self {
        Self("{".to_owned())
    }

    fn end(mut self) -> String {
        self.0.push('}');
        self.0
    }

    fn key(&mut self, key: &str) {
        if self.0.len() > 1 {
            self.0.push_str(", ");
        }
        self.0.push_str(&scalar(key));
        self.0.push_str(": ");
    }

    /// A number or a moment.
    fn plain(&mut self, key: &str, value: &impl Display) {
        self.key(key);
        // Writing to a string does not fail.
        let _ = write!(self.0, "{value}");
    }

    fn optional(&mut self, key: &str, value: Option<&impl Display>) {
        if let Some(value) = value {
            self.plain(key, value);
        }
    }

    fn text(&mut self, key: &str, text: &str) {
        self.key(key);
        self.0.push_str(&scalar(text));
    }

    /// A list; an empty one is left out.
    fn texts(&mut self, key: &str, texts: &[String]) {
        if !texts.is_empty() {
            self.list(key, texts.iter().map(|t| scalar(t)));
        }
    }

    fn list(&mut self, key: &str, items: impl Iterator<Item = String>) {
        self.key(key);
        let items: Vec<String> = items.collect();
        self.0.push('[');
        self.0.push_str(&items.join(", "));
        self.0.push(']');
    }

    fn inner(&mut self, key: &str, fill: impl FnOnce(&mut Self)) {
        self.key(key);
        self.0.push_str(&map(fill));
    }

    fn settings(&mut self, key: &str, settings: &Setting) {
        self.inner(key, |m| settings.iter().for_each(|(name, value)| m.text(name, value)));
    }

    fn opened(&mut self, opened: &Opened) {
        self.text("job", FORMAT);
        self.text("install", &opened.install);
        self.text("file", &opened.file);
        self.text("program", &opened.program);
        self.plain("seed", &opened.seed);
        self.texts("cautions", &opened.cautions);
    }

    fn described(&mut self, described: &Described) {
        self.inner("described", |m| {
            let mut open: Option<(&str, Self)> = None;
            for (group, name, mark) in described.marks() {
                if open.as_ref().is_some_and(|(of, _)| *of != group)
                    && let Some((of, inner)) = open.take()
                {
                    m.key(of);
                    m.0.push_str(&inner.end());
                }
                match name {
                    None => m.text(group, mark),
                    Some(name) => open.get_or_insert_with(|| (group, Self::new())).1.text(name, mark),
                }
            }
            if let Some((of, inner)) = open {
                m.key(of);
                m.0.push_str(&inner.end());
            }
        });
        self.settings("rest", &described.rest);
    }

    fn learnt(&mut self, learnt: &Learnt) {
        self.plain("history", &learnt.jobs);
        self.plain("strength", &learnt.strength);
        let one = |(kind, mode, times): (&str, &str, usize)| {
            map(|m| {
                m.text("kind", kind);
                m.text("fault", mode);
                m.plain("times", &times);
            })
        };
        self.list("counts", learnt.counts.iter().map(one));
    }

    fn complaint(&mut self, complaint: &Complained) {
        self.list("what", complaint.what.iter().map(|w| scalar(w)));
        self.list("facts", complaint.facts.iter().map(seen));
        self.settings("with", &complaint.with);
        self.settings("usual", &complaint.usual);
        if let Some(when) = &complaint.when {
            self.text("when", when);
        }
        if let Some(history) = &complaint.history {
            self.text("history", history);
        }
        self.text("seen", yes(complaint.seen));
    }

    fn reading(&mut self, reading: &Reading) {
        self.plain(if reading.proof.is_some() { "proof" } else { "reading" }, &reading.number);
        if let Some(proof) = &reading.proof {
            self.text("shows that", &proof.shows);
        }
        self.settings("with", &reading.with);
        match &reading.probed {
            Probed::Volts { red, black } => {
                self.text("by", VOLTMETER);
                self.text("red", red);
                self.text("black", black);
            }
            Probed::Drop(part) => {
                self.text("by", VOLTMETER);
                self.text("drop", part);
            }
            Probed::Amps(part) => {
                self.text("by", CLAMP_METER);
                self.text("amps", part);
            }
            Probed::Ohms { red, black } => {
                self.text("by", OHMMETER);
                self.text("ohms", red);
                self.text("to", black);
            }
            Probed::Lamp { tip, clip } => {
                self.text("by", TEST_LAMP);
                self.text("lamp", tip);
                self.text("clip", clip);
            }
            Probed::Look(look) => {
                self.text("by", SENSES);
                self.text("look", look);
            }
        }
        self.got(&reading.got);
        if let Some(expected) = &reading.expected {
            self.text("expected", expected);
        }
        self.plain("minutes", &reading.minutes);
        self.texts("cautions", &reading.cautions);
        if !reading.asked {
            self.text("asked", yes(false));
        }
        self.held(reading.proof.as_ref().map(|proof| proof.held));
    }

    fn held(&mut self, held: Option<Held>) {
        if let Some(held) = held {
            self.text("passed", word(&Held::ALL, &held));
        }
    }

    fn got(&mut self, got: &Got) {
        match got {
            Got::Reads(text) => self.text("reads", text),
            Got::Shows(word) => self.text("shows", word),
            Got::Skipped(why) => self.text("skipped", why),
        }
    }

    fn finding(&mut self, finding: &Finding) {
        self.text("finding", word(&Ended::ALL, &finding.ended));
        self.blamed(&finding.culprits);
        self.texts("cautions", &finding.cautions);
        self.plain("minutes", &finding.minutes);
        self.texts("open", &finding.open);
    }

    fn blamed(&mut self, culprits: &[Blamed]) {
        if !culprits.is_empty() {
            self.list("culprits", culprits.iter().map(blamed));
        }
    }

    fn closed(&mut self, closed: &Closed) {
        self.text("closed", word(&Outcome::ALL, &closed.outcome));
        self.text("install", &closed.install);
        self.plain("began", &closed.began);
        self.text("complaint", &closed.complaint);
        self.text("finding", word(&Ended::ALL, &closed.ended));
        self.blamed(&closed.culprits);
        if !closed.failed.is_empty() {
            self.list("failed", closed.failed.iter().map(failed));
        }
        if let Some(repair) = &closed.repair {
            self.text("repair", repair);
        }
        self.plain("readings", &closed.readings);
        self.plain("minutes", &closed.minutes);
        self.optional("repair minutes", closed.repair_minutes.as_ref());
    }
}

/// Instruments.
const VOLTMETER: &str = "voltmeter";
const CLAMP_METER: &str = "clamp meter";
const OHMMETER: &str = "ohmmeter";
const TEST_LAMP: &str = "test lamp";
const SENSES: &str = "eye, ear or hand";

fn yes(is: bool) -> &'static str {
    if is { "yes" } else { "no" }
}

fn map(fill: impl FnOnce(&mut Flow)) -> String {
    let mut map = Flow::new();
    fill(&mut map);
    map.end()
}

fn seen(seen: &Seen) -> String {
    map(|m| {
        m.settings("with", &seen.with);
        m.text("look", &seen.look);
        m.text("shows", &seen.shows);
        m.text("wrong", yes(seen.wrong));
    })
}

fn failed(failed: &Failed) -> String {
    map(|m| {
        m.text("part", &failed.part);
        m.text("fault", &failed.fault);
        if let Some(kind) = &failed.kind {
            m.text("kind", kind);
        }
        if let Some(place) = &failed.place {
            m.text("place", place);
        }
        m.text("right", yes(failed.right));
    })
}

fn blamed(blamed: &Blamed) -> String {
    map(|m| {
        m.text("part", &blamed.part);
        m.text("fault", &blamed.fault);
        m.plain("sure", &blamed.sure);
        m.text("repair", &blamed.repair);
    })
}

/// A text as a scalar of one line: bare where nothing in it could be taken for anything else, else in double quotes.
fn scalar(text: &str) -> String {
    if is_bare(text) { text.to_owned() } else { in_quotes(text) }
}

/// Words that stand for nothing when they are bare.
const NOTHING: [&str; 2] = ["null", "~"];

fn is_bare(text: &str) -> bool {
    let first = text.chars().next().is_some_and(|c| c.is_ascii_alphanumeric() || c == '-');
    // A dash alone, or with a blank behind it, begins an item of a list.
    let dash = text.starts_with('-') && !text.get(1..).is_some_and(|t| t.starts_with(|c: char| c.is_ascii_digit()));
    let harmless = |c: char| c.is_ascii_alphanumeric() || " .-+_/=()".contains(c);
    let blanks = text.ends_with(' ') || text.contains("  ");
    first && !dash && !blanks && text.chars().all(harmless) && !NOTHING.contains(&text.to_lowercase().as_str())
}

/// Whether a character stands in a quoted text as itself. What a screen would obey, or what divides lines in YAML, does not.
fn is_shown(c: char) -> bool {
    let steers = c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}');
    let none = matches!(u32::from(c) & 0xffff, 0xfffe | 0xffff);
    !steers && !none && !matches!(c, '"' | '\\')
}

fn in_quotes(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if is_shown(c) => out.push(c),
            // Writing to a string does not fail.
            c => {
                let _ = write!(out, "\\U{:08X}", u32::from(c));
            }
        }
    }
    out.push('"');
    out
}
