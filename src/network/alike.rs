//! Nodes that stand at the same volts in every one of several operating points, because they hang there by what carries nothing
//! in any of them.

use super::core::Core;
use super::law::{Law, Part};
use super::wiring::Wiring;
use super::{Network, Operating};
use crate::circuit::{Drive, ElementId, NodeId};
use crate::index::Id;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Finds the node at whose volts another one stands.
pub struct Alike {
    known: Option<Known>,
}

struct Known {
    core: Arc<Core>,
    whole: Arc<Wiring>,
    /// Where the controls stand.
    positions: Box<[usize]>,
    /// The nodes that were solved in any of the operating points, and the elements that were or are changed.
    nodes: BTreeSet<u32>,
    elements: BTreeSet<u32>,
}

impl Alike {
    /// For operating points of one set-up.
    pub fn new<'a, 'n: 'a>(states: impl Iterator<Item = &'a Operating<'n>>) -> Self {
        let mut known: Option<Known> = None;
        let mut met: BTreeSet<usize> = BTreeSet::new();
        for state in states {
            // Where all of a circuit was solved each node stands for itself.
            let Some(within) = &state.within else { return Self { known: None } };
            let known = known.get_or_insert_with(|| Known {
                core: Arc::clone(&within.frame.core),
                whole: Arc::clone(&within.frame.whole),
                positions: state.positions().into(),
                nodes: BTreeSet::new(),
                elements: BTreeSet::new(),
            });
            if *known.positions != *state.positions() {
                return Self { known: None };
            }
            known.elements.extend(within.touched().filter_map(|index| u32::try_from(index).ok()));
            if met.insert(Arc::as_ptr(&within.frame) as usize) {
                known.nodes.extend(&within.frame.nodes);
                known.elements.extend(&within.frame.elements);
            }
        }
        Self { known }
    }

    /// The elements that were solved, or are changed, in any of them, ascending.
    pub fn elements(&self) -> impl Iterator<Item = ElementId> {
        self.known.iter().flat_map(|known| &known.elements).map(|index| ElementId::new(*index as usize))
    }

    /// Whether an element carries nothing in any of them, and is in no other state than when nothing was ever done.
    pub fn is_still(&self, element: ElementId) -> bool {
        let Some(known) = &self.known else { return false };
        let Ok(index) = u32::try_from(element.position()) else { return false };
        // A contact may be moved from elsewhere, and volts may stand across a dark diode.
        let moves = |part: &Part| {
            matches!(part.law, Law::Contact { .. } | Law::Switch { .. } | Law::Diode { .. } | Law::Source { .. })
        };
        known.whole.parts.get(element.position()).is_some_and(|part| !moves(part)) && !known.elements.contains(&index)
    }

    /// The node at whose volts a node stands in all of them: itself, if none other is known. What is joined with one is joined with
    /// the other.
    pub fn of(&self, node: NodeId) -> NodeId {
        let Some(known) = &self.known else { return node };
        let Some(mut at) = known.whole.node(node) else { return node };
        while !known.nodes.contains(&at)
            && let Some((part, onto)) = known.core.up(&known.whole, at)
            && known.carries(part)
        {
            at = onto;
        }
        NodeId::new(at as usize)
    }
}

impl<'n> Network<'n> {
    /// What a current through an instrument between two nodes may pass, and where all else hangs on that; `None` where that was not
    /// looked into.
    pub fn around(&self, state: &Operating<'n>, red: NodeId, black: NodeId) -> Option<Alike> {
        let around = self.probed(state, red, black);
        around.within.is_some().then(|| Alike::new(std::iter::once(around.as_ref())))
    }
}

impl Known {
    /// Whether a part that nothing was done to conducts in all of them.
    fn carries(&self, index: u32) -> bool {
        let Some(part) = self.whole.parts.get(index as usize) else { return false };
        if part.open || self.elements.contains(&index) {
            return false;
        }
        match part.law {
            Law::Contact { drive, .. } => match self.whole.tables.drives.get(drive as usize) {
                Some(Drive::Control { control, positions }) => {
                    self.positions.get(control.position()).is_some_and(|position| positions.contains(position))
                }
                Some(Drive::Coils { coils, closed_at_rest }) => {
                    let solved = |index: usize| u32::try_from(index).is_ok_and(|index| self.elements.contains(&index));
                    *closed_at_rest && !coils.iter().any(|coil| solved(coil.position()))
                }
                Some(Drive::Latch { .. } | Drive::Step { .. }) | None => false,
            },
            Law::Source { .. } | Law::ConverterOutput { .. } | Law::Diode { .. } => false,
            _ => true,
        }
    }
}
