//! Words for what a person sees, hears or feels, and how likely each is for what the circuit does.

use super::Sight;
use std::collections::BTreeMap;

impl Sight {
    /// A word of the table as it is said of this kind (`slow` for `weak`).
    pub fn says<'a>(&'a self, word: &'a Word) -> &'a str {
        self.words.get(&word.key).unwrap_or(&word.says)
    }

    /// The word of `table` that a person means, in the words of this kind or of the table.
    pub fn word<'a>(&self, table: &'a WordTable, text: &str) -> Option<&'a Word> {
        let own = self.words.iter().find(|(_, said)| *said == text);
        let key = own.map_or(text, |(key, _)| key);
        table.words.get(table.word(key)?)
    }
}

/// What the circuit does, as far as a person can notice it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Noticed {
    /// Power in the element as a share of its power at nominal voltage, 0 or more.
    Share(f64),
    /// A state.
    State(NoticedState),
}

/// A state, or a change of state, that a person can notice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoticedState {
    /// The coil stands the same with the controls at rest and in the set-up.
    Unchanged,
    /// The coil pulls in or lets go between the controls at rest and the set-up.
    Changed,
    /// It does not settle (chatter).
    Unsteady,
    /// The fuse is whole, the breaker in.
    Whole,
    /// The fuse is blown, the breaker tripped.
    Opened,
}

impl NoticedState {
    /// All of them with their words in `knowledge/words.yaml`.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Unchanged, "unchanged"),
        (Self::Changed, "changed"),
        (Self::Unsteady, "unsteady"),
        (Self::Whole, "whole"),
        (Self::Opened, "opened"),
    ];
}

/// A word that a person may answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// Key, as in JSON and answers files.
    pub key: String,
    /// On the screen.
    pub says: String,
    /// Other words that mean the same here.
    pub also: Vec<String>,
}

/// The mark of a part without a fault.
pub const SOUND: &str = "sound";

/// What it costs to look at something, beside the way to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Minutes.
    pub minutes: f64,
    /// Minutes for each metre of what is looked along.
    pub a_metre: f64,
    /// The place has to be opened.
    pub opens: bool,
}

impl Default for Effort {
    /// A glance, or an ear: 0.1 min, common practice, no source.
    fn default() -> Self {
        Self { minutes: 0.1, a_metre: 0.0, opens: false }
    }
}

/// The words for one sort of sight and their probabilities.
///
/// Bands of the share of nominal power meet in soft edges: the membership of what lies above edge `e` is
/// `1 / (1 + (e / share)^(1 / width))`, a logistic step of that width in natural logarithms.
#[derive(Clone, Debug, PartialEq)]
pub struct WordTable {
    /// How a person should look, listen or feel (`look at it, shaded from the sun`).
    pub ask: String,
    /// Words in the order in which they are offered.
    pub words: Vec<Word>,
    /// Edges between bands, ascending shares of nominal power; one fewer than `bands`.
    pub edges: Vec<f64>,
    /// Width of an edge in natural logarithms.
    pub width: f64,
    /// For each band the probability of each word, in the order of `words`; each sums to 1.
    pub bands: Vec<Vec<f64>>,
    /// The same for states.
    pub states: BTreeMap<NoticedState, Vec<f64>>,
    /// The same for what a fault leaves to be seen, by the name of the mark; [`SOUND`] for a part without a fault.
    pub marks: BTreeMap<String, Vec<f64>>,
    /// What it costs to look, beside the way.
    pub effort: Effort,
    /// Probability that a person says just any of the words.
    pub contradiction: f64,
    /// Where the bands come from.
    pub source: String,
}

impl WordTable {
    /// The position in `words` of a key, a screen word or a synonym.
    pub fn word(&self, text: &str) -> Option<usize> {
        self.words
            .iter()
            .position(|word| word.key == text || word.says == text || word.also.iter().any(|also| also == text))
    }

    /// Probability that a person says `word` when this is noticed, with the table's own share of contradictions;
    /// 0 for a word that is not in the table. The probabilities of all words of a table sum to 1.
    pub fn likelihood(&self, word: &str, noticed: Noticed) -> f64 {
        self.likelihood_with(word, noticed, self.contradiction)
    }

    /// Probability of each word for what a mark leaves to be seen, with the table's own share of contradictions; `None` for a
    /// mark that is not in the table.
    pub fn marked(&self, mark: &str) -> Option<Vec<f64>> {
        let any = 1.0 / self.words.len().max(1) as f64;
        let row = self.marks.get(mark)?;
        Some(row.iter().map(|p| (1.0 - self.contradiction) * p + self.contradiction * any).collect())
    }

    /// The word (position in `words`) that is most often said when this is noticed; of equals the first.
    pub fn most_said(&self, noticed: Noticed) -> usize {
        let likelihood = |k: &usize| self.likelihood(&self.words[*k].key, noticed);
        (0..self.words.len()).max_by(|a, b| likelihood(a).total_cmp(&likelihood(b)).then(b.cmp(a))).unwrap_or(0)
    }

    /// The same with another share of contradictions.
    pub fn likelihood_with(&self, word: &str, noticed: Noticed, contradiction: f64) -> f64 {
        let Some(position) = self.word(word) else {
            return 0.0;
        };
        let any = 1.0 / self.words.len() as f64;
        let told = match noticed {
            Noticed::Share(share) => self.in_bands(position, share),
            Noticed::State(state) => self.states.get(&state).map(|row| at(row, position)),
        };
        // Nothing is known of a state that the table does not list: every word is as likely.
        (1.0 - contradiction) * told.unwrap_or(any) + contradiction * any
    }

    fn in_bands(&self, position: usize, share: f64) -> Option<f64> {
        let mut sum = 0.0;
        let mut above = 1.0;
        for (i, band) in self.bands.iter().enumerate() {
            let next = self.edges.get(i).map_or(0.0, |edge| self.above(*edge, share));
            sum += (above - next) * at(band, position);
            above = next;
        }
        (!self.bands.is_empty()).then_some(sum)
    }

    fn above(&self, edge: f64, share: f64) -> f64 {
        1.0 / (1.0 + (edge / share.max(0.0)).powf(1.0 / self.width))
    }
}

fn at(row: &[f64], position: usize) -> f64 {
    row.get(position).copied().unwrap_or(0.0)
}
