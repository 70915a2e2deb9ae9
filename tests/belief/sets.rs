//! Several faults at once: against calculations by hand and against minimal hitting sets.

use super::{NOISE, evidence, faults, reading, ring, with};
use crate::support::SHARES;
use halfsplit::belief::{Belief, Limits, Observation, Repair, Senses, Verdict};
use halfsplit::circuit::{Effect, Element, ElementId, Emf, Netlist, Node, NodeId, Primitive};
use halfsplit::index::{Id, IdVec};
use halfsplit::network::Network;
use halfsplit::suspects::{Fault, FaultId, GroupId, Suspects};
use halfsplit::units::{Ohms, Volts};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

fn group(belief: &Belief<'_>, part: &str, mode: &str) -> GroupId {
    belief.suspects().list()[belief.suspects().single(part, mode).expect("it is suspected")].group
}

/// 2 ohm before and 4 ohm behind a load of 6 ohm: 12 V in 12 ohm is 1 A, so 10 V stand before the load and 4 V behind it
/// (Ohm's law). No single fault leaves both.
#[test]
fn two_corroded_joints_are_both_found() {
    with(|netlist, belief| {
        let all = vec![
            reading(netlist, 0, 3, 12.0),
            reading(netlist, 1, 3, 10.0),
            reading(netlist, 2, 3, 4.0),
            reading(netlist, 0, 1, 2.0),
            reading(netlist, 1, 2, 6.0),
            reading(netlist, 0, 2, 8.0),
        ];
        let mut evidence = evidence(netlist, all);
        // A second stay: of two faults each wants a second opinion.
        evidence.stays.push(evidence.stays[0].clone());
        let again: Vec<_> = evidence.observations.iter().map(|o| Observation { stay: 1, ..o.clone() }).collect();
        evidence.observations.extend(again);
        let posterior = belief.update(&evidence);
        let both = [group(belief, "feed joint", "corroded"), group(belief, "earth joint", "corroded")];
        let Verdict::Found(found) = belief.verdict(&posterior, &evidence, false, &Limits::default(), 1) else {
            panic!("{:?}", posterior.sets)
        };
        assert_eq!(found.iter().collect::<BTreeSet<_>>(), both.iter().collect(), "{:?}", posterior.sets);
        assert!(posterior.just(&both) > 0.99, "{}", posterior.just(&both));
    });
}

/// The likelihood of two soft faults by a fine sum over both severities (Ohm's law, 600 by 600 points) agrees with the engine's, which
/// spreads one over its range and holds the other at sizes far apart: what lies between two sizes is one unknown that all readings
/// share. As a spread of each reading's own it was short by a factor of fifteen for six readings.
#[test]
fn two_severities_are_integrated() {
    with(|netlist, belief| {
        let readings = [(0, 3, 12.0), (1, 3, 9.61), (2, 3, 4.43), (0, 1, 2.4), (1, 2, 5.16), (0, 2, 7.6)];
        let all = readings.map(|(red, black, volts)| reading(netlist, red, black, volts)).to_vec();
        let posterior = belief.update(&evidence(netlist, all));
        let faults = ["feed joint", "earth joint"].map(|part| {
            let single = belief.suspects().single(part, "corroded").expect("it is suspected");
            belief.suspects().list()[single].faults[0]
        });
        let (mut engine, mut shares) = (0.0, 0.0);
        for (id, set) in belief.suspects().list().enumerate().filter(|(_, set)| set.faults == faults) {
            engine += set.prior * posterior.log_likelihood[id].exp();
            shares += set.prior;
        }
        assert!(shares > 0.0, "the pair was looked at");
        let n = 600;
        let at = |i: i32| 0.1 * 1000_f64.powf((f64::from(i) + 0.5) / f64::from(n));
        let sigma = 0.02_f64.hypot(0.05);
        let mut sum = 0.0;
        for (a, b) in (0..n).flat_map(|a| (0..n).map(move |b| (at(a), at(b)))) {
            let amps = 12.0 / (0.01 + 0.03 + a + 6.0 + 0.03 + b);
            let (feed, earth) = (12.0 - amps * (0.01 + 0.03 + a), amps * (0.03 + b));
            let nodes = [12.0 - amps * 0.01, feed, earth, 0.0];
            let log: f64 = readings
                .iter()
                .map(|(red, black, volts)| {
                    let z: f64 = (volts - (nodes[*red] - nodes[*black])) / sigma;
                    -0.5 * z * z - (sigma * (2.0 * std::f64::consts::PI).sqrt()).ln()
                })
                .sum();
            sum += log.exp();
        }
        let by_hand = sum / f64::from(n * n) * belief.suspects().prior_of(&faults);
        let ratio = engine / by_hand;
        assert!((0.5..2.0).contains(&ratio), "{ratio}");
    });
}

/// One joint is enough for these readings: no second one is invented.
#[test]
fn what_one_fault_explains_is_one_fault() {
    with(|netlist, belief| {
        let all = vec![reading(netlist, 0, 3, 12.0), reading(netlist, 1, 3, 6.0), reading(netlist, 2, 3, 0.0)];
        let posterior = belief.update(&evidence(netlist, all));
        assert!(posterior.sets.iter().all(|(set, share)| set.len() < 2 || *share < 1e-3), "{:?}", posterior.sets);
    });
}

/// An open feed hides the earth joint: nothing is read anywhere. Once it is repaired, 6 V on either side of the load (12 V over
/// twice 6 ohm) can only be the joint, and the repaired feed is not named again.
#[test]
fn what_was_repaired_is_not_named_again() {
    with(|netlist, belief| {
        let mut job = evidence(netlist, vec![reading(netlist, 0, 3, 12.0), reading(netlist, 1, 3, 0.0)]);
        let posterior = belief.update(&job);
        let feed = group(belief, "feed joint", "open");
        assert!(posterior.share(feed) > 0.9, "{:?}", posterior.groups);
        let cured = belief.suspects().single("feed joint", "open").expect("it is suspected");
        job.repairs.push(Repair { before: 1, faults: belief.suspects().list()[cured].faults.clone() });
        job.stays.push(job.stays[0].clone());
        for mut later in [reading(netlist, 1, 3, 12.0), reading(netlist, 2, 3, 6.0), reading(netlist, 1, 2, 6.0)] {
            later.stay = 1;
            job.observations.push(later);
        }
        let posterior = belief.update(&job);
        let earth = group(belief, "earth joint", "corroded");
        assert!(posterior.share(earth) > 0.99, "{:?}", posterior.groups);
        assert!(posterior.share(feed) < 0.01, "{:?}", posterior.groups);
        // Whatever was looked at in between leaves no trace.
        let netlist = ring();
        let network = Network::new(&netlist);
        let suspects = Suspects::singles(faults(), SHARES);
        let senses = Senses::default();
        let fresh = Belief::new(&network, &suspects, &senses, NOISE).update(&job);
        for (a, b) in posterior.sets.iter().zip(&fresh.sets) {
            assert!((a.1 - b.1).abs() < 1e-6, "{a:?} {b:?}");
        }
    });
}

/// A repair that was no good leaves everything as it was: the fault is still there, however sure one was of it.
#[test]
fn a_repair_that_was_no_good_is_seen() {
    with(|netlist, belief| {
        let readings = [(0, 3, 12.0), (1, 3, 6.0), (2, 3, 0.0)];
        let mut job = evidence(netlist, readings.map(|(r, b, v)| reading(netlist, r, b, v)).to_vec());
        belief.update(&job);
        let corroded = belief.suspects().single("feed joint", "corroded").expect("it is suspected");
        job.repairs.push(Repair { before: 1, faults: belief.suspects().list()[corroded].faults.clone() });
        job.stays.push(job.stays[0].clone());
        for (red, black, volts) in readings {
            let mut again = reading(netlist, red, black, volts);
            again.stay = 1;
            job.observations.push(again);
        }
        let posterior = belief.update(&job);
        let feed = group(belief, "feed joint", "corroded");
        assert!(posterior.share(feed) > 0.95, "{:?}", posterior.groups);
    });
}

/// Trees of fuses and joints of which several are open: the likeliest sets are the minimal hitting sets that python-sat
/// enumerates (`tests/reference/hitting_sets.py`), all of them and no others.
#[test]
fn the_likeliest_sets_are_the_minimal_hitting_sets() {
    let stored: Value = serde_json::from_str(include_str!("../reference/hitting_sets.json")).expect("it is JSON");
    let cases = stored["cases"].as_array().expect("a list");
    assert!(cases.len() >= 10);
    for case in cases {
        let (netlist, parts, ends) = tree(case);
        let network = Network::new(&netlist);
        let of = |(i, part): (usize, &String)| Fault {
            part: part.clone(),
            mode: "open".to_owned(),
            effect: Effect::Open(vec![ElementId::new(i + 1)]),
            severity: None,
            weight: 1.0,
            repair: part.clone(),
        };
        let all: IdVec<FaultId, Fault> = parts.iter().enumerate().map(of).collect();
        let suspects = Suspects::singles(all, SHARES);
        let senses = Senses::default();
        let mut belief = Belief::new(&network, &suspects, &senses, NOISE);
        let volts = |live: &Value| if live.as_bool() == Some(true) { 12.0 } else { 0.0 };
        let live = case["live"].as_array().expect("a list");
        let readings = ends.iter().zip(live).map(|(end, live)| reading(&netlist, *end, 1, volts(live)));
        let posterior = belief.update(&evidence(&netlist, readings.collect()));
        let best = posterior.probability.iter().copied().fold(0.0, f64::max);
        let name = |f: &FaultId| belief.suspects().faults()[*f].part.clone();
        // All have the same prior; larger sets and wrong readings are rarer by far.
        let found: BTreeSet<Vec<String>> = (belief.suspects().list().enumerate())
            .filter(|(id, _)| posterior.probability[*id] > 0.3 * best)
            .map(|(_, suspect)| suspect.faults.iter().map(name).collect::<BTreeSet<_>>().into_iter().collect())
            .collect();
        let expected: BTreeSet<Vec<String>> = serde_json::from_value(case["candidates"].clone()).expect("names");
        assert_eq!(found, expected, "{case}");
    }
}

/// The circuit of a case: the names of its parts in the order of the elements after the supply, and the node at each branch's
/// end, which a load of 100 ohm joins to the minus.
fn tree(case: &Value) -> (Netlist, Vec<String>, Vec<usize>) {
    let mut netlist = Netlist::default();
    let plus = netlist.nodes.push(Node { name: "plus".to_owned() });
    let minus = netlist.nodes.push(Node { name: "minus".to_owned() });
    let emf = Emf::Fixed(Volts::new(12.0));
    let supply = Primitive::Source { emf, internal: Ohms::new(0.01), limit: None };
    netlist.elements.push(Element { name: "supply".to_owned(), from: plus, to: minus, primitive: supply });
    let mut ends: BTreeMap<usize, NodeId> = BTreeMap::new();
    let mut parts = Vec::new();
    let ohms = |r| Primitive::Resistance { ohms: Ohms::new(r) };
    for (number, branch) in case["branches"].as_array().expect("a list").iter().enumerate() {
        let mut at = branch["after"].as_u64().map_or(plus, |n| ends[&usize::try_from(n).expect("a few")]);
        for part in branch["parts"].as_array().expect("a list") {
            let name = part.as_str().expect("a name").to_owned();
            let next = netlist.nodes.push(Node { name: format!("behind {name}") });
            netlist.elements.push(Element { name: name.clone(), from: at, to: next, primitive: ohms(0.01) });
            parts.push(name);
            at = next;
        }
        ends.insert(number, at);
    }
    for (number, end) in &ends {
        let load = Element { name: format!("load {number}"), from: *end, to: minus, primitive: ohms(100.0) };
        netlist.elements.push(load);
    }
    (netlist, parts, ends.values().map(|n| n.position()).collect())
}
