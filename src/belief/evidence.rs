//! Readings and looks in the order in which they were taken.

use crate::circuit::{ElementId, NodeId, SetUp};
use crate::network::{ElementState, Instrument};
use std::fmt::Debug;

/// All that was observed: the stays (set-ups entered, in order) and the observations made in them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Set-ups in the order in which they were entered. Each is entered from all controls at rest.
    pub stays: Vec<SetUp>,
    /// Observations in the order in which they were made.
    pub observations: Vec<Observation>,
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
    /// A number in volts or amps, with the standard deviation of the instrument at that value.
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

/// The computed quantities that a person's words depend on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Power in the element over its nominal power.
    pub power_share: f64,
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

/// Something that can be seen, heard or felt.
#[derive(Debug)]
pub struct Sight {
    /// The element that causes it.
    pub element: ElementId,
    /// Its nominal power in watts, above zero.
    pub nominal_watts: f64,
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
}
