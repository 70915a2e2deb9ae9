//! Suspects that change nothing: where no current flows an open circuit tells nothing, where there is no voltage a leak does not.
//!
//! A suspect all of whose edits touch only currentless branches and voltageless pairs of the healthy circuit, in every state on
//! the way into every set-up so far, leaves all currents and all driven voltages as they are. It predicts what the healthy
//! circuit predicts, except at points that hang on such a branch: an observation there wakes it.
//!
//! What an instrument that draws a current may change lies on a way through it and a source: `Network::around` tells which elements
//! that are in a large circuit. All else hangs on these by one node, and a leak between what hangs on one and the same node carries nothing.
//!
//! Two points that good conductors join do not hang on any one branch but those of a single way between them: whatever else is
//! opened, the way is left, and nothing flows that was not flowing before.

use super::{Evidence, Probe};
use crate::circuit::{Edit, ElementId, Netlist, NodeId, Primitive, SetUp};
use crate::index::{Id, IdVec};
use crate::network::{Alike, ElementState, Instrument, Network, Operating};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// Currents below this are none, in amps: far above what a meter of megohms draws times the currents' own rounding.
const NO_AMPS: f64 = 1e-6;
/// Voltages below this are none, in volts.
const NO_VOLTS: f64 = 1e-4;

/// The healthy circuit's states on the way into each set-up of a job.
#[derive(Default)]
pub(super) struct Healthy<'n> {
    /// Every set-up that was ever entered: what is taken back may come again.
    kept: Vec<Entered<'n>>,
    /// Which of them the evidence has.
    stays: Vec<usize>,
    /// The elements at each node, listed when first asked for.
    at: Option<IdVec<NodeId, Vec<ElementId>>>,
}

/// A set-up, the states on the way into it, and the surroundings there of each point that was probed.
struct Entered<'n> {
    set_up: SetUp,
    states: Vec<Operating<'n>>,
    near: Vec<(Probe, Rc<Near>)>,
}

impl<'n> Healthy<'n> {
    /// Goes into the set-ups of the evidence, each once, and into no others.
    pub(super) fn follow(&mut self, network: &Network<'n>, evidence: &Evidence) {
        self.stays.clear();
        for stay in &evidence.stays {
            let known = self.kept.iter().position(|entered| entered.set_up == *stay);
            let place = known.unwrap_or_else(|| {
                let states = on_the_way(network, stay);
                self.kept.push(Entered { set_up: stay.clone(), states, near: Vec::new() });
                self.kept.len() - 1
            });
            if !self.stays.contains(&place) {
                self.stays.push(place);
            }
        }
    }

    fn states(&self) -> impl Iterator<Item = &Operating<'n>> {
        self.stays.iter().flat_map(|stay| &self.kept[*stay].states)
    }

    /// Whether these edits change nothing in any of the states.
    pub(super) fn is_inert(&self, edits: &[Edit]) -> bool {
        self.states().next().is_some()
            && self.states().all(|state| state.chatter().is_empty() && edits.iter().all(|e| changes_nothing(e, state)))
    }

    /// The surroundings of a probe: what a suspect that changes nothing has to touch if it is to change the reading, in any of
    /// the states.
    pub(super) fn near(&mut self, network: &Network<'n>, probe: &Probe) -> Vec<Rc<Near>> {
        let at = self.at.get_or_insert_with(|| listed(network.netlist()));
        let mut list = Vec::new();
        for stay in &self.stays {
            let Entered { states, near, .. } = &mut self.kept[*stay];
            let known = near.iter().find(|(p, _)| p == probe).map(|(_, near)| Rc::clone(near));
            list.push(known.unwrap_or_else(|| {
                let made = Rc::new(Near::new(network, at, states, probe));
                near.push((probe.clone(), Rc::clone(&made)));
                made
            }));
        }
        list
    }
}

/// The elements at each node.
fn listed(netlist: &Netlist) -> IdVec<NodeId, Vec<ElementId>> {
    let mut at: IdVec<NodeId, Vec<ElementId>> = netlist.nodes.iter().map(|_| Vec::new()).collect();
    for (id, element) in netlist.elements.enumerate() {
        at[element.from].push(id);
        at[element.to].push(id);
    }
    at
}

/// What hangs together with some nodes through branches that carry less than this many amps and are not open.
fn hanging(
    netlist: &Netlist,
    at: &IdVec<NodeId, Vec<ElementId>>,
    state: &Operating<'_>,
    from: &[NodeId],
    amps: f64,
) -> Near {
    let mut near = Near { nodes: from.iter().copied().collect(), ..Near::default() };
    let mut walk = from.to_vec();
    while let Some(node) = walk.pop() {
        for &id in &at[node] {
            if state.current(id).get().abs() >= amps {
                continue;
            }
            let element = &netlist.elements[id];
            near.elements.insert(id.position());
            // An open contact or a part that blocks ends the walk.
            if state.voltage(element.from, element.to).is_none() {
                continue;
            }
            let open = matches!(state.state(id), ElementState::Contact(false) | ElementState::Fuse(false));
            let other = if element.from == node { element.to } else { element.from };
            if !open && near.nodes.insert(other) {
                walk.push(other);
            }
        }
    }
    near
}

/// The surroundings of a probe.
#[derive(Default)]
pub(super) struct Near {
    nodes: BTreeSet<NodeId>,
    elements: BTreeSet<usize>,
    /// Where all hangs that an instrument which draws a current does not reach.
    around: Vec<Alike>,
}

impl Near {
    fn new<'n>(
        network: &Network<'n>,
        at: &IdVec<NodeId, Vec<ElementId>>,
        states: &[Operating<'n>],
        probe: &Probe,
    ) -> Self {
        let netlist = network.netlist();
        let mut near = Self::default();
        let (Probe::Volts { red, black, .. } | Probe::Light { red, black, .. } | Probe::Ohms { red, black }) = probe
        else {
            return near;
        };
        let (red, black) = (*red, *black);
        let is_meter = matches!(probe, Probe::Volts { instrument: Instrument::Voltmeter(_), .. });
        for state in states {
            // A meter between points that good conductors join goes on reading the same as long as one way of them is left.
            if let Some(way) = is_meter.then(|| state.good_way(red, black)).flatten() {
                near.elements.extend(way.into_iter().map(Id::position));
            } else if is_meter && state.floats(red, black) {
                // On an open line nothing is read until a way leads from the one side to the other, and it has to leave both.
                let [one, other] = [red, black].map(|side| hanging(netlist, at, state, &[side], f64::INFINITY));
                near.extend(if one.nodes.len() <= other.nodes.len() { one } else { other });
            } else if let Some(around) = network.around(state, red, black) {
                near.elements.extend(around.elements().map(Id::position));
                near.around.push(around);
            } else {
                near.extend(hanging(netlist, at, state, &[red, black], NO_AMPS));
            }
        }
        near
    }

    fn extend(&mut self, other: Self) {
        self.nodes.extend(other.nodes);
        self.elements.extend(other.elements);
        self.around.extend(other.around);
    }

    /// Whether any of the edits is made there.
    pub(super) fn touches(&self, edits: &[Edit]) -> bool {
        edits.iter().any(|edit| match edit {
            Edit::Open(e) | Edit::Replace(e, _) | Edit::Series(e, _) | Edit::Stuck(e, _) => {
                self.elements.contains(&e.position())
            }
            Edit::Bridge(a, b, _) => {
                let apart = |around: &Alike| around.of(*a) != around.of(*b);
                self.nodes.contains(a) || self.nodes.contains(b) || self.around.iter().any(apart)
            }
            Edit::Move { .. } => true,
        })
    }
}

/// The states with the controls moved one after the other, from rest to the set-up.
fn on_the_way<'n>(network: &Network<'n>, stay: &SetUp) -> Vec<Operating<'n>> {
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
    states.flatten().map(|branch| branch.state).collect()
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
