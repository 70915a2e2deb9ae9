//! What outlives a set-up, packed so that it is cheap to clone, hash and compare.

use super::law::{Law, Part, Status};
use crate::circuit::{ElementId, Reset};
use crate::index::Id;

/// What outlives a set-up: blown fuses, tripped breakers, latches, relays that hold.
///
/// Two bits an element: the state itself (blown, pulled in, closed, turning), and whether an electronic
/// switch has tripped.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Memory {
    bits: Box<[u64]>,
    /// Where the controls stood, for a set-up that is entered straight from this one; empty: at rest.
    positions: Box<[usize]>,
}

impl Memory {
    pub(super) fn fresh(elements: usize) -> Self {
        Self { bits: vec![0; elements.div_ceil(32)].into_boxed_slice(), positions: Box::default() }
    }

    /// Whether nothing has ever happened.
    pub(super) fn is_fresh(&self) -> bool {
        self.bits.iter().all(|word| *word == 0)
    }

    /// The states alone, packed.
    pub(super) fn bits(&self) -> &[u64] {
        &self.bits
    }

    /// What of `status` is kept.
    pub(super) fn of(parts: &[Part], status: &[Status]) -> Self {
        let mut memory = Self::fresh(parts.len());
        for (index, (part, status)) in parts.iter().zip(status).enumerate() {
            let (state, tripped) = match part.law {
                Law::Fuse { reset, .. } => (status.on && reset != Reset::ByItself, false),
                Law::Coil { .. } | Law::Motor { .. } => (status.on, false),
                Law::Contact { .. } => (status.command, false),
                Law::Switch { .. } => (status.command, status.held),
                Law::Source { .. }
                | Law::Resistance { .. }
                | Law::Filament { .. }
                | Law::Power { .. }
                | Law::ConverterInput { .. }
                | Law::ConverterOutput { .. }
                | Law::Diode { .. } => (false, false),
            };
            memory.set(index, state, tripped);
        }
        memory
    }

    /// The same with the controls in these positions.
    pub(super) fn standing(mut self, positions: &[usize]) -> Self {
        self.positions = positions.into();
        self
    }

    /// Where the controls stood; empty: at rest.
    pub(super) fn positions(&self) -> &[usize] {
        &self.positions
    }

    fn set(&mut self, index: usize, state: bool, tripped: bool) {
        let shift = index % 32 * 2;
        if let Some(word) = self.bits.get_mut(index / 32) {
            *word &= !(3 << shift);
            *word |= (u64::from(state) | u64::from(tripped) << 1) << shift;
        }
    }

    fn get(&self, index: usize) -> (bool, bool) {
        let word = self.bits.get(index / 32).copied().unwrap_or(0);
        let two = word >> (index % 32 * 2);
        (two & 1 != 0, two & 2 != 0)
    }

    /// The states to start from.
    pub(super) fn status(&self, parts: &[Part]) -> Vec<Status> {
        parts
            .iter()
            .enumerate()
            .map(|(index, part)| {
                let (state, tripped) = self.get(index);
                match part.law {
                    Law::Fuse { .. } | Law::Coil { .. } | Law::Motor { .. } => {
                        Status { on: state, ..Status::default() }
                    }
                    Law::Contact { .. } | Law::Switch { .. } => Status { on: false, command: state, held: tripped },
                    Law::Source { .. }
                    | Law::Resistance { .. }
                    | Law::Filament { .. }
                    | Law::Power { .. }
                    | Law::ConverterInput { .. }
                    | Law::ConverterOutput { .. }
                    | Law::Diode { .. } => Status::default(),
                }
            })
            .collect()
    }

    /// The same after a person has put `element` right by hand: a new fuse fitted, a breaker reset.
    #[must_use]
    pub fn renewed(mut self, element: ElementId) -> Self {
        self.set(element.position(), false, false);
        self
    }
}
