//! One circuit of which there is no install file: a few answers, what is assumed where there is none, and the install file that
//! comes of them.
//!
//! The questions and the lines of the file are data (`knowledge/circuit.txt`). It deliberately knows no kind of part by name.

mod answer;
mod form;

pub use form::{Form, Question, Template};

use crate::job::record::Setting;
use crate::knowledge::{Figures, Kind, Knowledge, Role};
use crate::units::{Dimension, Volts};
use answer::Value;
use std::collections::BTreeMap;

/// What a person has said of a circuit.
#[derive(Clone, Debug)]
pub struct Sketch<'k> {
    knowledge: &'k Knowledge,
    template: Template,
    /// By the name of the question, as typed. What is not here is assumed.
    said: BTreeMap<String, String>,
}

impl<'k> Sketch<'k> {
    /// A circuit of which nothing is said yet.
    pub fn new(knowledge: &'k Knowledge) -> Self {
        let template = Template::read(crate::knowledge::CIRCUIT).unwrap_or_default();
        Self { knowledge, template, said: BTreeMap::new() }
    }

    /// A circuit with the answers that a job file holds; what cannot be understood any more is assumed.
    pub fn with(knowledge: &'k Knowledge, said: &Setting) -> Self {
        let mut sketch = Self::new(knowledge);
        let questions: Vec<Question> = sketch.template.questions.clone();
        for question in &questions {
            if let Some((_, line)) = said.iter().find(|(name, _)| *name == question.name) {
                // Answers stand in the order of the questions: what a later one needs is there.
                let _ = sketch.answer(question, line);
            }
        }
        sketch
    }

    /// The questions in the order in which they are asked.
    pub fn questions(&self) -> &[Question] {
        &self.template.questions
    }

    /// What was said, in the order of the questions.
    pub fn said(&self) -> Setting {
        let said = |q: &Question| Some((q.name.clone(), self.said.get(&q.name)?.clone()));
        self.template.questions.iter().filter_map(said).collect()
    }

    /// Whether nobody has said this.
    pub fn is_assumed(&self, question: &Question) -> bool {
        !self.said.contains_key(&question.name)
    }

    /// Takes an answer; an empty one leaves it to what is assumed.
    ///
    /// # Errors
    /// What would be accepted.
    pub fn answer(&mut self, question: &Question, line: &str) -> Result<(), String> {
        let line = line.trim();
        if line.is_empty() {
            self.said.remove(&question.name);
            return Ok(());
        }
        self.read(question, line)?;
        self.said.insert(question.name.clone(), line.to_owned());
        Ok(())
    }

    /// The answer as it stands, said or assumed, in words.
    pub fn stands(&self, question: &Question) -> String {
        match self.value(question) {
            Value::Words(words) => words.join(", "),
            Value::None => NONE.to_owned(),
            Value::Amps(amps) => format!("{amps} A"),
            Value::Place(place) => place,
            Value::Load { kind, watts, name } => {
                let own = if name == kind { String::new() } else { format!(", {name}") };
                let watts = watts.or_else(|| self.usual_watts(&kind));
                format!("{kind}{}{own}", watts.map_or(String::new(), |w| format!(" {} W", rounded(w))))
            }
        }
    }

    /// Whether nothing is wrong with a line as the answer of a question, and what it means.
    fn read(&self, question: &Question, line: &str) -> Result<Value, String> {
        match question.form {
            Form::Words => answer::words(&question.groups, line),
            Form::Amps => answer::amps(line),
            Form::Place => Ok(answer::place(&question.name, line)),
            Form::Load => answer::load(self.loads(), self.volts(), line),
        }
    }

    fn value(&self, question: &Question) -> Value {
        let said = self.said.get(&question.name).and_then(|line| self.read(question, line).ok());
        said.unwrap_or_else(|| self.assumed(question))
    }

    fn assumed(&self, question: &Question) -> Value {
        match question.form {
            Form::Words => Value::Words(question.groups.iter().filter_map(|group| group.first().cloned()).collect()),
            Form::Amps => self.usual_fuse().map_or(Value::None, Value::Amps),
            Form::Load | Form::Place => self
                .template
                .defaults
                .get(&question.name)
                .and_then(|line| self.read(question, line).ok())
                .unwrap_or(Value::None),
        }
    }

    /// Kinds of load that an install may state watts for and that a run can name.
    fn loads(&self) -> impl Iterator<Item = &'k Kind> {
        let fits = |kind: &&Kind| {
            kind.role == Role::Load && kind.through.is_some() && kind.terminals.len() == 2 && watts_of(kind).is_some()
        };
        self.knowledge.kinds.iter().filter(fits)
    }

    fn volts(&self) -> Volts {
        let words = self.template.questions.iter().filter(|q| q.form == Form::Words);
        let number = |word: &String| word.parse::<f64>().ok().and_then(|volts| Volts::try_from(volts).ok());
        let volts = words.filter_map(|q| match self.value(q) {
            Value::Words(words) => words.iter().find_map(number),
            _ => None,
        });
        volts.into_iter().next().unwrap_or(Volts::ZERO)
    }

    /// Watts that the knowledge base gives a kind of load.
    fn usual_watts(&self, kind: &str) -> Option<f64> {
        let kind = &self.knowledge.kinds[self.knowledge.kind(kind)?];
        let stated = BTreeMap::new();
        let figures = Figures { kind, stated: &stated, nominal: self.volts(), tables: &self.knowledge.tables };
        Some(figures.value(&watts_of(kind)?.key).ok()?.value)
    }

    /// The fuse that is assumed: the next size above what the load draws, with what the template allows for starting.
    fn usual_fuse(&self) -> Option<f64> {
        let load = self.template.questions.iter().find(|q| q.form == Form::Load)?;
        let Value::Load { kind, watts, .. } = self.value(load) else { return None };
        let amps = watts.or_else(|| self.usual_watts(&kind))? / self.volts().get();
        let (factor, sizes) = &self.template.fuses;
        sizes.iter().copied().find(|size| *size >= amps * factor).or_else(|| sizes.last().copied())
    }

    /// What was assumed, each with the name of its question, in the order of the questions.
    pub fn assumptions(&self) -> Vec<(&str, String)> {
        let assumed = self.template.questions.iter().filter(|q| self.is_assumed(q) || self.lacks_watts(q));
        assumed.map(|q| (q.name.as_str(), self.stands(q))).collect()
    }

    /// Whether a load was named without its watts.
    fn lacks_watts(&self, question: &Question) -> bool {
        matches!(self.value(question), Value::Load { watts: None, .. })
    }

    /// The install file.
    pub fn text(&self) -> String {
        let mut out = String::new();
        for (conditions, line) in &self.template.lines {
            if self.holds(conditions) {
                let filled = self.filled(line, DEEPEST);
                for line in filled.lines().filter(|line| !line.trim().is_empty()) {
                    // What was left empty leaves no second blank behind.
                    let words: Vec<&str> = line.split_whitespace().collect();
                    out.push_str(&" ".repeat(line.len() - line.trim_start().len()));
                    out.push_str(&words.join(" "));
                    out.push('\n');
                }
            }
        }
        out
    }

    fn holds(&self, conditions: &[form::Condition]) -> bool {
        conditions.iter().all(|condition| {
            let question = self.template.questions.iter().find(|q| q.name == condition.name);
            let value = question.map(|q| self.value(q));
            let holds = match (&value, &condition.word) {
                (Some(Value::Words(words)), Some(word)) => words.contains(word),
                (None | Some(Value::None), _) | (Some(_), Some(_)) => false,
                (Some(_), None) => true,
            };
            holds != condition.not
        })
    }

    /// A text with every `<name>` filled in.
    fn filled(&self, text: &str, deeper: usize) -> String {
        let mut out = String::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once('<') {
            out.push_str(before);
            let Some((name, behind)) = after.split_once('>').filter(|(name, _)| is_name(name)) else {
                out.push('<');
                rest = after;
                continue;
            };
            out.push_str(&self.named(name, deeper));
            rest = behind;
        }
        out + rest
    }

    fn named(&self, name: &str, deeper: usize) -> String {
        if let Some(names) = name.strip_prefix("assumed ") {
            return self.mark(names);
        }
        match name {
            "title" => return self.title(),
            "more places" => return self.more_places(),
            _ => {}
        }
        if let Some(question) = self.template.questions.iter().find(|q| q.name == name) {
            return match self.value(question) {
                Value::Load { kind, watts, name } => {
                    let watts = watts.map_or(String::new(), |watts| format!(" {} W", rounded(watts)));
                    format!("{kind}{watts} \"{name}\"")
                }
                Value::Words(words) => words.join(" "),
                _ => self.stands(question),
            };
        }
        let text = self.template.lets.iter().find(|(known, conditions, _)| known == name && self.holds(conditions));
        match text {
            Some((.., text)) if deeper > 0 => self.filled(text, deeper - 1),
            _ => String::new(),
        }
    }

    /// The comment on a line of which somebody did not say all.
    fn mark(&self, names: &str) -> String {
        let questions = names.split(' ').filter_map(|name| self.template.questions.iter().find(|q| q.name == name));
        let assumed = questions.filter_map(|q| match (self.is_assumed(q), self.lacks_watts(q)) {
            (true, _) => Some(q.name.clone()),
            (false, true) => Some("watts".to_owned()),
            (false, false) => None,
        });
        let assumed: Vec<String> = assumed.collect();
        if assumed.is_empty() { String::new() } else { format!("# assumed: {}", assumed.join(", ")) }
    }

    /// What the install is called: as its load.
    fn title(&self) -> String {
        let load = self.template.questions.iter().find(|q| q.form == Form::Load).map(|q| self.value(q));
        match load {
            Some(Value::Load { name, .. }) => format!("Circuit of {name}"),
            _ => "One circuit".to_owned(),
        }
    }

    /// The places that answers name beyond those of every circuit.
    fn more_places(&self) -> String {
        let mut places: Vec<String> = Vec::new();
        for question in self.template.questions.iter().filter(|q| q.form == Form::Place) {
            if let Value::Place(place) = self.value(question)
                && !places.contains(&place)
                && !self.template.places().any(|known| known == place)
            {
                places.push(place);
            }
        }
        let lines = places.iter().map(|place| format!("  \"{place}\": {{access: 1 min}} # assumed"));
        lines.collect::<Vec<_>>().join("\n")
    }
}

/// How something that is not there is said.
const NONE: &str = "none";
/// Texts of the template inside one another.
const DEEPEST: usize = 4;

fn is_name(name: &str) -> bool {
    !name.is_empty() && name.chars().all(|c| c.is_ascii_alphabetic() || c == ' ')
}

fn watts_of(kind: &Kind) -> Option<&crate::knowledge::Figure> {
    kind.figures.iter().find(|figure| figure.unit == Dimension::Watts)
}

/// Watts to three digits behind the point, as they are written.
fn rounded(watts: f64) -> f64 {
    (watts * 1e3).round() / 1e3
}
