//! The word tables of the knowledge base as the vocabularies of the belief.

use crate::belief::{Seen, Timing, Vocabulary};
use crate::circuit::{Effect, PossibleFault};
use crate::index::IdVec;
use crate::install::Install;
use crate::knowledge::{History, Nature, Noticed, NoticedState, Occasions, Origin, WordTable};
use crate::network::ElementState;
use crate::suspects::FaultId;
use std::collections::BTreeMap;
use std::rc::Rc;

/// A word table, asked with what the network computes.
#[derive(Debug)]
pub(super) struct Said(pub Rc<WordTable>);

impl Vocabulary for Said {
    fn count(&self) -> usize {
        self.0.words.len()
    }
    fn likelihood(&self, word: usize, seen: &Seen) -> f64 {
        self.0.words.get(word).map_or(0.0, |w| self.0.likelihood(&w.key, noticed(seen)))
    }
}

fn noticed(seen: &Seen) -> Noticed {
    if seen.unsteady {
        return Noticed::State(NoticedState::Unsteady);
    }
    match seen.state {
        ElementState::Coil(pulled) => {
            let changed = seen.at_rest != ElementState::Coil(pulled);
            Noticed::State(if changed { NoticedState::Changed } else { NoticedState::Unchanged })
        }
        ElementState::Fuse(whole) => Noticed::State(if whole { NoticedState::Whole } else { NoticedState::Opened }),
        ElementState::Plain
        | ElementState::Contact(_)
        | ElementState::Diode(_)
        | ElementState::Motor(_)
        | ElementState::Power(_)
        | ElementState::Source(_) => Noticed::Share(seen.share),
    }
}

/// The occasions of the knowledge base, with the row of each fault of an install.
#[derive(Debug)]
pub(super) struct When {
    occasions: Occasions,
    nothing: Vec<f64>,
    rows: IdVec<FaultId, Vec<f64>>,
    history: History,
    origins: IdVec<FaultId, Origin>,
}

impl When {
    pub(super) fn new(install: &Install, possible: &IdVec<FaultId, PossibleFault>) -> Self {
        let occasions = install.knowledge.complaints.occasions.clone();
        let none = BTreeMap::new();
        let row = |fault: &PossibleFault| {
            let own = fault.mode(install).map_or(&none, |mode| &mode.when);
            occasions.row(nature(&fault.effect), own)
        };
        let rows = possible.iter().map(row).collect();
        Self {
            nothing: occasions.row(Nature::Nothing, &none),
            rows,
            occasions,
            history: install.knowledge.complaints.history.clone(),
            origins: possible.iter().map(|f| if f.mistake { Origin::Mistake } else { Origin::Wear }).collect(),
        }
    }
}

impl Timing for When {
    fn count(&self) -> usize {
        self.occasions.words.len()
    }
    /// Of several faults each may be the one that shows: the mean of theirs.
    fn likelihood(&self, word: usize, faults: &[FaultId], watts: f64) -> f64 {
        if faults.is_empty() {
            return self.occasions.likelihood(word, &self.nothing, 0.0);
        }
        let of = |fault: &FaultId| self.occasions.likelihood(word, &self.rows[*fault], watts);
        faults.iter().map(of).sum::<f64>() / faults.len() as f64
    }
    fn histories(&self) -> usize {
        self.history.words.len()
    }
    fn history(&self, word: usize, faults: &[FaultId]) -> f64 {
        if faults.is_empty() {
            return self.history.likelihood(word, Origin::Nothing);
        }
        let of = |fault: &FaultId| self.history.likelihood(word, self.origins[*fault]);
        faults.iter().map(of).sum::<f64>() / faults.len() as f64
    }
}

fn nature(effect: &Effect) -> Nature {
    match effect {
        Effect::Open(_) => Nature::Open,
        Effect::Series(_) => Nature::Series,
        Effect::Leak(..) => Nature::Leak,
        Effect::Short(..) => Nature::Short,
        Effect::Stuck(_) => Nature::Stuck,
        Effect::Value(_) => Nature::Value,
        Effect::Swapped(_) => Nature::Swapped,
    }
}
