//! Parts that are taken out of their circuit for a test: which of them, and what is measured then.

use super::test::Target;
use super::{Instruments, Test};
use crate::belief::Probe;
use crate::circuit::{ByHand, Circuit, Jumper, NodeId, SetUp};
use crate::install::{Install, PartId, PointId};
use crate::knowledge::Role;
use std::collections::BTreeSet;

/// Most parts that are looked into at one complaint: its own way and what hangs on the same fuse.
const MOST: usize = 12;

/// A part that can be taken out, with the points of its socket or of its two halves.
#[derive(Clone, Debug, PartialEq)]
pub struct Removable {
    /// The part.
    pub part: PartId,
    /// It blows when something behind it is shorted.
    pub protects: bool,
    /// The jumper that may stand in for it on the way of the complaint's current.
    pub jumper: Option<Jumper>,
    /// Its points.
    points: Vec<PointId>,
    /// Pairs of points that only the part itself joins: live side and load side, the two halves of a pin.
    across: Vec<(PointId, PointId)>,
}

impl Removable {
    /// The parts that can be taken out on the way of the current of `complained`, and then those of what hangs on the same
    /// protection: a short in any of them blows it.
    pub fn list(install: &Install, circuit: &Circuit, complained: &[PartId]) -> Vec<Self> {
        let wiring = install.wiring();
        let kind = |part: PartId| &install.knowledge.kinds[install.parts[part].kind];
        let mut parts: Vec<PartId> = Vec::new();
        let mut protections: Vec<PartId> = Vec::new();
        for &part in complained {
            let upstream = wiring.upstream(part);
            let nearest = upstream.iter().rev().chain([&part]).find(|p| kind(**p).role == Role::Protection);
            protections.extend(nearest);
            parts.push(part);
            parts.extend(upstream.into_iter().rev());
        }
        for load in wiring.loads() {
            let upstream = wiring.upstream(load);
            if let Some(at) = upstream.iter().position(|p| protections.contains(p)) {
                parts.extend(upstream.into_iter().skip(at + 1));
                parts.push(load);
            }
        }
        let mut seen = BTreeSet::new();
        // A supply is taken off to make all dead, not to measure in its place.
        parts.retain(|part| kind(*part).role != Role::Supply);
        parts.retain(|part| seen.insert(*part) && circuit.parting_of.get(*part).is_some_and(|opens| !opens.is_empty()));
        parts.truncate(MOST);
        let mut list: Vec<Self> = parts.into_iter().map(|part| Self::new(install, circuit, part)).collect();
        let on_way: BTreeSet<PartId> = complained.iter().flat_map(|part| wiring.upstream(*part)).collect();
        for removable in list.iter_mut().filter(|removable| on_way.contains(&removable.part)) {
            removable.jumper = circuit.jumper(install, &wiring, removable.part);
        }
        list
    }

    fn new(install: &Install, circuit: &Circuit, part: PartId) -> Self {
        let points = install.parts[part].terminals.clone();
        let node_of = |point: &PointId| circuit.node_of[*point];
        let mut across = Vec::new();
        let kind = &install.knowledge.kinds[install.parts[part].kind];
        let of_pin = kind.terminals.len().max(1);
        for pin in points.chunks(of_pin) {
            // A way through a part has two ends; of a part with more, such as a relay, it is the one that runs mention.
            let ends = kind.through.and_then(|(from, to)| Some((*pin.get(from)?, *pin.get(to)?)));
            across.extend(ends.filter(|(from, to)| node_of(from) != node_of(to)));
        }
        Self { part, protects: kind.role == Role::Protection, jumper: None, points, across }
    }

    /// The nodes of its points.
    pub(super) fn nodes(&self, node_of: &impl Fn(PointId) -> NodeId) -> BTreeSet<NodeId> {
        self.points.iter().map(|point| node_of(*point)).collect()
    }

    /// What is measured in its place: volts between its two sides, and a test lamp that stands in for it, whose filament lets
    /// no more through than it can bear. Nothing where a jumper is.
    pub(super) fn in_its_place(
        &self,
        set_up: &SetUp,
        instruments: &Instruments,
        node_of: &impl Fn(PointId) -> NodeId,
    ) -> Vec<Test> {
        let mut tests = Vec::new();
        let free = set_up.how(self.part) == Some(ByHand::TakenOut);
        for &(red, black) in self.across.iter().filter(|_| free) {
            let nodes = (node_of(red), node_of(black));
            let mut add = |probe| tests.push(Test { set_up: set_up.clone(), probe, at: Target::Points { red, black } });
            if let Some(instrument) = instruments.voltmeter.clone() {
                add(Probe::Volts { instrument, red: nodes.0, black: nodes.1, unsigned: false });
            }
            if let Some(instrument) = instruments.test_lamp.clone() {
                add(Probe::Light { instrument, red: nodes.0, black: nodes.1 });
            }
        }
        tests
    }
}

/// Whether a test looks, or is made at one of these nodes.
pub(super) fn is_at(nodes: &BTreeSet<NodeId>, test: &Test) -> bool {
    match &test.probe {
        Probe::Volts { red, black, .. } | Probe::Light { red, black, .. } => {
            nodes.contains(red) || nodes.contains(black)
        }
        Probe::Look(_) => true,
        Probe::Amps { .. } | Probe::Ohms { .. } => false,
    }
}
