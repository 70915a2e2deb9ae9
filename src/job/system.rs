//! An install made ready for fault finding: its circuit, its suspects, what can be seen of it.

use crate::belief::{Senses, Sight};
use crate::circuit::Circuit;
use crate::index::IdVec;
use crate::install::{Install, PartId, PointId};
use crate::knowledge::Role;
use crate::suspects::{Fault, FaultId, Severity, Shares, Suspects};
use crate::units::Ohms;

/// An install with everything that fault finding needs of it.
#[derive(Debug)]
pub struct System {
    /// The install.
    pub install: Install,
    /// Its circuit.
    pub circuit: Circuit,
    /// What can be wrong.
    pub suspects: Suspects,
    /// What can be perceived.
    pub senses: Senses,
    /// The part of each sight.
    pub sight_of: Vec<PartId>,
    /// The minus of the first supply: where a black lead goes when nothing else is near.
    pub reference: PointId,
}
