//! The rigs of `modes.yaml`, `modes-wider.yaml` and `modes-wiring.yaml`: one part on a supply, with a fault, and what is read there.

use super::arithmetic::value;
use super::bench::Bench;
use halfsplit::circuit::{Circuit, Edit, NodeId, SetUp};
use halfsplit::index::Id;
use halfsplit::install::ControlId;
use halfsplit::units::Ohms;
use serde::Deserialize;
use std::collections::BTreeMap;

/// One kind and how it is connected.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rig {
    pub(super) kind: String,
    #[serde(default)]
    figures: BTreeMap<String, f64>,
    #[serde(default)]
    pins: Vec<String>,
    volts: Option<String>,
    internal: Option<f64>,
    #[serde(default)]
    fed: Vec<String>,
    #[serde(default)]
    commanded: Vec<String>,
    #[serde(default)]
    earthed: Vec<String>,
    #[serde(default)]
    loads: BTreeMap<String, f64>,
    pub(super) modes: Vec<Row>,
}

/// One mode, and what it does to the voltage of one terminal.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Row {
    pub(super) mode: String,
    of: Option<String>,
    ohms: Option<f64>,
    position: Option<String>,
    figures: Option<BTreeMap<String, f64>>,
    volts: Option<String>,
    fed: Option<Vec<String>>,
    commanded: Option<Vec<String>>,
    earthed: Option<Vec<String>>,
    loads: Option<BTreeMap<String, f64>>,
    #[serde(default)]
    pub(super) unsteady: bool,
    at: String,
    healthy: String,
    reads: String,
}

/// A row put together.
pub(super) struct Case {
    /// Kind and mode.
    pub(super) name: String,
    pub(super) circuit: Circuit,
    pub(super) set_up: SetUp,
    /// The fault.
    pub(super) edits: Vec<Edit>,
    /// Where it is read, against earth.
    pub(super) at: NodeId,
    /// By hand: healthy, faulty.
    pub(super) by_hand: [f64; 2],
    /// With the fault it does not settle.
    pub(super) unsteady: bool,
}

/// All rigs.
pub(super) fn rigs() -> Vec<Rig> {
    let files = [
        ("modes.yaml", include_str!("modes.yaml")),
        ("modes-wider.yaml", include_str!("modes-wider.yaml")),
        ("modes-wiring.yaml", include_str!("modes-wiring.yaml")),
    ];
    let read = |(name, text)| -> Vec<Rig> { serde_yaml::from_str(text).unwrap_or_else(|e| panic!("{name}: {e}")) };
    files.into_iter().flat_map(read).collect()
}

/// All rows of all rigs, put together.
pub(super) fn cases() -> Vec<Case> {
    let rigs = rigs();
    let rows = rigs.iter().flat_map(|rig| rig.modes.iter().map(move |row| (rig, row)));
    rows.map(|(rig, row)| case(rig, row)).collect()
}

/// The part `it`, its feed, its commands and its loads.
fn build(rig: &Rig, row: &Row) -> Bench {
    let mut bench = Bench::new(12.0);
    let mut figures: BTreeMap<_, _> = rig.figures.iter().collect();
    figures.extend(row.figures.iter().flatten());
    let figures: Vec<_> = figures.iter().map(|(k, v)| (k.as_str(), **v)).collect();
    let pins: Vec<_> = rig.pins.iter().map(String::as_str).collect();
    bench.part(&rig.kind, "it", &figures, &pins);
    let volts = row.volts.as_ref().or(rig.volts.as_ref());
    let volts = volts.map_or(12.0, |text| value(text));
    let internal = rig.internal.unwrap_or(0.1);
    let fed = row.fed.as_ref().unwrap_or(&rig.fed);
    let commanded = row.commanded.as_ref().unwrap_or(&rig.commanded);
    for (supply, terminals, volts, internal) in [("supply", fed, volts, internal), ("commands", commanded, 12.0, 0.1)] {
        if terminals.is_empty() {
            continue;
        }
        let figures = [("volts", volts), ("internal", internal)];
        bench.part("lead-acid battery", supply, &figures, &[]);
        bench.join(&format!("{supply}.-"), "frame");
        for terminal in terminals {
            bench.join(&format!("{supply}.+"), &format!("it.{terminal}"));
        }
    }
    for terminal in row.earthed.as_ref().unwrap_or(&rig.earthed) {
        bench.join("frame", &format!("it.{terminal}"));
    }
    for (terminal, ohms) in row.loads.as_ref().unwrap_or(&rig.loads) {
        let load = format!("load {terminal}");
        bench.part("resistor", &load, &[("ohms", *ohms)], &[]);
        bench.join(&format!("{load}.a"), &format!("it.{terminal}"));
        bench.join(&format!("{load}.b"), "frame");
    }
    bench
}

fn case(rig: &Rig, row: &Row) -> Case {
    let name = format!("{} {}", rig.kind, row.mode);
    let bench = build(rig, row);
    let circuit = Circuit::expand(&bench.install).unwrap_or_else(|e| panic!("{name}: {e:?}"));
    let faults = circuit.possible_faults(&bench.install).unwrap();
    let part_id = row.of.as_ref().map_or("it".to_owned(), |pin| format!("it.{pin}"));
    let fault = faults
        .iter()
        .find(|f| f.part_id == part_id && f.mode == row.mode)
        .unwrap_or_else(|| panic!("no {name} of {part_id}"));
    assert_eq!(fault.severity.is_some(), row.ohms.is_some(), "{name}");
    let mut set_up = SetUp::at_rest(&circuit.netlist.controls);
    if let Some(position) = &row.position {
        let control = ControlId::new(0);
        let positions = &bench.install.controls[control].positions;
        let index = positions.iter().position(|p| p == position);
        let index = index.unwrap_or_else(|| panic!("{name}: no position {position}"));
        set_up = set_up.with(circuit.control_of[control], index);
    }
    let ohms = Ohms::try_from(row.ohms.unwrap_or(1.0)).unwrap();
    Case {
        edits: fault.effect.edits(ohms),
        at: circuit.node_of[bench.point(&format!("it.{}", row.at))],
        by_hand: [value(&row.healthy), value(&row.reads)],
        unsteady: row.unsteady,
        name,
        circuit,
        set_up,
    }
}
