//! Readings and looks in the order in which they were taken.

use super::{Hearsay, Marks};
use crate::circuit::{ElementId, NodeId, SetUp};
use crate::network::{ElementState, Instrument};
use crate::suspects::FaultId;
use std::fmt::Debug;

/// All that was observed: the stays (set-ups entered, in order) and the observations made in them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Set-ups in the order in which they were entered. Each is entered from all controls at rest.
    pub stays: Vec<SetUp>,
    /// Observations in the order in which they were made.
    pub observations: Vec<Observation>,
    /// Repairs in the order in which they were made.
    pub repairs: Vec<Repair>,
    /// When it shows, as far as it was said.
    pub occasion: Option<Occasion>,
    /// What was before: position of the word that was said.
    pub history: Option<usize>,
    /// What nobody but the customer has seen.
    pub hearsay: Option<Hearsay>,
}

/// A repair made while the job was under way.
#[derive(Clone, Debug, PartialEq)]
pub struct Repair {
    /// The first stay after it (position in `Evidence::stays`, its length where there is none yet). It starts from rest: what
    /// had blown or tripped is whole again.
    pub before: usize,
    /// The faults that it cures.
    pub faults: Vec<FaultId>,
}

impl Evidence {
    /// The faults that were cured before a stay.
    pub(super) fn cured(&self, stay: usize) -> Vec<FaultId> {
        let made = self.repairs.iter().filter(|repair| repair.before <= stay);
        made.flat_map(|repair| repair.faults.iter().copied()).collect()
    }

    /// Whether a repair was made just before a stay.
    pub(super) fn is_mended(&self, stay: usize) -> bool {
        self.repairs.iter().any(|repair| repair.before == stay)
    }
}

/// When something shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Occasion {
    /// Position of the word that was said.
    pub word: usize,
    /// The stay that it is said of (position in `Evidence::stays`).
    pub stay: usize,
}

/// One observation.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// The stay in which it was made (position in `Evidence::stays`).
    pub stay: usize,
    /// What was looked at or measured.
    pub probe: Probe,
    /// What was found.
    pub answer: Answer,
    /// Chance that the answer says nothing about the circuit: wrong point, misread, misheard.
    pub blunder: f64,
    /// How many have found the same, each for himself: 1, or 2 for a complaint that the fault finder has seen too.
    pub times: u32,
}

/// What is observed.
#[derive(Clone, Debug, PartialEq)]
pub enum Probe {
    /// An instrument between two points, red minus black; `unsigned`: only the size was noted.
    Volts {
        /// The instrument.
        instrument: Instrument,
        /// Red lead.
        red: NodeId,
        /// Black lead.
        black: NodeId,
        /// Only the size was noted.
        unsigned: bool,
    },
    /// Current through an element, from its `from` to its `to`; `unsigned`: only the size was noted.
    Amps {
        /// The element.
        element: ElementId,
        /// Only the size was noted.
        unsigned: bool,
    },
    /// Ohms between two points of a circuit that is dead. The number is the decimal logarithm of the ohms, from the tenth of an
    /// ohm of the leads to what counts as open ([`LEAST_OHMS`](super::LEAST_OHMS), [`OPEN_OHMS`](super::OPEN_OHMS)).
    Ohms {
        /// First lead.
        red: NodeId,
        /// Second lead.
        black: NodeId,
    },
    /// A test lamp or LED tester between two points, watched for its light.
    Light {
        /// The instrument.
        instrument: Instrument,
        /// Its first lead.
        red: NodeId,
        /// Its second lead.
        black: NodeId,
    },
    /// The look, sound or feel of a part: position in the list of sights.
    Look(usize),
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A number in volts, amps or the logarithm of ohms, with the standard deviation of the instrument at that value.
    Number {
        /// Value.
        value: f64,
        /// Standard deviation of instrument and last digit.
        sigma: f64,
    },
    /// Somewhere between two values.
    Between(f64, f64),
    /// It jumps and does not settle.
    Unsteady,
    /// A word of the sight's vocabulary.
    Word(usize),
    /// The person could not take it, or is not sure: says nothing.
    NotTaken,
}

impl Answer {
    /// The number in it, of two the middle; `None` where it has none.
    pub fn value(&self) -> Option<f64> {
        match self {
            Self::Number { value, .. } => Some(*value),
            Self::Between(low, high) => Some(0.5 * (low + high)),
            Self::Unsteady | Self::Word(_) | Self::NotTaken => None,
        }
    }
}

/// The computed quantities that a person's words depend on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// What is noticed over its nominal value: power, heat, drain, volts.
    pub share: f64,
    /// How the element stands in the set-up.
    pub state: ElementState,
    /// How it stood with all controls at rest.
    pub at_rest: ElementState,
    /// The circuit does not settle.
    pub unsteady: bool,
}

/// Words for what is seen, with their probabilities.
pub trait Vocabulary: Debug {
    /// How many words there are.
    fn count(&self) -> usize;
    /// Probability that a person says `word` (0-based) of `seen`; over all words it sums to 1.
    fn likelihood(&self, word: usize, seen: &Seen) -> f64;
}

/// Words for when something shows, with their probabilities.
pub trait Timing: Debug {
    /// How many words there are.
    fn count(&self) -> usize;
    /// Probability that a person says `word` of these faults while they turn `watts` into heat in the complaint's set-up.
    fn likelihood(&self, word: usize, faults: &[FaultId], watts: f64) -> f64;
    /// How many words there are for what was before.
    fn histories(&self) -> usize;
    /// Probability that a person says `word` of what was before, with these faults.
    fn history(&self, word: usize, faults: &[FaultId]) -> f64;
}

/// The computed quantity that is noticed.
#[derive(Clone, Debug, PartialEq)]
pub enum Shown {
    /// Power in an element as a share of `nominal` watts (above zero), or its state.
    Work {
        /// The element.
        element: ElementId,
        /// Watts.
        nominal: f64,
    },
    /// Power in several elements together, as a share of `hot` watts.
    Heat {
        /// The elements.
        elements: Vec<ElementId>,
        /// Watts.
        hot: f64,
    },
    /// What a source gives off while it should rest, as a share of `drain` amps, and how far the volts between its posts
    /// have come down.
    Standing {
        /// The source.
        source: ElementId,
        /// Plus and minus post.
        posts: (NodeId, NodeId),
        /// Amps.
        drain: f64,
        /// Volts.
        nominal: f64,
    },
    /// Volts between two posts as a share of `nominal` volts.
    Charge {
        /// Plus and minus post.
        posts: (NodeId, NodeId),
        /// Volts.
        nominal: f64,
    },
    /// What faults of a part leave to be seen, whatever the circuit does.
    Marks(Marks),
}

/// Something that can be seen, heard or felt.
#[derive(Debug)]
pub struct Sight {
    /// What causes it.
    pub shown: Shown,
    /// The words for it.
    pub vocabulary: Box<dyn Vocabulary>,
}

/// What a person can perceive: the parts in sight, and the light of a tester.
#[derive(Debug, Default)]
pub struct Senses {
    /// Parts that can be seen, heard or felt.
    pub sights: Vec<Sight>,
    /// The words for a tester's light; `None`: no tester is used.
    pub tester: Option<Box<dyn Vocabulary>>,
    /// The words for when it shows; `None`: nobody is asked.
    pub timing: Option<Box<dyn Timing>>,
}
