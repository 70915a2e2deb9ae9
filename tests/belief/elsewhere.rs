//! Readings that were taken with a switch elsewhere than said.

use super::NOISE;
use crate::support::SHARES;
use halfsplit::belief::{Answer, Belief, Blunder, Evidence, Observation, Probe, Senses};
use halfsplit::circuit::{
    Control, ControlId, Drive, Effect, Element, ElementId, Emf, Netlist, Node, NodeId, Primitive, SetUp,
};
use halfsplit::index::{Id, IdVec};
use halfsplit::network::{Instrument, Network};
use halfsplit::suspects::{Fault, FaultId, SuspectId, Suspects};
use halfsplit::units::{Ohms, Volts};

const PLUS: usize = 0;
const BEHIND: usize = 1;
const MINUS: usize = 2;
const METER: f64 = 0.02;

/// 12 V, a switch and a load of 6 ohm.
fn switched() -> Netlist {
    let mut netlist = Netlist::default();
    let nodes: Vec<NodeId> = ["plus", "behind", "minus"]
        .into_iter()
        .map(|name| netlist.nodes.push(Node { name: name.to_owned() }))
        .collect();
    let control = Control { name: "S".to_owned(), positions: vec!["off".to_owned(), "on".to_owned()], rest: 0 };
    let control = netlist.controls.push(control);
    let mut add = |name: &str, from: usize, to: usize, primitive| {
        netlist.elements.push(Element { name: name.to_owned(), from: nodes[from], to: nodes[to], primitive })
    };
    let emf = Emf::Fixed(Volts::new(12.0));
    add("supply", PLUS, MINUS, Primitive::Source { emf, internal: Ohms::new(1e-4), limit: None });
    let drive = Drive::Control { control, positions: vec![1] };
    add("S", PLUS, BEHIND, Primitive::Contact { closed: Ohms::new(1e-4), drive });
    add("load", BEHIND, MINUS, Primitive::Resistance { ohms: Ohms::new(6.0) });
    netlist
}

fn stuck_open() -> Effect {
    Effect::Stuck(vec![(ElementId::new(1), false)])
}

fn open_load() -> Effect {
    Effect::Open(vec![ElementId::new(2)])
}

/// The log-likelihoods of 'nothing wrong' and of a fault, the only one that is suspected, and how likely it is that the switch
/// stood elsewhere from the second reading on, or before.
fn weighed(effect: Effect, readings: &[(usize, usize, f64)]) -> (f64, f64, f64) {
    let netlist = switched();
    let network = Network::new(&netlist);
    let [part, mode] = ["part", "mode"].map(str::to_owned);
    let fault = Fault { repair: part.clone(), part, mode, effect, severity: None, weight: 1.0 };
    let faults: IdVec<FaultId, Fault> = [fault].into_iter().collect();
    let suspects = Suspects::singles(faults, SHARES);
    let senses = Senses::default();
    let mut belief = Belief::new(&network, &suspects, &senses, NOISE);
    let observation = |(red, black, value): &(usize, usize, f64)| Observation {
        stay: 0,
        probe: Probe::Volts {
            instrument: Instrument::Voltmeter(Ohms::new(1e7)),
            red: NodeId::new(*red),
            black: NodeId::new(*black),
            unsigned: false,
        },
        answer: Answer::Number { value: *value, sigma: METER },
        blunder: 0.02,
        times: 1,
    };
    let on = SetUp::at_rest(&netlist.controls).with(ControlId::new(0), 1);
    let observations = readings.iter().map(observation).collect();
    let posterior = belief.update(&Evidence { stays: vec![on], observations, ..Evidence::default() });
    let fault = suspects.single("part", "mode").unwrap();
    let late = posterior.doubts.iter().find(|(b, _)| matches!(b, Blunder::SetUp(all) if all.first() == Some(&1)));
    let nothing: SuspectId = suspects.list().ids().next().unwrap();
    (posterior.log_likelihood[nothing], posterior.log_likelihood[fault], late.map_or(0.0, |(_, share)| *share))
}

fn normal(x: f64, sigma: f64) -> f64 {
    (-0.5 * (x / sigma).powi(2)).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt())
}

/// By hand: 12 V at the plus, then no volts behind the switch, all 12 across it, none behind it. Either the switch is stuck open and all is well
/// read, or it stands off: from the beginning (`0.02 * 1/2 * 1/2 * 1/2`), or from the second reading on (the other half of these
/// shared between two moments); of either half the readings of a good circuit with the switch off, three quarters of them
/// with the meter's own spread and a tenth, one quarter anything over 30 V.
#[test]
fn readings_behind_a_switch_that_was_left_off_are_weighed_as_by_hand() {
    let readings = [(PLUS, MINUS, 12.0), (BEHIND, MINUS, 0.0), (PLUS, BEHIND, 12.0), (BEHIND, MINUS, 0.0)];
    let (well, stuck, _) = weighed(stuck_open(), &readings);
    let own = METER.hypot(NOISE.model_floor);
    let off = |volts: f64| 0.75 * normal(0.0, own.hypot(0.1 * volts)) + 0.25 / 30.0;
    let others = off(0.0) * off(12.0) * off(0.0);
    let lasting = 0.02 * 0.5 * 0.5;
    let from_the_second = 0.5 * lasting / 2.0 * 0.5 * normal(0.0, own) * others;
    let from_the_first = 0.5 * lasting * 0.5 * off(12.0) * others;
    let by_hand = ((from_the_second + from_the_first) / normal(0.0, own).powi(4)).ln();
    assert!((well - stuck - by_hand).abs() < 0.1, "{} by hand {by_hand}", well - stuck);
    // Where nothing else explains them, that is what is named.
    let (.., late) = weighed(open_load(), &readings);
    assert!(late > 0.95, "{late}");
}

/// Where the readings are none of another set-up's, nothing is gained by it.
#[test]
fn readings_of_no_other_set_up_are_not_taken_for_such() {
    let readings = [(PLUS, MINUS, 12.0), (BEHIND, MINUS, 5.0), (PLUS, BEHIND, 3.0), (BEHIND, MINUS, 7.0)];
    let (well, open, late) = weighed(open_load(), &readings);
    assert!(late < 0.05 && (well - open).abs() < 5.0, "{well} {open} {late}");
}
