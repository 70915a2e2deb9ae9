//! What people complain of: how a fault shows (manners) and when (occasions), as the knowledge base has it.

use super::{Role, Word};
use std::collections::BTreeMap;

/// What people complain of.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Complaints {
    /// The ways in which a fault shows, in the order in which they are offered.
    pub manners: Vec<Manner>,
    /// Name of the word table for how hot a part is.
    pub warmth: String,
    /// Watts in a part at which the hand draws back, for the roles that have a limit.
    pub hot: Vec<(Role, f64)>,
    /// When a fault shows.
    pub occasions: Occasions,
    /// What was before.
    pub history: History,
    /// Chance that a complaint which nobody but the customer has seen is mistaken.
    pub mistaken: f64,
}

/// A way in which a fault shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Manner {
    /// Key, as in answers files.
    pub key: String,
    /// On the screen; `{}` stands for the part's own word.
    pub says: String,
    /// Other words that mean the same.
    pub also: Vec<String>,
    /// What it is said of.
    pub of: Notices,
    /// It is about what protects the part, not about the part: what can be set again (`Some(true)`), or what blows.
    pub protection: Option<bool>,
    /// Keys of words: the first that the part's table has.
    pub shows: Vec<String>,
    /// The set-up that is taken if none is named.
    pub with: Situation,
    /// The occasion that it speaks of itself (position in the occasions' words).
    pub comes: Option<usize>,
    /// Keys of words that the parts show which answer in its place; empty: it speaks of none.
    pub instead: Vec<String>,
}

/// Which computed quantity a person notices.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Notices {
    /// Power or state of an element.
    #[default]
    Work,
    /// Power that turns to heat in the whole part.
    Heat,
    /// What a battery loses while everything is off, and how far it has come down.
    Standing,
    /// Volts at a battery.
    Charge,
    /// What a fault of the part itself leaves to be seen, whatever the circuit does: green, loose, browned.
    Marks,
}

/// A set-up in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Situation {
    /// The one in which the load works when all is well.
    Usual,
    /// All controls at rest.
    Rest,
    /// The engine runs.
    Running,
}

/// What a fault does, as far as it matters for when it shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Nature {
    /// Nothing is wrong.
    Nothing,
    /// Open.
    Open,
    /// Series resistance.
    Series,
    /// A leak.
    Leak,
    /// A short.
    Short,
    /// A stuck contact.
    Stuck,
    /// A wrong value.
    Value,
    /// Ends exchanged.
    Swapped,
}

impl Nature {
    /// All of them with their words in `knowledge/complaints.yaml`.
    pub const ALL: [(Self, &'static str); 8] = [
        (Self::Nothing, "nothing"),
        (Self::Open, "open"),
        (Self::Series, "series"),
        (Self::Leak, "leak"),
        (Self::Short, "short"),
        (Self::Stuck, "stuck"),
        (Self::Value, "value"),
        (Self::Swapped, "swapped"),
    ];
}

/// When a fault shows: words, and how likely each is for a fault of each nature.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Occasions {
    /// The words in the order in which they are offered.
    pub words: Vec<Word>,
    /// The words under which a fault that is there shows when it is tried (positions).
    pub steady: Vec<usize>,
    /// The word of what came back without a complaint (position).
    pub without_complaint: Option<usize>,
    /// The words that name a condition (positions), and how a fault is tried under it.
    pub conditions: Vec<(usize, String)>,
    /// Probability of each word, by nature; each row sums to 1.
    pub natures: BTreeMap<Nature, Vec<f64>>,
    /// Watts in the fault itself from which the warm row takes over.
    pub warm_above: f64,
    /// Width of that step in natural logarithms.
    pub warm_width: f64,
    /// The warm row.
    pub warm: Vec<f64>,
    /// Where the rows come from.
    pub source: String,
}

impl Occasions {
    /// The position of a key, a screen word or a synonym.
    pub fn word(&self, text: &str) -> Option<usize> {
        position(&self.words, text)
    }

    /// Whether a fault that shows on this occasion shows whenever it is tried.
    pub fn is_steady(&self, word: usize) -> bool {
        self.steady.contains(&word)
    }

    /// How a fault that shows on this occasion is tried.
    pub fn condition(&self, word: usize) -> Option<&str> {
        self.conditions.iter().find(|(condition, _)| *condition == word).map(|(_, tried)| tried.as_str())
    }

    /// The row of a nature, with what a mode states itself: the other words share the rest in the proportions of the nature.
    pub fn row(&self, nature: Nature, own: &BTreeMap<usize, f64>) -> Vec<f64> {
        let any = 1.0 / self.words.len().max(1) as f64;
        let plain = |i: usize| self.natures.get(&nature).and_then(|row| row.get(i)).copied().unwrap_or(any);
        let stated: f64 = own.values().sum();
        let others: f64 = (0..self.words.len()).filter(|i| !own.contains_key(i)).map(plain).sum();
        let share = if others > 0.0 { (1.0 - stated).max(0.0) / others } else { 0.0 };
        (0..self.words.len()).map(|i| own.get(&i).copied().unwrap_or_else(|| plain(i) * share)).collect()
    }

    /// Probability of `word` for a fault with this row that turns `watts` into heat: the warm row comes in with the share
    /// `1 / (1 + (above / watts)^(1 / width))`, a logistic step in the logarithm of the power.
    pub fn likelihood(&self, word: usize, row: &[f64], watts: f64) -> f64 {
        let at = |row: &[f64]| row.get(word).copied().unwrap_or(0.0);
        let warm = 1.0 / (1.0 + (self.warm_above / watts.max(0.0)).powf(1.0 / self.warm_width));
        (1.0 - warm) * at(row) + warm * at(&self.warm)
    }
}

/// Where a fault comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// Nothing is wrong.
    Nothing,
    /// Wear, weather, accident.
    Wear,
    /// A mistake of who fitted or repaired it.
    Mistake,
}

impl Origin {
    /// All of them with their words in `knowledge/complaints.yaml`.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Nothing, "nothing"), (Self::Wear, "wear"), (Self::Mistake, "mistake")];
}

/// What was before: words, and how likely each is for a fault of each origin.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// The words in the order in which they are offered; the first is that it worked.
    pub words: Vec<Word>,
    /// Probability of each word, by origin; each row sums to 1.
    pub origins: BTreeMap<Origin, Vec<f64>>,
    /// Where the rows come from.
    pub source: String,
}

impl History {
    /// The position of a key, a screen word or a synonym.
    pub fn word(&self, text: &str) -> Option<usize> {
        position(&self.words, text)
    }

    /// Probability of `word` for a fault of this origin; the same for every word where no row is known.
    pub fn likelihood(&self, word: usize, origin: Origin) -> f64 {
        let known = self.origins.get(&origin).and_then(|row| row.get(word)).copied();
        known.unwrap_or(1.0 / self.words.len().max(1) as f64)
    }
}

fn position(words: &[Word], text: &str) -> Option<usize> {
    words.iter().position(|w| w.key == text || w.says == text || w.also.iter().any(|a| a == text))
}

impl Complaints {
    /// The manner with this key or another word for it.
    pub fn manner(&self, text: &str) -> Option<&Manner> {
        let by_key = self.manners.iter().find(|m| m.key == text);
        by_key.or_else(|| self.manners.iter().find(|m| m.also.iter().any(|a| a == text)))
    }
}
