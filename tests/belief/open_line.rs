//! A line that nothing drives: several readings of 0 V on it are one piece of evidence, not several.

use super::NOISE;
use crate::support::SHARES;
use halfsplit::belief::{Answer, Belief, Evidence, Noise, Observation, Probe, Senses};
use halfsplit::circuit::{Effect, Element, ElementId, Emf, Netlist, Node, NodeId, Primitive, SetUp};
use halfsplit::index::{Id, IdVec};
use halfsplit::network::{Instrument, Network};
use halfsplit::suspects::{Fault, FaultId, Shares, Suspects};
use halfsplit::units::{Ohms, Volts};

const SIGMA: f64 = 0.02;
const LEAKY: Noise = Noise { leaky: 0.1, lasting: 0.0, ..NOISE };

/// 12 V, and a wire of 10 mohm from its plus to a tip that goes nowhere.
fn stub() -> Netlist {
    let mut netlist = Netlist::default();
    for name in ["plus", "tip", "minus"] {
        netlist.nodes.push(Node { name: name.to_owned() });
    }
    let emf = Emf::Fixed(Volts::new(12.0));
    let supply = Primitive::Source { emf, internal: Ohms::new(0.01), limit: None };
    let wire = Primitive::Resistance { ohms: Ohms::new(0.01) };
    for (name, from, to, primitive) in [("supply", 0, 2, supply), ("wire", 0, 1, wire)] {
        let (from, to) = (NodeId::new(from), NodeId::new(to));
        netlist.elements.push(Element { name: name.to_owned(), from, to, primitive });
    }
    netlist
}

/// Log-likelihood of the open wire when its tip was read at these volts, no reading being a blunder.
fn log_likelihood(read: &[f64]) -> f64 {
    let netlist = stub();
    let fault = Fault {
        part: "wire".to_owned(),
        mode: "open".to_owned(),
        effect: Effect::Open(vec![ElementId::new(1)]),
        severity: None,
        weight: 1.0,
        repair: "wire".to_owned(),
    };
    let faults: IdVec<FaultId, Fault> = [fault].into_iter().collect();
    let suspects = Suspects::singles(faults, Shares { another: 0.0, ..SHARES });
    let observation = |value: &f64| Observation {
        stay: 0,
        probe: Probe::Volts {
            instrument: Instrument::Voltmeter(Ohms::new(1e7)),
            red: NodeId::new(1),
            black: NodeId::new(2),
            unsigned: false,
        },
        answer: Answer::Number { value: *value, sigma: SIGMA },
        blunder: 0.0,
        times: 1,
    };
    let observations = read.iter().map(observation).collect();
    let evidence = Evidence { stays: vec![SetUp::at_rest(&netlist.controls)], observations, ..Evidence::default() };
    let network = Network::new(&netlist);
    let senses = Senses::default();
    let posterior = Belief::new(&network, &suspects, &senses, LEAKY).update(&evidence);
    posterior.log_likelihood[suspects.single("wire", "open").unwrap()]
}

/// With `s` what a meter strays by on a quiet line and `w` on a leaky one: `(1 - l) prod N(v; 0, s) + l prod N(v; 0, w)`, the
/// mixture taken once for all readings of the job (law of total probability). What lies e^-9 below the rest may be left out:
/// 1.2e-4 in the logarithm.
#[test]
fn whether_open_lines_leak_is_one_unknown_of_the_job() {
    let quiet = SIGMA.hypot(LEAKY.model_floor);
    let leaking = quiet.hypot(LEAKY.floating_sigma);
    let normal = |v: f64, s: f64| (-0.5 * (v / s).powi(2)).exp() / (s * std::f64::consts::TAU.sqrt());
    for read in [&[0.0][..], &[0.0, 0.0], &[0.0, 0.01, -0.02, 0.0, 0.0], &[0.4, -0.3]] {
        let all = |s: f64| read.iter().map(|v| normal(*v, s)).product::<f64>();
        let expected = ((1.0 - LEAKY.leaky) * all(quiet) + LEAKY.leaky * all(leaking)).ln();
        let got = log_likelihood(read);
        assert!((got - expected).abs() < 2e-4, "{read:?}: {got} {expected}");
    }
}
