//! A test: set-up, instrument and place.

use crate::belief::Probe;
use crate::circuit::SetUp;
use crate::install::{PartId, PointId};

/// Something that a person can be asked to measure or to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// Position of every control.
    pub set_up: SetUp,
    /// What is observed.
    pub probe: Probe,
    /// Where.
    pub at: Target,
}

/// Where a test is made, in the words of the install.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Target {
    /// Two probes.
    Points {
        /// Red lead, or the tip of a test lamp.
        red: PointId,
        /// Black lead, or the clip of a test lamp.
        black: PointId,
    },
    /// A part that is looked at or listened to, or the end of a wire that a clamp meter goes around.
    Part(PartId),
}
