//! The way of a current: from the supply through a load and back, part by part.

use super::System;
use crate::circuit::{NodeId, Primitive};
use crate::install::{PartId, Passage, PointId, Stands, Wiring};
use crate::network::{ElementState, Operating};
use std::collections::BTreeSet;

/// A part on the way, with the nodes where the current enters and leaves it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// The part.
    pub part: PartId,
    /// Where the current enters it.
    pub enter: NodeId,
    /// Where it leaves it.
    pub leave: NodeId,
}

/// The way of one load's current.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trace {
    /// The load.
    pub load: Step,
    /// From the supply's plus to the load.
    pub feed: Vec<Step>,
    /// From the load to the supply's minus.
    pub back: Vec<Step>,
}

impl System {
    /// The way of each load's current, in the order of the file. A load that no feed or no return reaches has an empty one.
    pub fn traces(&self) -> Vec<Trace> {
        self.traces_along(&self.install.wiring())
    }

    /// The same by the way that the current takes in a state: through the contacts that are closed then.
    pub fn traces_in(&self, state: &Operating<'_>) -> Vec<Trace> {
        self.traces_along(&self.wiring_in(state))
    }

    /// The wiring with its contacts as they stand in a state.
    fn wiring_in(&self, state: &Operating<'_>) -> Wiring<'_> {
        let stands = |passage: Passage| {
            let key = &self.install.knowledge.kinds[self.install.parts[passage.part].kind].elements;
            let key = key.get(passage.element).map(|e| e.key.as_str());
            let (mut open, mut other) = (false, false);
            for inner in &self.circuit.elements_of[passage.part] {
                let contact = state.state(inner.element);
                let own = inner.pin == passage.pin && Some(inner.key.as_str()) == key;
                open |= own && contact == ElementState::Contact(false);
                other |= contact == ElementState::Contact(true);
            }
            match (open, other) {
                (false, _) => Stands::Passes,
                (true, false) => Stands::Apart,
                (true, true) => Stands::Elsewhere,
            }
        };
        self.install.wiring_as(&stands)
    }

    /// The ways of the currents that a part is controlled by: through each of its coils, from the end that the supply's plus
    /// reaches to the other. A coil without a feed has none.
    pub fn coil_traces_in(&self, state: &Operating<'_>, part: PartId) -> Vec<Trace> {
        let wiring = self.wiring_in(state);
        let fed_first = |(a, b): (PointId, PointId)| if wiring.is_fed(a) { (a, b) } else { (b, a) };
        let ends = self.coils(part).map(fed_first).filter(|(enter, _)| wiring.is_fed(*enter));
        ends.map(|ends| self.way(&wiring, part, ends)).collect()
    }

    /// The way of a part's current in a state, then those of the coils whose contacts lie on a way before them.
    pub fn ways_in(&self, state: &Operating<'_>, part: PartId) -> Vec<Trace> {
        let wiring = self.wiring_in(state);
        let mut ways: Vec<Trace> = wiring.ends(part).map(|ends| self.way(&wiring, part, ends)).into_iter().collect();
        let mut seen = BTreeSet::from([part]);
        let mut at = 0;
        // The list grows while it is gone through.
        while let Some(way) = ways.get(at).cloned() {
            at += 1;
            for step in way.feed.iter().chain(&way.back).filter(|step| seen.insert(step.part)) {
                let high_first = |(a, b): (PointId, PointId)| {
                    let turned = state.voltage(self.node(a), self.node(b)).is_some_and(|volts| volts.get() < 0.0);
                    if turned { (b, a) } else { (a, b) }
                };
                ways.extend(self.coils(step.part).map(|ends| self.way(&wiring, step.part, high_first(ends))));
            }
        }
        ways
    }

    /// The terminals of each coil of a part.
    fn coils(&self, part: PartId) -> impl Iterator<Item = (PointId, PointId)> {
        let elements = self.circuit.elements_of[part].iter().map(|inner| &self.circuit.netlist.elements[inner.element]);
        let terminal = move |node: NodeId| {
            self.install.parts[part].terminals.iter().copied().find(|point| self.node(*point) == node)
        };
        let coils = elements.filter(|element| matches!(element.primitive, Primitive::Coil { .. }));
        coils.filter_map(move |coil| Some((terminal(coil.from)?, terminal(coil.to)?)))
    }

    fn traces_along(&self, wiring: &Wiring<'_>) -> Vec<Trace> {
        let loads = wiring.loads();
        loads.into_iter().filter_map(|load| Some(self.way(wiring, load, wiring.ends(load)?))).collect()
    }

    /// The way of the current that enters and leaves a part at these terminals.
    fn way(&self, wiring: &Wiring<'_>, part: PartId, (enter, leave): (PointId, PointId)) -> Trace {
        let mut back = self.chain(&wiring.return_of(leave), self.node(leave));
        // The return is listed from the supply on: turned round, it follows the current.
        back.reverse();
        for step in &mut back {
            std::mem::swap(&mut step.enter, &mut step.leave);
        }
        Trace {
            load: Step { part, enter: self.node(enter), leave: self.node(leave) },
            feed: self.chain(&wiring.feed_of(enter), self.node(enter)),
            back,
        }
    }

    /// The steps along `parts`, which end at `last`: each leaves at a node that the next one has too.
    fn chain(&self, parts: &[PartId], last: NodeId) -> Vec<Step> {
        let mut steps = Vec::new();
        let mut enter: Option<NodeId> = None;
        for (i, part) in parts.iter().enumerate() {
            let own = self.nodes_of(*part);
            let leave = match parts.get(i + 1) {
                Some(next) => {
                    let other = self.nodes_of(*next);
                    own.intersection(&other).copied().find(|n| Some(*n) != enter)
                }
                None => Some(last),
            };
            let Some(leave) = leave else { break };
            // A supply is entered at its far pole: the minus of its source, where it has one.
            let start = enter
                .or_else(|| self.minus_of(*part).filter(|n| *n != leave))
                .or_else(|| own.iter().copied().find(|n| *n != leave));
            steps.push(Step { part: *part, enter: start.unwrap_or(leave), leave });
            enter = Some(leave);
        }
        steps
    }

    /// The node at the minus of a part's source.
    fn minus_of(&self, part: PartId) -> Option<NodeId> {
        let mut elements = self.circuit.elements_of[part].iter().map(|i| &self.circuit.netlist.elements[i.element]);
        elements.find(|e| matches!(e.primitive, Primitive::Source { .. })).map(|e| e.to)
    }

    fn nodes_of(&self, part: PartId) -> BTreeSet<NodeId> {
        let inner = self.circuit.elements_of[part].iter().flat_map(|inner| {
            let element = &self.circuit.netlist.elements[inner.element];
            [element.from, element.to]
        });
        let terminals = self.install.parts[part].terminals.iter().map(|p| self.node(*p));
        inner.chain(terminals).collect()
    }
}
