//! Stored reference values, which need no other program (`tests/reference/ladders.py` says how they came).

use crate::support::circuits::{Circuit, enter, near};
use halfsplit::network::Network;
use serde::Deserialize;

#[derive(Deserialize)]
struct Stored {
    elements: Vec<Part>,
    volts: Vec<f64>,
}

#[derive(Deserialize)]
struct Part {
    kind: String,
    from: usize,
    to: usize,
    #[serde(default)]
    ohms: f64,
    #[serde(default)]
    emf: f64,
    #[serde(default)]
    nominal: f64,
    #[serde(default)]
    watts: f64,
}

#[test]
fn stored_circuits_come_out() {
    let stored: Vec<Stored> = serde_json::from_str(include_str!("../reference/ladders.json")).unwrap();
    assert_eq!(stored.len(), 24);
    for circuit in stored {
        let mut c = Circuit::default();
        for (index, part) in circuit.elements.iter().enumerate() {
            let (name, from, to) = (index.to_string(), part.from.to_string(), part.to.to_string());
            match part.kind.as_str() {
                "source" => c.source(&name, &from, &to, part.emf, part.ohms),
                "resistance" => c.resistor(&name, &from, &to, part.ohms),
                "filament" => c.lamp(&name, &from, &to, part.ohms, part.nominal),
                "power" => c.power(&name, &from, &to, part.watts, 1.0),
                kind => panic!("{kind}"),
            };
        }
        let n = Network::new(&c.netlist);
        let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
        for (node, volts) in circuit.volts.iter().enumerate() {
            let got = state.voltage(c.id(&node.to_string()), c.id("0")).unwrap().get();
            near(got, *volts, 1e-10);
        }
    }
}
