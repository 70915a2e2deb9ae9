//! The description that a job was done with, as a mark for each of its records: enough to say what of it was corrected since.

use super::Setting;
use crate::document::{Node, Value};
use std::collections::BTreeMap;

/// Marks of the records of an install file: of `nominal`, of the run `lamp`, of the part `K1`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Described {
    marks: BTreeMap<(String, Option<String>), String>,
    /// The rest position of every control: what a set-up does not name stands there.
    pub rest: Setting,
}

/// What is different between two descriptions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Differs {
    /// The section of the file: `runs`.
    pub group: String,
    /// The record in it; `None` where the section itself is one.
    pub name: Option<String>,
    /// In which way.
    pub change: Change,
}

/// How a record of the description differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// It is there now and was not.
    Added,
    /// It is another.
    Altered,
    /// It was there and is not any more.
    Removed,
}

impl Described {
    /// The marks of an install file. Blanks, comments and the order of its records make no difference.
    pub fn of(install: &Node, rest: Setting) -> Self {
        let mut marks = BTreeMap::new();
        for entry in install.as_map().unwrap_or_default() {
            let group = entry.key.text.clone();
            match &entry.value.value {
                Value::Map(inner) => {
                    for one in inner {
                        marks.insert((group.clone(), Some(one.key.text.clone())), mark(&one.value));
                    }
                }
                Value::Nothing | Value::Text(_) | Value::List(_) => {
                    marks.insert((group, None), mark(&entry.value));
                }
            }
        }
        Self { marks, rest }
    }

    /// Takes marks as they stand in a job file.
    pub(super) fn from_marks(marks: impl IntoIterator<Item = (String, Option<String>, String)>, rest: Setting) -> Self {
        let marks = marks.into_iter().map(|(group, name, mark)| ((group, name), mark)).collect();
        Self { marks, rest }
    }

    /// Section, record and mark, section by section.
    pub(super) fn marks(&self) -> impl Iterator<Item = (&str, Option<&str>, &str)> {
        self.marks.iter().map(|((group, name), mark)| (group.as_str(), name.as_deref(), mark.as_str()))
    }

    /// What is different in `now`.
    pub fn differs(&self, now: &Self) -> Vec<Differs> {
        let mut all: Vec<_> = self.marks.keys().chain(now.marks.keys()).collect();
        all.sort();
        all.dedup();
        let change = |key: &(String, Option<String>)| match (self.marks.get(key), now.marks.get(key)) {
            (Some(before), Some(after)) => (before != after).then_some(Change::Altered),
            (Some(_), None) => Some(Change::Removed),
            (None, _) => Some(Change::Added),
        };
        let differs = |key: &(String, Option<String>)| {
            change(key).map(|change| Differs { group: key.0.clone(), name: key.1.clone(), change })
        };
        all.into_iter().filter_map(differs).collect()
    }
}

/// Eight letters for a record: a hash of 32 bits, in letters so that no reader takes it for a number. Two different records have
/// the same once in 4e9.
fn mark(node: &Node) -> String {
    let mut hash = Hash(OFFSET);
    hash.node(node);
    let folded = (hash.0 ^ (hash.0 >> 32)) & 0xffff_ffff;
    let letter = |i: u32| char::from(b'a' + ((folded >> (4 * i)) & 15).to_le_bytes()[0]);
    (0..8).map(letter).collect()
}

/// FNV-1a with 64 bits (G. Fowler, L. C. Noll, K.-P. Vo): the same on every machine and in every version.
struct Hash(u64);

const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
const PRIME: u64 = 0x0000_0100_0000_01b3;

impl Hash {
    fn byte(&mut self, byte: u8) {
        self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(PRIME);
    }

    /// A text with each stretch of white space as one blank; its end is a byte that no text holds.
    fn text(&mut self, text: &str) {
        for word in text.split_whitespace() {
            word.bytes().for_each(|b| self.byte(b));
            self.byte(b' ');
        }
        self.byte(0xff);
    }

    fn node(&mut self, node: &Node) {
        match &node.value {
            Value::Nothing => self.byte(0xfe),
            Value::Text(text) => self.text(text),
            Value::List(items) => {
                self.byte(0xfd);
                for item in items {
                    self.node(item);
                }
                self.byte(0xfc);
            }
            Value::Map(entries) => {
                self.byte(0xfb);
                let mut entries: Vec<_> = entries.iter().collect();
                entries.sort_by(|a, b| a.key.text.cmp(&b.key.text));
                for entry in entries {
                    self.text(&entry.key.text);
                    self.node(&entry.value);
                }
                self.byte(0xfa);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Change, Described};
    use crate::document::{Source, read};

    fn described(text: &str) -> Described {
        Described::of(&read(&Source::new("x", text)).unwrap(), Vec::new())
    }

    #[test]
    fn what_changed_is_told_and_nothing_else() {
        let before = described("install: a\nnominal: 12 V\nruns:\n  feed: a | b\n  lamp: b | c\n");
        let same = described("nominal: 12 V\ninstall: a   # the same\nruns: {lamp: b  | c, feed: a | b}\n");
        assert_eq!(before.differs(&same), []);
        let after = described("install: a\nnominal: 24 V\nruns:\n  feed: a | b | b\n  horn: b | c\n");
        let differs = before.differs(&after);
        let told: Vec<_> = differs.iter().map(|d| (d.group.as_str(), d.name.as_deref(), d.change)).collect();
        let expected = [
            ("nominal", None, Change::Altered),
            ("runs", Some("feed"), Change::Altered),
            ("runs", Some("horn"), Change::Added),
            ("runs", Some("lamp"), Change::Removed),
        ];
        assert_eq!(told, expected);
    }
}
