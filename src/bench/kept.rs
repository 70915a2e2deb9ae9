//! What lasts from one set-up to the next: blown fuses, tripped switches, latches, relays that hold.

use super::law::Stand;
use super::machine::Machine;
use crate::circuit::{Primitive, Reset};

/// What lasts, by element, and where the controls stood. Empty: a circuit never used.
#[derive(Clone, Debug, Default)]
pub(super) struct Kept {
    stands: Vec<Stand>,
    pub(super) positions: Vec<usize>,
}

impl Kept {
    /// What a circuit keeps of how it stands.
    pub(super) fn of(machine: &Machine) -> Self {
        let keep = |(piece, stand): (&super::wired::Piece, &Stand)| match &piece.what {
            Primitive::Fuse { reset: Reset::ByItself, .. } => Stand::default(),
            Primitive::Fuse { .. } | Primitive::Coil { .. } | Primitive::Motor { .. } => {
                Stand { on: stand.on, ..Stand::default() }
            }
            Primitive::Contact { .. } | Primitive::ElectronicSwitch { .. } => Stand { on: false, ..*stand },
            _ => Stand::default(),
        };
        let own = machine.wired.pieces.iter().zip(&machine.stands).take(machine.wired.own);
        Self { stands: own.map(keep).collect(), positions: machine.wired.positions.clone() }
    }

    /// How `pieces` pieces stand at first.
    pub(super) fn stands(&self, pieces: usize) -> Vec<Stand> {
        let mut stands = self.stands.clone();
        stands.resize(pieces, Stand::default());
        stands
    }
}
