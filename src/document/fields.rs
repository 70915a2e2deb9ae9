//! Reads a map field by field and finds all that is wrong with it.

use super::{Entry, Node, Text, Value};
use crate::diagnostic::{Diagnostic, Report, Span, nearest, quoted};

/// The fields of a map: each is taken by its key; what nobody took is an error with the nearest known key.
pub struct Fields<'n> {
    what: &'static str,
    span: Span,
    entries: &'n [Entry],
    asked: Vec<&'static str>,
    taken: Vec<bool>,
}

impl<'n> Fields<'n> {
    /// Opens a node that should be a map; `what` names it in messages (`a cable`).
    pub fn open(node: &'n Node, what: &'static str, report: &mut Report) -> Self {
        let entries = node.as_map().unwrap_or_else(|| {
            report.push(Diagnostic::error(
                "wrong-form",
                node.span,
                format!("{what} is written as a map of `key: value`"),
            ));
            &[]
        });
        Self { what, span: node.span, entries, asked: Vec::new(), taken: vec![false; entries.len()] }
    }

    /// Where the map stands.
    pub fn span(&self) -> Span {
        self.span
    }

    /// Takes the field `key`, if it is there.
    pub fn take(&mut self, key: &'static str) -> Option<&'n Node> {
        self.asked.push(key);
        let at = self.entries.iter().position(|e| e.key.text == key)?;
        if let Some(taken) = self.taken.get_mut(at) {
            *taken = true;
        }
        self.entries.get(at).map(|e| &e.value)
    }

    /// Takes the text of the field `key`, if it is there and is one.
    pub fn text(&mut self, key: &'static str, report: &mut Report) -> Option<Text> {
        let node = self.take(key)?;
        text_of(node, key, report)
    }

    /// Takes the text of the field `key`; that it is missing is an error.
    pub fn needed_text(&mut self, key: &'static str, report: &mut Report) -> Option<Text> {
        let node = self.needed(key, report)?;
        text_of(node, key, report)
    }

    /// Takes the field `key`; that it is missing is an error.
    pub fn needed(&mut self, key: &'static str, report: &mut Report) -> Option<&'n Node> {
        let found = self.take(key);
        if found.is_none() {
            let what = self.what;
            report.push(Diagnostic::error(
                "missing-field",
                Span { len: 0, ..self.span },
                format!("{what} needs `{key}:`"),
            ));
        }
        found
    }

    /// Takes a list of texts; a single text counts as a list of one.
    pub fn texts(&mut self, key: &'static str, report: &mut Report) -> Vec<Text> {
        let Some(node) = self.take(key) else {
            return Vec::new();
        };
        match &node.value {
            Value::List(items) => items.iter().filter_map(|i| text_of(i, key, report)).collect(),
            Value::Nothing => Vec::new(),
            Value::Text(_) | Value::Map(_) => text_of(node, key, report).into_iter().collect(),
        }
    }

    /// Takes the entries of a map that stands under `key`; none if it is not there.
    pub fn map(&mut self, key: &'static str, report: &mut Report) -> &'n [Entry] {
        let Some(node) = self.take(key) else {
            return &[];
        };
        node.as_map().unwrap_or_else(|| {
            report.push(Diagnostic::error(
                "wrong-form",
                node.span,
                format!("`{key}:` is written as a map of `name: ...`"),
            ));
            &[]
        })
    }

    /// All that nobody has taken yet, in file order, marked as taken: for keys that data names.
    pub fn rest(&mut self) -> Vec<&'n Entry> {
        let mut rest = Vec::new();
        for (entry, taken) in self.entries.iter().zip(&mut self.taken) {
            if !*taken {
                *taken = true;
                rest.push(entry);
            }
        }
        rest
    }

    /// Reports what nobody has taken.
    pub fn finish(self, report: &mut Report) {
        for (entry, taken) in self.entries.iter().zip(&self.taken) {
            if *taken {
                continue;
            }
            let what = self.what;
            let mut d = Diagnostic::error(
                "unknown-field",
                entry.key.span,
                format!("{what} has no `{}:`", quoted(&entry.key.text).trim_matches('`')),
            );
            d = match nearest(&entry.key.text, self.asked.iter().copied()) {
                _ if entry.is_cut_off() => d.hint(CUT_OFF),
                Some(known) => d.hint(format!("did you mean `{known}:`?")),
                None => d.hint(format!("it may have {}", listed(&self.asked))),
            };
            report.push(d);
        }
    }
}

/// What to do about a text that its own comma has cut in two, as in `{length: 0,6 m}`.
pub const CUT_OFF: &str = "a comma divides fields here: put a text or figure that has one in quotes";

impl Entry {
    /// Whether it looks like the end of a text that its own comma has cut in two: a key with nothing behind it.
    pub fn is_cut_off(&self) -> bool {
        self.value.value == Value::Nothing
    }
}

/// The text of a node; that it is none is an error.
fn text_of(node: &Node, key: &str, report: &mut Report) -> Option<Text> {
    match &node.value {
        Value::Text(text) => Some(Text { span: node.span, text: text.clone() }),
        Value::Nothing => {
            report.push(Diagnostic::error("missing-value", node.span, format!("nothing stands behind `{key}:`")));
            None
        }
        Value::List(_) | Value::Map(_) => {
            report.push(Diagnostic::error("wrong-form", node.span, format!("`{key}:` is a text")));
            None
        }
    }
}

/// Keys as a list in words.
fn listed(keys: &[&str]) -> String {
    let keys: Vec<String> = keys.iter().map(|k| format!("`{k}`")).collect();
    keys.join(", ")
}
