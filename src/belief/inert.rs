//! Suspects that change nothing: where no current flows an open circuit tells nothing, where there is no voltage a leak does not.
//!
//! A suspect all of whose edits touch only currentless branches and voltageless pairs of the healthy circuit, in every state on
//! the way into every set-up so far, leaves all currents and all driven voltages as they are. It predicts what the healthy
//! circuit predicts, except at points that hang on such a branch: an observation there wakes it.

use super::{Evidence, Probe};
use crate::circuit::{Edit, NodeId, Primitive, SetUp};
use crate::index::{Id, IdVec};
use crate::network::{ElementState, Network, Operating};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// Currents below this are none, in amps: far above what a meter of megohms draws times the currents' own rounding.
const NO_AMPS: f64 = 1e-6;
/// Voltages below this are none, in volts.
const NO_VOLTS: f64 = 1e-4;

/// The healthy circuit's states on the way into each set-up of a job.
#[derive(Default)]
pub(super) struct Healthy<'n> {
    stays: Vec<SetUp>,
    states: Vec<Rc<Operating<'n>>>,
    /// Those of every set-up that was ever entered: what is taken back may come again.
    kept: Vec<(SetUp, Vec<Rc<Operating<'n>>>)>,
}

impl<'n> Healthy<'n> {
    /// Goes into the set-ups of the evidence, each once, and into no others.
    pub(super) fn follow(&mut self, network: &Network<'n>, evidence: &Evidence) {
        self.stays.clear();
        self.states.clear();
        for stay in &evidence.stays {
            if self.stays.contains(stay) {
                continue;
            }
            if !self.kept.iter().any(|(known, _)| known == stay) {
                self.kept.push((stay.clone(), on_the_way(network, stay)));
            }
            let known = self.kept.iter().find(|(known, _)| known == stay);
            self.states.extend(known.iter().flat_map(|(_, states)| states).map(Rc::clone));
            self.stays.push(stay.clone());
        }
    }

    /// Whether these edits change nothing in any of the states.
    pub(super) fn is_inert(&self, edits: &[Edit]) -> bool {
        !self.states.is_empty()
            && self
                .states
                .iter()
                .all(|state| state.chatter().is_empty() && edits.iter().all(|e| changes_nothing(e, state)))
    }

    /// What hangs together with the points of a probe through currentless branches, in any of the states.
    pub(super) fn near(&self, network: &Network<'n>, probe: &Probe) -> Near {
        let (red, black) = match probe {
            Probe::Volts { red, black, .. } | Probe::Light { red, black, .. } => (*red, *black),
            Probe::Amps { .. } | Probe::Look(_) => return Near::default(),
        };
        let mut near = Near::default();
        for state in &self.states {
            let mut at: IdVec<NodeId, Vec<crate::circuit::ElementId>> =
                network.netlist().nodes.iter().map(|_| Vec::new()).collect();
            for (id, element) in network.netlist().elements.enumerate() {
                if state.current(id).get().abs() < NO_AMPS {
                    at[element.from].push(id);
                    at[element.to].push(id);
                }
            }
            let mut seen: BTreeSet<NodeId> = BTreeSet::from([red, black]);
            let mut walk = vec![red, black];
            while let Some(node) = walk.pop() {
                for &id in &at[node] {
                    let element = &network.netlist().elements[id];
                    near.elements.insert(id.position());
                    // An open contact or a part that blocks ends the walk.
                    if state.voltage(element.from, element.to).is_none() {
                        continue;
                    }
                    let open = matches!(state.state(id), ElementState::Contact(false) | ElementState::Fuse(false));
                    let other = if element.from == node { element.to } else { element.from };
                    if !open && seen.insert(other) {
                        walk.push(other);
                    }
                }
            }
            near.nodes.extend(seen);
        }
        near
    }
}

/// The surroundings of a probe.
#[derive(Debug, Default)]
pub(super) struct Near {
    nodes: BTreeSet<NodeId>,
    elements: BTreeSet<usize>,
}

impl Near {
    /// Whether any of the edits is made there.
    pub(super) fn touches(&self, edits: &[Edit]) -> bool {
        edits.iter().any(|edit| match edit {
            Edit::Open(e) | Edit::Replace(e, _) | Edit::Series(e, _) | Edit::Stuck(e, _) => {
                self.elements.contains(&e.position())
            }
            Edit::Bridge(a, b, _) => self.nodes.contains(a) || self.nodes.contains(b),
            Edit::Move { .. } => true,
        })
    }
}

/// The states with the controls moved one after the other, from rest to the set-up.
fn on_the_way<'n>(network: &Network<'n>, stay: &SetUp) -> Vec<Rc<Operating<'n>>> {
    let mut set_up = SetUp::at_rest(&network.netlist().controls);
    set_up.interventions.clone_from(&stay.interventions);
    let mut list = vec![set_up.clone()];
    let controls: BTreeMap<_, _> = network.netlist().controls.ids().zip(stay.positions.iter()).collect();
    for (control, position) in controls {
        if set_up.positions.get(control) != Some(position) {
            set_up = set_up.with(control, *position);
            list.push(set_up.clone());
        }
    }
    let states = list.iter().filter_map(|s| network.enter(&[], &network.fresh(), s).ok());
    states.flatten().map(|branch| Rc::new(branch.state)).collect()
}

fn changes_nothing(edit: &Edit, state: &Operating<'_>) -> bool {
    match edit {
        Edit::Open(e) => state.current(*e).get().abs() < NO_AMPS,
        Edit::Series(e, ohms) => {
            let amps = state.current(*e).get().abs();
            amps < NO_AMPS || amps * ohms.get() < NO_VOLTS
        }
        Edit::Bridge(a, b, _) => state.voltage(*a, *b).is_none_or(|v| v.get().abs() < NO_VOLTS),
        Edit::Stuck(e, closed) => state.state(*e) == ElementState::Contact(*closed),
        Edit::Replace(e, by) => {
            let dead = state.current(*e).get().abs() < NO_AMPS && state.drop(*e).get().abs() < NO_VOLTS;
            dead && is_passive(by)
        }
        Edit::Move { .. } => false,
    }
}

fn is_passive(primitive: &Primitive) -> bool {
    match primitive {
        Primitive::Resistance { .. }
        | Primitive::Filament { .. }
        | Primitive::Motor { .. }
        | Primitive::Power { .. }
        | Primitive::Fuse { .. }
        | Primitive::Coil { .. }
        | Primitive::Diode { .. } => true,
        Primitive::Source { .. }
        | Primitive::Contact { .. }
        | Primitive::ElectronicSwitch { .. }
        | Primitive::ConverterInput { .. }
        | Primitive::ConverterOutput { .. } => false,
    }
}
