//! The word tables of the knowledge base as the vocabularies of the belief.

use crate::belief::{Seen, Vocabulary};
use crate::knowledge::{Noticed, NoticedState, WordTable};
use crate::network::ElementState;

/// A word table, asked with what the network computes.
#[derive(Debug)]
pub(super) struct Said(pub WordTable);

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
        | ElementState::Source(_) => Noticed::Share(seen.power_share),
    }
}
