//! What is offered to be read: the points that a voltmeter is put to, and how far a reading there strays when all is well.

use super::scene::Scene;
use super::trial::Trial;
use crate::belief::Probe;
use crate::bench::{Draws, Hidden, MockUp};
use crate::choice::{Instruments, Offer, Removable, Target, Test};
use crate::circuit::{Circuit, NodeId, SetUp};
use crate::install::{PartId, PointId};
use crate::job::{System, meter_sigma};
use crate::network::Network;
use fastrand::Rng;
use std::collections::{BTreeMap, BTreeSet};

/// Healthy systems that are drawn for the spread of a reading.
const DRAWS: usize = 24;
/// A reading that moves by more than this many standard deviations has moved.
const SIGMAS: f64 = 5.0;

/// The tests that are offered beside looks. `None` where the healthy circuit cannot be solved.
pub(super) fn offer(system: &System) -> Option<Offer> {
    offer_in(system, &SetUp::at_rest(&system.circuit.netlist.controls), Vec::new(), &[])
}

/// The tests that are offered when current flows as in a set-up, at a complaint about `what`.
fn offer_in(system: &System, usual: &SetUp, looks: Vec<(PartId, usize)>, what: &[PartId]) -> Option<Offer> {
    let network = Network::new(&system.circuit.netlist);
    let healthy = network.enter(&[], &network.fresh(), usual).ok()?.into_iter().next()?;
    let mut offer = Offer::new(&system.install, |point| system.node(point), looks, &healthy.state, system.reference);
    offer.amps = system.clamps(what, |element| healthy.state.current(element).get());
    Some(offer)
}

/// How many tests the jobs of some trials had on offer, and those that none of them asked for. A test is the same in every
/// set-up.
pub(super) fn never_useful(system: &System, instruments: &Instruments, trials: &[Trial]) -> (usize, Vec<Test>) {
    let mut usual: Vec<(&SetUp, &[PartId])> = Vec::new();
    for complaint in trials.iter().map(|trial| &trial.complaint) {
        let one = (&complaint.usual, complaint.what.as_slice());
        if !usual.contains(&one) {
            usual.push(one);
        }
    }
    let mut offered: BTreeMap<Key, Test> = BTreeMap::new();
    for (set_up, what) in usual {
        let looks = system.looks().into_iter().chain(system.inspections()).collect();
        let mut offer = offer_in(system, set_up, looks, what).unwrap_or_default();
        offer.removable = Removable::list(&system.install, &system.circuit, what);
        // What is measured in the place of a part that is taken out comes to the rest.
        let out = offer.removable.iter().map(|removable| system.circuit.out_of(set_up, removable.part));
        for set_up in std::iter::once(set_up.clone()).chain(out) {
            for test in offer.tests(&set_up, instruments, |point| system.node(point)) {
                offered.entry(key(&test)).or_insert(test);
            }
        }
    }
    let count = offered.len();
    for taken in trials.iter().flat_map(|trial| &trial.taken) {
        offered.remove(&key(&taken.test));
    }
    (count, offered.into_values().collect())
}

/// What makes a test the same: whether a lamp is used, and the points; or what is looked at; or the end that a clamp goes around.
type Key = (bool, Option<usize>, Option<(PointId, PointId)>, Option<PartId>);

fn key(test: &Test) -> Key {
    let sight = if let Probe::Look(sight) = test.probe { Some(sight) } else { None };
    let (points, end) = match test.at {
        Target::Points { red, black } => (Some((red, black)), None),
        Target::Part(part) => (None, matches!(test.probe, Probe::Amps { .. }).then_some(part)),
    };
    (matches!(test.probe, Probe::Light { .. }), sight, points, end)
}

/// The nodes that a voltmeter is offered at. Empty where the healthy circuit cannot be solved.
pub(super) fn nodes(system: &System) -> BTreeSet<NodeId> {
    let Some(offer) = offer(system) else { return BTreeSet::new() };
    let node_of = |point| system.node(point);
    offer.volts.iter().flat_map(|(red, black)| [node_of(*red), node_of(*black)]).collect()
}

/// What is read against the minus of the supply when all is well, at rest and with one control moved.
pub(super) struct Readings {
    minus: NodeId,
    nodes: Vec<NodeId>,
    set_ups: Vec<(SetUp, Vec<Reading>)>,
}

/// Volts of the nominal system, and their standard deviation from part to part, supply to supply and meter to meter.
struct Reading {
    volts: f64,
    sigma: f64,
}

impl Readings {
    /// The spread of a reading is `sqrt(parts^2 + (own v)^2 + meter^2)`: parts, the standard deviation over healthy systems
    /// whose parts are drawn (their supply at its nominal volts, since that is measured first); own, the wander of a supply
    /// between set-ups; meter, that of a common meter.
    pub(super) fn new(scene: &Scene<'_>, system: &System) -> Self {
        let circuit = &system.circuit;
        let nodes: Vec<NodeId> = nodes(system).into_iter().collect();
        let minus = system.node(system.reference);
        let rest = SetUp::at_rest(&circuit.netlist.controls);
        let moved = |s: &SetUp| s.positions.iter().zip(rest.positions.iter()).filter(|(a, b)| a != b).count();
        let mut rng = Rng::with_seed(scene.plan.seed);
        let draws: Vec<Draws> =
            (0..DRAWS).map(|_| Draws::of_parts(circuit, scene.install.nominal, 1.0, &mut rng)).collect();
        let own = scene.install.knowledge.tolerances.supply_own;
        let of = |set_up: &SetUp| {
            let volts = |draws: &Draws| read(scene, circuit, &Hidden::nothing(), draws, set_up, (&nodes, minus));
            let nominal = volts(&Draws::none());
            let drawn: Vec<Vec<f64>> = draws.iter().map(volts).collect();
            let one = |(k, volts): (usize, &f64)| {
                let at = || drawn.iter().filter_map(|all| all.get(k));
                let mean = at().sum::<f64>() / DRAWS as f64;
                let parts = at().map(|v| (v - mean).powi(2)).sum::<f64>() / (DRAWS - 1) as f64;
                let sigma = (parts + (own * volts).powi(2) + meter_sigma(*volts).powi(2)).sqrt();
                Reading { volts: *volts, sigma }
            };
            (set_up.clone(), nominal.iter().enumerate().map(one).collect())
        };
        let set_ups = scene.uses.set_ups().filter(|s| moved(s) <= 1).map(of).collect();
        Self { minus, nodes, set_ups }
    }

    /// Whether what is hidden moves any reading by more than five standard deviations, all else nominal.
    pub(super) fn moved_by(&self, scene: &Scene<'_>, circuit: &Circuit, hidden: &Hidden) -> bool {
        self.set_ups.iter().any(|(set_up, well)| {
            let now = read(scene, circuit, hidden, &Draws::none(), set_up, (&self.nodes, self.minus));
            now.iter().zip(well).any(|(now, well)| (now - well.volts).abs() > SIGMAS * well.sigma)
        })
    }
}

/// Volts of some nodes in a set-up; an open line shows nothing. Empty where there is no state.
fn read(
    scene: &Scene<'_>,
    circuit: &Circuit,
    hidden: &Hidden,
    draws: &Draws,
    set_up: &SetUp,
    (nodes, minus): (&[NodeId], NodeId),
) -> Vec<f64> {
    let mut mock_up: MockUp<'_> = scene.mock_up(circuit, hidden, draws);
    if mock_up.enter(set_up).is_err() {
        return Vec::new();
    }
    nodes.iter().map(|node| mock_up.volts(*node, minus).ok().flatten().unwrap_or(0.0)).collect()
}
