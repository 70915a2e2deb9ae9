//! The example installs with every single fault, in every set-up with one control moved: the mock-up and the engine's
//! network must agree.

use super::{differs, engine, mock_up};
use halfsplit::bench::Hidden;
use halfsplit::circuit::{Circuit, SetUp};
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::knowledge::{Knowledge, Origin};
use halfsplit::network::Network;
use std::path::Path;

/// How many of the visits to a fault are compared: 1 is all of them.
fn stride(usual: usize) -> usize {
    if std::env::var_os("BENCH_ALL").is_some() { 1 } else { usual }
}

#[track_caller]
fn agree(name: &str, usual: usize) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name).join("install.yaml");
    let source = Source::new(name, std::fs::read_to_string(path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap();
    let circuit = Circuit::expand(&install).unwrap();
    let possible = circuit.possible_faults(&install).unwrap();
    let network = Network::new(&circuit.netlist);
    let rest = SetUp::at_rest(&circuit.netlist.controls);
    let mut set_ups = vec![rest.clone()];
    for (id, control) in circuit.netlist.controls.enumerate() {
        let moved = (0..control.positions.len()).filter(|p| *p != control.rest);
        set_ups.extend(moved.map(|position| rest.clone().with(id, position)));
    }
    let mut wrong = Vec::new();
    let mut compared = 0;
    for hidden in std::iter::once(Hidden::nothing())
        .chain(Hidden::every(&possible, Origin::Wear).into_iter().step_by(stride(usual)))
    {
        let edits = hidden.edits(&possible);
        let what: Vec<_> = hidden.faults.iter().map(|(k, o)| (&possible[*k].part_id, &possible[*k].mode, o)).collect();
        for set_up in &set_ups {
            let Some(state) = engine(&network, &edits, &network.fresh(), set_up) else { continue };
            let mut bench = mock_up(&circuit.netlist, &edits);
            if bench.enter(set_up).is_err() {
                wrong.push(format!("{what:?}, {:?}: the bench finds no state", set_up.positions));
                continue;
            }
            compared += 1;
            if let Some(why) = differs(&circuit.netlist, &bench, &state) {
                wrong.push(format!("{what:?}, {:?}: {why}", set_up.positions));
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {compared}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(compared > 20, "{compared}");
}

#[test]
fn the_sprayer_agrees() {
    agree("sprayer", 23);
}

#[test]
fn the_workboat_agrees() {
    agree("workboat", 61);
}

#[test]
fn the_van_agrees() {
    agree("van", 41);
}

#[test]
fn the_tail_lift_agrees() {
    agree("taillift", 5);
}
