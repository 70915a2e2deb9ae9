//! The questions, and the lines of an install file that their answers fill in.

use std::collections::BTreeMap;

/// What an answer looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Words that are listed.
    Words,
    /// Amps, or that there is none.
    Amps,
    /// A load with its watts or amps.
    Load,
    /// Where something is, or that it is not there.
    Place,
}

/// One question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// Its key.
    pub name: String,
    /// As it is asked.
    pub asks: String,
    /// What the answer looks like.
    pub form: Form,
    /// Words of which one of each group is an answer; the first is assumed.
    pub groups: Vec<Vec<String>>,
}

/// Something that must hold: of `relay` that it is there, of `earthed=chassis` that this was answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Condition {
    pub(super) name: String,
    pub(super) word: Option<String>,
    /// It must not hold.
    pub(super) not: bool,
}

/// `knowledge/circuit.txt`, read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Template {
    pub(super) questions: Vec<Question>,
    pub(super) defaults: BTreeMap<String, String>,
    /// Factor on what a load draws, and the sizes of fuses in amps.
    pub(super) fuses: (f64, Vec<f64>),
    pub(super) lets: Vec<(String, Vec<Condition>, String)>,
    pub(super) lines: Vec<(Vec<Condition>, String)>,
}

impl Template {
    /// Reads it.
    ///
    /// # Errors
    /// The number of the first line that is none of its forms.
    pub fn read(text: &str) -> Result<Self, usize> {
        let mut template = Self::default();
        for (number, line) in text.lines().enumerate() {
            if !line.is_empty() && !line.starts_with('#') {
                template.add(line).ok_or(number + 1)?;
            }
        }
        Ok(template)
    }

    fn add(&mut self, line: &str) -> Option<()> {
        let (head, text) = line.split_once(':')?;
        let text = text.strip_prefix(' ').unwrap_or(text);
        let (head, conditions) = match head.split_once(" if ") {
            Some((head, conditions)) => (head, read_conditions(conditions)?),
            None => (head, Vec::new()),
        };
        let mut words = head.split(' ');
        match (words.next()?, words.next(), words.next()) {
            ("ask", Some(name), Some(form)) => {
                let form = match form {
                    "words" => Form::Words,
                    "amps" => Form::Amps,
                    "load" => Form::Load,
                    "place" => Form::Place,
                    _ => return None,
                };
                let (name, asks) = (name.to_owned(), text.to_owned());
                self.questions.push(Question { name, asks, form, groups: Vec::new() });
            }
            ("words", Some(name), None) => {
                let question = self.questions.iter_mut().find(|q| q.name == name)?;
                let group = |group: &str| group.split_whitespace().map(str::to_owned).collect();
                question.groups = text.split('/').map(group).collect();
            }
            ("default", Some(name), None) => {
                self.defaults.insert(name.to_owned(), text.to_owned());
            }
            ("fuses", Some(factor), None) => {
                let sizes: Option<Vec<f64>> = text.split_whitespace().map(|size| size.parse().ok()).collect();
                self.fuses = (factor.parse().ok()?, sizes?);
            }
            ("let", Some(name), None) => self.lets.push((name.to_owned(), conditions, text.to_owned())),
            ("line", None, None) => self.lines.push((conditions, text.to_owned())),
            _ => return None,
        }
        Some(())
    }

    /// The places that every circuit has.
    pub(super) fn places(&self) -> impl Iterator<Item = &str> {
        let lines = self.lines.iter().filter(|(conditions, _)| conditions.is_empty()).map(|(_, line)| line.as_str());
        lines.filter(|line| line.contains("{access:")).filter_map(|line| line.trim().split(':').next())
    }
}

fn read_conditions(text: &str) -> Option<Vec<Condition>> {
    let mut conditions = Vec::new();
    let mut not = false;
    for word in text.split_whitespace() {
        if word == "no" {
            not = true;
            continue;
        }
        let (name, word) = match word.split_once('=') {
            Some((name, word)) => (name, Some(word.to_owned())),
            None => (word, None),
        };
        conditions.push(Condition { name: name.to_owned(), word, not });
        not = false;
    }
    (!not && !conditions.is_empty()).then_some(conditions)
}
