//! What outlives a set-up, packed so that it is cheap to clone, hash and compare.

use super::law::{Law, Part, Status};
use crate::circuit::{ElementId, Reset};
use crate::index::Id;
use std::sync::Arc;

/// What outlives a set-up: blown fuses, tripped breakers, latches, relays that hold.
///
/// Two bits an element: the state itself (blown, pulled in, closed, turning), and whether an electronic
/// switch has tripped. Elements of which neither is so are not listed.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Memory {
    /// Ascending by element.
    states: Box<[(u32, u8)]>,
    /// Where the controls stood, for a set-up that is entered straight from this one; empty: at rest.
    positions: Arc<[usize]>,
}

impl Memory {
    pub(super) fn fresh() -> Self {
        Self { states: Box::default(), positions: Arc::default() }
    }

    /// Whether nothing has ever happened.
    pub(super) fn is_fresh(&self) -> bool {
        self.states.is_empty()
    }

    /// The states alone, packed.
    pub(super) fn states(&self) -> &[(u32, u8)] {
        &self.states
    }

    /// The elements of which there is anything to remember.
    pub(super) fn elements(&self) -> impl Iterator<Item = ElementId> {
        self.states.iter().map(|(index, _)| ElementId::new(*index as usize))
    }

    /// The same with other numbers for the elements, in the same order; without those that have none.
    pub(super) fn renumbered(&self, number: impl Fn(usize) -> Option<usize>) -> Self {
        let of = |(index, state): &(u32, u8)| Some((u32::try_from(number(*index as usize)?).ok()?, *state));
        Self { states: self.states.iter().filter_map(of).collect(), positions: Arc::clone(&self.positions) }
    }

    /// What of `status` is kept.
    pub(super) fn of(parts: &[Part], status: &[Status]) -> Self {
        let mut states = Vec::new();
        for (index, (part, status)) in (0_u32..).zip(parts.iter().zip(status)) {
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
            let both = u8::from(state) | u8::from(tripped) << 1;
            if both != 0 {
                states.push((index, both));
            }
        }
        Self { states: states.into(), positions: Arc::default() }
    }

    /// The same with the controls in these positions.
    pub(super) fn standing(self, positions: Arc<[usize]>) -> Self {
        Self { positions, ..self }
    }

    /// Where the controls stood; empty: at rest.
    pub(super) fn positions(&self) -> &[usize] {
        &self.positions
    }

    fn get(&self, index: usize) -> (bool, bool) {
        let place = self.states.binary_search_by_key(&index, |(at, _)| *at as usize);
        let two = place.ok().and_then(|place| self.states.get(place)).map_or(0, |(_, two)| *two);
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
    pub fn renewed(self, element: ElementId) -> Self {
        let other = |(index, _): &&(u32, u8)| *index as usize != element.position();
        Self { states: self.states.iter().filter(other).copied().collect(), ..self }
    }
}
