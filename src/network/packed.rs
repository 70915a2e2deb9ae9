//! A circuit with its edits, kept as what differs from the healthy one: operating points are kept by the thousand.

use super::law::Part;
use super::wiring::{Tables, Wiring};
use crate::circuit::NodeId;
use std::sync::Arc;

/// What differs from the healthy circuit.
#[derive(Clone)]
pub(super) struct Packed {
    healthy: Arc<Wiring>,
    /// Ascending by index.
    changed: Box<[(u32, Part)]>,
    /// Bridges and instruments.
    added: Box<[Part]>,
    tables: Arc<Tables>,
    positions: Arc<[usize]>,
    edited: bool,
}

impl Packed {
    /// Keeps what in `wiring` differs from `healthy`, which it was made from.
    pub(super) fn new(healthy: &Arc<Wiring>, wiring: &Wiring) -> Self {
        let pairs = (0_u32..).zip(healthy.parts.iter().zip(&wiring.parts));
        let changed = pairs.filter(|(_, (before, now))| before.differs(now)).map(|(index, (_, now))| (index, *now));
        Self {
            changed: changed.collect(),
            added: wiring.parts.get(healthy.parts.len()..).unwrap_or_default().into(),
            tables: Arc::clone(&wiring.tables),
            positions: Arc::clone(&wiring.positions),
            edited: !wiring.healthy,
            healthy: Arc::clone(healthy),
        }
    }

    /// The circuit again, whole.
    pub(super) fn whole(&self) -> Wiring {
        let mut parts = Vec::with_capacity(self.len() + 2);
        parts.extend_from_slice(&self.healthy.parts);
        for (index, part) in &self.changed {
            parts[*index as usize] = *part;
        }
        parts.extend_from_slice(&self.added);
        Wiring {
            nodes: self.healthy.nodes,
            parts,
            elements: self.healthy.elements,
            tables: Arc::clone(&self.tables),
            positions: Arc::clone(&self.positions),
            healthy: !self.edited,
        }
    }

    /// One part.
    pub(super) fn part(&self, index: usize) -> Option<&Part> {
        let Some(before) = self.healthy.parts.get(index) else {
            return self.added.get(index - self.healthy.parts.len());
        };
        let changed = self.changed.binary_search_by_key(&index, |(index, _)| *index as usize).ok();
        Some(changed.map_or(before, |place| &self.changed[place].1))
    }

    /// How many of its parts are elements.
    pub(super) fn elements(&self) -> usize {
        self.healthy.elements
    }

    /// How many parts there are.
    pub(super) fn len(&self) -> usize {
        self.healthy.parts.len() + self.added.len()
    }

    /// The position of each control.
    pub(super) fn positions(&self) -> &Arc<[usize]> {
        &self.positions
    }

    /// The index of a node that exists.
    pub(super) fn node(&self, node: NodeId) -> Option<u32> {
        self.healthy.node(node)
    }
}
