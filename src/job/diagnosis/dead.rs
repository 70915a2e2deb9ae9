//! Ohms, where it is dead: which supplies are taken off for it, and what is read before.
//!
//! 'Supplies off' is not dead. Every supply that anything joins to the way of the current is named and taken off; then volts
//! between the two very points come first, and only where they are under a tenth of a volt are ohms asked for.

use super::Diagnosis;
use crate::belief::{Answer, Probe};
use crate::choice::{Ranked, Target, Test, in_play, minutes};
use crate::circuit::{ElementId, Emf, NodeId, Primitive, SetUp};
use crate::index::Id;
use crate::install::PartId;
use crate::units::Minutes;
use petgraph::unionfind::UnionFind;
use std::collections::BTreeSet;

/// Volts under which a circuit is dead. Common practice (`dead-for-ohms` in `knowledge/cautions.yaml`).
const DEAD: f64 = 0.1;
/// Hypotheses times pairs of points up to which ohms are worked out without need.
const CHEAP: usize = 3000;
/// Bits below which the best of all other tests tells so little that they are worked out at any price.
const POOR: f64 = 0.25;
/// Minutes added to ohms whose volts were not read yet: probes held and read. Common practice, no source.
pub(super) const TO_PROVE: Minutes = Minutes::new(0.3);

impl Diagnosis<'_> {
    /// The set-ups in which ohms are read: those of the complaint, and all at rest, with all supplies off. None without an
    /// ohmmeter, where the engine runs, and where a supply cannot be taken off.
    pub(super) fn dead_set_ups(&self) -> Vec<SetUp> {
        let mut list: Vec<SetUp> = Vec::new();
        if !self.instruments.ohmmeter || self.instruments.voltmeter.is_none() {
            return list;
        }
        let rest = SetUp::at_rest(&self.system.circuit.netlist.controls);
        for from in [&self.complaint.usual, &self.complaint.set_up, &rest] {
            if self.system.engine_runs(from) || !from.interventions.is_empty() {
                continue;
            }
            let Some(supplies) = self.supplies_at(from, &self.live).filter(|supplies| !supplies.is_empty()) else {
                continue;
            };
            let circuit = &self.system.circuit;
            let dead = supplies.into_iter().fold(from.clone(), |set_up, part| circuit.out_of(&set_up, part));
            if !list.contains(&dead) && !self.system.is_barred(&dead) {
                list.push(dead);
            }
        }
        list
    }

    /// The supplies that give volts in a set-up and that anything joins to some nodes, switches and relays counted as closed, and
    /// what a converter gives as given by what feeds it. `None` where one of them is not taken off.
    fn supplies_at(&self, set_up: &SetUp, nodes: &BTreeSet<NodeId>) -> Option<Vec<PartId>> {
        let circuit = &self.system.circuit;
        let mut joined: UnionFind<usize> = UnionFind::new(circuit.netlist.nodes.len());
        for element in circuit.netlist.elements.iter() {
            joined.union(element.from.position(), element.to.position());
            if let Primitive::ConverterOutput { input, .. } = &element.primitive
                && let Some(input) = circuit.netlist.elements.get(*input)
            {
                joined.union(element.from.position(), input.from.position());
            }
        }
        let reached: BTreeSet<usize> = nodes.iter().map(|node| joined.find(node.position())).collect();
        let reaches = |node: NodeId| reached.contains(&joined.find(node.position()));
        let gives = |id: ElementId| match &circuit.netlist.elements[id].primitive {
            Primitive::Source { emf: Emf::Fixed(_), .. } => true,
            Primitive::Source { emf: Emf::By { control, volts }, .. } => {
                let position = set_up.positions.get(*control).copied().unwrap_or(0);
                volts.get(position).is_none_or(Option::is_some)
            }
            _ => false,
        };
        let mut supplies: Vec<PartId> = Vec::new();
        for (id, element) in circuit.netlist.elements.enumerate() {
            if !gives(id) || !(reaches(element.from) || reaches(element.to)) {
                continue;
            }
            let part = circuit.part_of[id];
            if !circuit.parting_of.get(part).is_some_and(|opens| opens.contains(&id)) {
                return None;
            }
            if !supplies.contains(&part) {
                supplies.push(part);
            }
        }
        Some(supplies)
    }

    /// Whether all supplies are off in a set-up that anything joins to the way of the current.
    pub(super) fn is_off(&self, set_up: &SetUp) -> bool {
        self.is_off_at(set_up, &self.live)
    }

    /// The same of some nodes.
    fn is_off_at(&self, set_up: &SetUp, nodes: &BTreeSet<NodeId>) -> bool {
        if !set_up.taken_out().any(|part| self.system.is_supply(part)) {
            return false;
        }
        let off = |supplies: Vec<PartId>| !supplies.is_empty() && supplies.iter().all(|part| set_up.is_out(*part));
        self.supplies_at(set_up, nodes).is_some_and(off)
    }

    /// The ohms that are asked for in a set-up with all supplies off: between points of the way of the current.
    pub(super) fn ohms_in(&self, set_up: &SetUp) -> Vec<Test> {
        let on_way = |point| self.live.contains(&self.system.node(point));
        let pairs = self.offer.volts.iter().filter(|(red, black)| on_way(*red) && on_way(*black));
        pairs.map(|(red, black)| self.system.ohms(set_up.clone(), [*red, *black])).collect()
    }

    /// Whether ohms are worth working out: that costs little, the others tell next to nothing, or all is off already.
    pub(super) fn is_worth_ohms(&self, others: &[Ranked], set_ups: &[SetUp]) -> bool {
        let best = others.iter().map(|r| r.bits).fold(0.0, f64::max);
        let solves = || in_play(&self.belief, &self.posterior).len() * self.offer.volts.len() * set_ups.len();
        !set_ups.is_empty() && (set_ups.contains(&self.standing().set_up) || best < POOR || solves() <= CHEAP)
    }

    /// The volts that come before ohms, where they were not read yet; else the test itself.
    pub(super) fn dead_first(&self, ranked: Ranked) -> Ranked {
        match self.volts_before(&ranked.test).filter(|_| self.is_dead(&ranked.test).is_none()) {
            Some(test) => Ranked { minutes: minutes(&self.system.install, &self.standing(), &test), test, ..ranked },
            None => ranked,
        }
    }

    fn volts_before(&self, test: &Test) -> Option<Test> {
        let (Probe::Ohms { .. }, Target::Points { red, black }) = (&test.probe, &test.at) else { return None };
        self.system.volts(&self.instruments, test.set_up.clone(), [*red, *black], false)
    }

    /// Whether it was found dead between the probes of ohms since the set-up was entered, or had been live there before; `None`: it
    /// was not looked at.
    pub(super) fn is_dead(&self, test: &Test) -> Option<bool> {
        let Probe::Ohms { red, black } = &test.probe else { return None };
        let between = |probe: &Probe| match probe {
            Probe::Volts { red: r, black: b, .. } => (r, b) == (red, black) || (r, b) == (black, red),
            _ => false,
        };
        let none = |answer: &Answer| match answer {
            Answer::Number { value, .. } => value.abs() < DEAD,
            Answer::Between(low, high) => low.abs().max(high.abs()) < DEAD,
            Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => false,
        };
        let stays = self.taken.iter().rev().take_while(|t| !t.complaint && t.test.set_up == test.set_up).count();
        let read = self.taken.iter().enumerate().rev().filter(|(_, t)| !t.complaint && t.test.set_up == test.set_up);
        let (at, last) = read.into_iter().find(|(_, taken)| between(&taken.test.probe))?;
        // Who has been elsewhere may have put something back.
        if none(&last.answer) { (at + stays >= self.taken.len()).then_some(true) } else { Some(false) }
    }

    /// Whether a reading may be entered: ohms where all supplies are off, and volts between the very points said that it is dead.
    pub fn may_be_read(&self, test: &Test) -> bool {
        let Probe::Ohms { red, black } = test.probe else { return true };
        self.is_off_at(&test.set_up, &BTreeSet::from([red, black])) && self.is_dead(test) == Some(true)
    }

    /// Whether a test is the volts that come before ohms.
    pub fn proves_dead(&self, test: &Test) -> bool {
        matches!(test.probe, Probe::Volts { .. }) && self.instruments.ohmmeter && self.is_off(&test.set_up)
    }
}
