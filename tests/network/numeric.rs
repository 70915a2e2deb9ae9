//! Published worked DC examples (`tests/published/numeric.yaml` names author, question and licence of each).

use crate::support::circuits::{Circuit, enter, ohms};
use halfsplit::circuit::{Edit, ElementId, Primitive};
use halfsplit::network::{Instrument, Network};
use halfsplit::units::Volts;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write;

#[derive(Deserialize)]
struct Record {
    id: String,
    components: Vec<Component>,
    answers: Vec<Answer>,
}

#[derive(Deserialize)]
struct Component {
    name: String,
    kind: String,
    from: String,
    to: String,
    value: Option<f64>,
}

#[derive(Deserialize)]
struct Answer {
    quantity: String,
    plus: Option<String>,
    minus: Option<String>,
    branch: Option<String>,
    value: f64,
    tol: Option<f64>,
    #[serde(default)]
    signed: bool,
    meter_ohm: Option<f64>,
    #[serde(default)]
    set_value: BTreeMap<String, f64>,
}

/// A drawn wire, and what stands for an ideal source's inside.
const WIRE: f64 = 1e-5;

fn build(record: &Record) -> (Circuit, BTreeMap<String, ElementId>) {
    let mut circuit = Circuit::default();
    let mut elements = BTreeMap::new();
    for part in &record.components {
        let (from, to) = (part.from.as_str(), part.to.as_str());
        let element = match (part.kind.as_str(), part.value) {
            ("vsource", Some(emf)) => circuit.source(&part.name, from, to, emf, WIRE),
            // The current leaves the source at `to`: that is its plus. A kilovolt is more than any of
            // these examples needs.
            ("isource", Some(amps)) => circuit.limited(&part.name, to, from, 1000.0, 1e-3, Some(amps)),
            ("resistor", Some(value)) => circuit.resistor(&part.name, from, to, value),
            ("wire", _) => circuit.resistor(&part.name, from, to, WIRE),
            (kind, value) => panic!("{}: {kind} of {value:?}", record.id),
        };
        elements.insert(part.name.clone(), element);
    }
    (circuit, elements)
}

/// What is wrong with a record's answers; nothing when all of them come out.
fn check(record: &Record) -> String {
    let (circuit, elements) = build(record);
    let network = Network::new(&circuit.netlist);
    let mut wrong = String::new();
    for answer in &record.answers {
        let edits: Vec<Edit> = answer
            .set_value
            .iter()
            .map(|(name, value)| Edit::Replace(elements[name], Primitive::Resistance { ohms: ohms(*value) }))
            .collect();
        let state = enter(&network, &edits, &network.fresh(), &circuit.with(&[]));
        let got = if let (Some(plus), Some(minus)) = (&answer.plus, &answer.minus) {
            let (plus, minus) = (circuit.id(plus), circuit.id(minus));
            match answer.meter_ohm {
                None => state.voltage(plus, minus).map_or(0.0, Volts::get),
                Some(meter) => {
                    let meter = Instrument::Voltmeter(ohms(meter));
                    let met = network.measure(&state, &meter, plus, minus).unwrap();
                    met.volts.get()
                }
            }
        } else {
            let element = elements[answer.branch.as_ref().expect("points or a branch")];
            match answer.quantity.as_str() {
                "current" => state.current(element).get(),
                "power" => state.current(element).get() * state.drop(element).get(),
                other => panic!("{}: quantity {other}", record.id),
            }
        };
        let got = if answer.signed { got } else { got.abs() };
        let tolerance = answer.tol.unwrap_or(0.003 * answer.value.abs());
        if (got - answer.value).abs() > tolerance {
            let _ = write!(wrong, " {} is {got}, not {};", answer.quantity, answer.value);
        }
    }
    wrong
}

#[test]
fn published_numeric_examples_come_out() {
    let folder = std::env::var("PUBLISHED_CASES").ok();
    let path = folder
        .map(|folder| format!("{folder}/numeric.yaml"))
        .filter(|path| std::path::Path::new(path).exists())
        .unwrap_or_else(|| concat!(env!("CARGO_MANIFEST_DIR"), "/tests/published/numeric.yaml").to_owned());
    let records: Vec<Record> = serde_yaml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(!records.is_empty());
    let wrong: Vec<String> = records
        .iter()
        .map(|record| (record, check(record)))
        .filter(|(_, wrong)| !wrong.is_empty())
        .map(|(record, wrong)| format!("{}:{wrong}", record.id))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
