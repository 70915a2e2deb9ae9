//! The effect of every mode in volts, from `modes.yaml`.

use super::arithmetic::value;
use super::bench::Bench;
use halfsplit::circuit::{Circuit, Edit, SetUp};
use halfsplit::index::Id;
use halfsplit::install::ControlId;
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use halfsplit::units::Ohms;
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rig {
    kind: String,
    #[serde(default)]
    figures: BTreeMap<String, f64>,
    #[serde(default)]
    pins: Vec<String>,
    #[serde(default)]
    volts: Option<String>,
    #[serde(default)]
    fed: Vec<String>,
    #[serde(default)]
    earthed: Vec<String>,
    #[serde(default)]
    loads: BTreeMap<String, f64>,
    modes: Vec<Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    mode: String,
    of: Option<String>,
    ohms: Option<f64>,
    position: Option<String>,
    fed: Option<Vec<String>>,
    earthed: Option<Vec<String>>,
    at: String,
    healthy: String,
    reads: String,
}

fn rigs() -> Vec<Rig> {
    serde_yaml::from_str(include_str!("modes.yaml")).unwrap()
}

/// The rig of a row: the part `it`, its feed and its loads.
fn build(rig: &Rig, row: &Row) -> Bench {
    let mut bench = Bench::new(12.0);
    let figures: Vec<_> = rig.figures.iter().map(|(k, v)| (k.as_str(), *v)).collect();
    let pins: Vec<_> = rig.pins.iter().map(String::as_str).collect();
    bench.part(&rig.kind, "it", &figures, &pins);
    let fed = row.fed.as_ref().unwrap_or(&rig.fed);
    if !fed.is_empty() {
        let volts = rig.volts.as_ref().map_or(12.0, |text| value(text));
        bench.part(
            "lead-acid battery",
            "supply",
            &[("volts", volts), ("internal", 0.1)],
            &[],
        );
        bench.join("supply.-", "frame");
    }
    for terminal in fed {
        bench.join("supply.+", &format!("it.{terminal}"));
    }
    for terminal in row.earthed.as_ref().unwrap_or(&rig.earthed) {
        bench.join("frame", &format!("it.{terminal}"));
    }
    for (terminal, ohms) in &rig.loads {
        let load = format!("load {terminal}");
        bench.part("resistor", &load, &[("ohms", *ohms)], &[]);
        bench.join(&format!("{load}.a"), &format!("it.{terminal}"));
        bench.join(&format!("{load}.b"), "frame");
    }
    bench
}

/// The voltage of a terminal of `it` against the frame, in the set-up of the row, with these edits.
fn reading(bench: &Bench, circuit: &Circuit, row: &Row, edits: &[Edit]) -> f64 {
    let network = Network::new(&circuit.netlist);
    let mut set_up = SetUp::at_rest(&circuit.netlist.controls);
    if let Some(position) = &row.position {
        let control = ControlId::new(0);
        let positions = &bench.install.controls[control].positions;
        let index = positions.iter().position(|p| p == position).unwrap();
        set_up = set_up.with(circuit.control_of[control], index);
    }
    let branches = match network.enter(edits, &network.fresh(), &set_up) {
        Ok(branches) => branches,
        Err(why) => {
            eprintln!("UNSOLVABLE {} {} {edits:?}", row.mode, why.why);
            return f64::NAN;
        }
    };
    assert_eq!(branches.len(), 1, "{}: a race", row.mode);
    let node = circuit.node_of[bench.point(&format!("it.{}", row.at))];
    branches[0]
        .state
        .voltage(node, circuit.earth)
        .map_or(0.0, |volts| volts.get())
}

#[test]
fn every_mode_has_the_effect_in_volts_that_a_calculation_by_hand_gives() {
    let mut wrong = Vec::new();
    for rig in rigs() {
        for row in &rig.modes {
            let bench = build(&rig, row);
            let circuit = Circuit::expand(&bench.install).unwrap();
            let faults = circuit.possible_faults(&bench.install).unwrap();
            let part_id = row
                .of
                .as_ref()
                .map_or("it".to_owned(), |pin| format!("it.{pin}"));
            let fault = faults
                .iter()
                .find(|f| f.part_id == part_id && f.mode == row.mode);
            let fault =
                fault.unwrap_or_else(|| panic!("{}: no {} of {part_id}", rig.kind, row.mode));
            assert_eq!(
                fault.severity.is_some(),
                row.ohms.is_some(),
                "{} {}",
                rig.kind,
                row.mode
            );
            let edits = fault
                .effect
                .edits(Ohms::try_from(row.ohms.unwrap_or(1.0)).unwrap());
            let found = [
                reading(&bench, &circuit, row, &[]),
                reading(&bench, &circuit, row, &edits),
            ];
            let expected = [value(&row.healthy), value(&row.reads)];
            for (what, (found, expected)) in
                ["healthy", "faulty"].iter().zip(found.iter().zip(expected))
            {
                if !((found - expected).abs() <= 1e-6) {
                    wrong.push(format!(
                        "{} {} {what}: {found} V for {expected} V",
                        rig.kind, row.mode
                    ));
                }
            }
            assert!(
                (expected[0] - expected[1]).abs() > 1e-4,
                "{} {} shows nothing",
                rig.kind,
                row.mode
            );
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_mode_is_without_such_a_calculation() {
    let rigs = rigs();
    let mut missing = Vec::new();
    for kind in Knowledge::built_in().kinds.iter() {
        let rows: Vec<_> = rigs
            .iter()
            .filter(|r| r.kind == kind.name)
            .flat_map(|r| &r.modes)
            .collect();
        for mode in &kind.modes {
            if rows.iter().all(|row| row.mode != mode.key) {
                missing.push(format!("{} {}", kind.name, mode.key));
            }
        }
    }
    assert!(missing.is_empty(), "{missing:?}");
}
