//! What lies outside of the part of a circuit that was solved: it carries nothing, and hangs on the rest by what conducts there.

use super::ElementState;
use super::law::{Law, Status};
use super::operating::{Operating, STIFF, Within};
use crate::circuit::{Drive, Edit, ElementId, NodeId, Primitive};
use crate::index::Id;

impl Operating<'_> {
    /// The same of a node, or of the one at whose volts it stands because it hangs there by what carries nothing; by good conductors
    /// alone where that is asked for.
    pub(super) fn at(&self, node: NodeId, good: bool) -> Option<u32> {
        let Some(Within { frame, .. }) = &self.within else { return self.wiring.node(node) };
        let mut node = frame.whole.node(node)?;
        loop {
            if let Some(here) = frame.node(node) {
                return Some(here);
            }
            let (part, onto) = frame.core.up(&frame.whole, node)?;
            if !self.carries(part, good) {
                return None;
            }
            node = onto;
        }
    }

    /// Whether good conductors that carry nothing join two nodes outside what was solved, each on the way from either to it.
    pub(super) fn meet_outside(&self, a: NodeId, b: NodeId) -> bool {
        let Some(Within { frame, .. }) = &self.within else { return false };
        let way = |node: NodeId| {
            let mut way: Vec<u32> = frame.whole.node(node).into_iter().collect();
            while let Some(&last) = way.last()
                && let Some((part, onto)) = frame.core.up(&frame.whole, last)
                && frame.node(last).is_none()
                && self.carries(part, true)
            {
                way.push(onto);
            }
            way
        };
        let first = way(a);
        way(b).iter().any(|node| first.contains(node))
    }

    /// Whether a part outside what was solved surely conducts; `good`: well, as a voltmeter sees it.
    fn carries(&self, index: u32, good: bool) -> bool {
        let Some(within) = &self.within else { return false };
        let Some(part) = within.frame.whole.parts.get(index as usize) else { return false };
        if part.open || within.touches(index as usize) {
            return false;
        }
        let conducts = match part.law {
            Law::Contact { drive, .. } => self.phases.len() == 1 && self.commanded(within, drive),
            Law::Switch { .. } => !good,
            Law::Source { .. } | Law::ConverterOutput { .. } | Law::Diode { .. } => false,
            _ => true,
        };
        conducts && (!good || part.branch(Status::default(), 0.0).siemens > STIFF)
    }

    /// What drives a contact outside what was solved says.
    fn commanded(&self, within: &Within, drive: u32) -> bool {
        match within.frame.whole.tables.drives.get(drive as usize) {
            Some(Drive::Control { control, positions }) => {
                self.wiring.positions().get(control.position()).is_some_and(|position| positions.contains(position))
            }
            Some(Drive::Coils { coils, closed_at_rest }) => {
                let pulled = |coil: &ElementId| self.state(*coil) == ElementState::Coil(true);
                coils.iter().any(pulled) != *closed_at_rest
            }
            Some(Drive::Latch { .. } | Drive::Step { .. }) | None => false,
        }
    }

    /// How an element stands that lies outside what was solved: nothing reaches it.
    pub(super) fn state_outside(&self, within: &Within, index: usize) -> ElementState {
        let Some(part) = within.frame.whole.parts.get(index) else { return ElementState::Plain };
        if within.touches(index) {
            return self.whole().state(ElementId::new(index));
        }
        match part.law {
            Law::Coil { .. } => ElementState::Coil(false),
            Law::Contact { drive, .. } | Law::Switch { drive, .. } => {
                ElementState::Contact(!part.open && self.commanded(within, drive))
            }
            Law::Fuse { .. } => ElementState::Fuse(!part.open),
            Law::Diode { .. } => ElementState::Diode(false),
            Law::Motor { .. } => ElementState::Motor(false),
            Law::Power { .. } | Law::ConverterInput { .. } | Law::ConverterOutput { .. } => ElementState::Power(false),
            Law::Source { limit: Some(_), .. } => ElementState::Source(false),
            Law::Source { .. } | Law::Resistance { .. } | Law::Filament { .. } => ElementState::Plain,
        }
    }
}

impl Within {
    /// The elements of which edits are made.
    pub(super) fn touched(&self) -> impl Iterator<Item = usize> {
        self.edits.iter().filter_map(|edit| match edit {
            Edit::Open(e) | Edit::Replace(e, _) | Edit::Series(e, _) | Edit::Stuck(e, _) => Some(e.position()),
            Edit::Move { element, .. } => Some(element.position()),
            Edit::Bridge(..) => None,
        })
    }

    /// Whether an edit is made of an element.
    fn touches(&self, index: usize) -> bool {
        self.touched().any(|touched| touched == index)
    }

    /// Whether there is a diode anywhere.
    pub(super) fn has_diodes(&self) -> bool {
        let is = |edit: &Edit| matches!(edit, Edit::Replace(_, Primitive::Diode { .. }));
        self.frame.graph.diodes || self.edits.iter().any(is)
    }
}
