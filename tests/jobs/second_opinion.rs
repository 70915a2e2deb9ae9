//! What the workshop rests on: the simulator finds the operating points of whole installs, the difficult ones too, and
//! they are the engine's.

use super::record::Hidden;
use super::say;
use super::workshop::system;
use crate::support::ngspice::{Kept, Problem, Solved, is_there, solve_all};
use halfsplit::circuit::{Edit, SetUp};
use halfsplit::index::Id;
use halfsplit::job::System;
use halfsplit::network::{Branch, ElementState, Network};
use halfsplit::units::Ohms;
use std::path::Path;

/// An example install.
fn example(name: &str) -> System {
    system(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name).join("install.yaml"))
}

/// The controls moved from rest, by name and position.
fn set_up(system: &System, moved: &[(&str, &str)]) -> SetUp {
    let netlist = &system.circuit.netlist;
    let mut set_up = SetUp::at_rest(&netlist.controls);
    for (name, position) in moved {
        let (id, control) =
            system.install.controls.enumerate().find(|(_, c)| c.name == *name).unwrap_or_else(|| panic!("no {name}"));
        let at = control.positions.iter().position(|p| p == position);
        set_up.positions[system.circuit.control_of[id]] = at.unwrap_or_else(|| panic!("no {name} {position}"));
    }
    set_up
}

/// What a fault does to the circuit.
fn edits(system: &System, hidden: &Hidden) -> Vec<Edit> {
    let fault = system.fault(&hidden.part, &hidden.mode).expect("a fault of the install");
    let ohms = Ohms::try_from(hidden.ohms.unwrap_or(0.0)).unwrap();
    system.suspects.faults()[fault].effect.edits(ohms)
}

/// The largest difference between the two in volts over one and over the voltage; nothing where they do not agree on
/// what is joined.
fn apart(system: &System, branch: &Branch<'_>, other: &Solved) -> Option<f64> {
    let nodes = &system.circuit.netlist.nodes;
    let mut worst = 0.0_f64;
    for a in nodes.ids() {
        let b = halfsplit::circuit::NodeId::new(other.island[a.position()]);
        match (branch.state.voltage(a, b), other.between(a, b)) {
            (Some(x), Some(y)) => worst = worst.max((x.get() - y).abs() / y.abs().max(1.0)),
            (None, None) => {}
            _ => return None,
        }
    }
    Some(worst)
}

/// How a comparison ended.
#[derive(Debug, Default, PartialEq)]
struct Agreed {
    /// Cases in which both have the same potentials.
    cases: usize,
    /// Those of them in which a source holds its limit.
    limited: usize,
}

/// Compares the two over faults and set-ups, with a load besides between two points of the install; nothing without the
/// simulator.
fn compare(
    name: &str,
    faults: &[Hidden],
    set_ups: &[&[(&str, &str)]],
    load: Option<(&str, &str, f64)>,
) -> Option<Agreed> {
    if !is_there() {
        say("NOT CHECKED: ngspice is not installed");
        return None;
    }
    let system = example(name);
    let netlist = &system.circuit.netlist;
    let network = Network::new(netlist);
    let mut problems = Vec::new();
    let mut titles = Vec::new();
    for hidden in faults {
        for moved in set_ups {
            let (mut edits, set_up) = (edits(&system, hidden), set_up(&system, moved));
            edits.extend(load.map(|(a, b, ohms)| {
                let node = |name| system.node(system.point(name).unwrap_or_else(|| panic!("no point {name}")));
                Edit::Bridge(node(a), node(b), Ohms::try_from(ohms).unwrap())
            }));
            titles.push(format!("{hidden:?} {moved:?}"));
            problems.push(Problem { netlist, edits, set_up, before: Kept::new() });
        }
    }
    let mut wrong = Vec::new();
    let mut agreed = Agreed::default();
    for ((title, problem), other) in titles.iter().zip(&problems).zip(solve_all(&problems)) {
        let branches = network.enter(&problem.edits, &network.fresh(), &problem.set_up).unwrap();
        let other = match other {
            Ok(other) => other,
            Err(why) => {
                wrong.push(format!("{title}: {why}"));
                continue;
            }
        };
        let apart = branches.iter().filter_map(|branch| apart(&system, branch, &other)).fold(f64::INFINITY, f64::min);
        if apart >= 1e-6 {
            wrong.push(format!("{title}: {apart:e} apart"));
            continue;
        }
        agreed.cases += 1;
        let limited = |id| branches[0].state.state(id) == ElementState::Source(true);
        agreed.limited += usize::from(netlist.elements.ids().any(limited));
    }
    assert!(wrong.is_empty(), "{} of {}: {wrong:#?}", wrong.len(), titles.len());
    Some(agreed)
}

/// A fault without a size.
fn hard(part: &str, mode: &str) -> Hidden {
    Hidden { part: part.to_owned(), mode: mode.to_owned(), ohms: None }
}

fn soft(part: &str, mode: &str, sizes: &[f64]) -> Vec<Hidden> {
    let hidden = |ohms: &f64| Hidden { part: part.to_owned(), mode: mode.to_owned(), ohms: Some(*ohms) };
    sizes.iter().map(hidden).collect()
}

/// Lamps behind a bad earth have a cold and a hot state close together, which is hard for a simulator that starts from
/// nothing: every combination of the boom's loads, over the whole range of a corroded joint.
#[test]
fn lamps_behind_a_soft_earth_are_solved_by_both() {
    let sizes: Vec<f64> = (-4..=12).map(|k| 10f64.powf(f64::from(k) / 4.0)).collect();
    let faults = soft("boom earth", "corroded", &sizes);
    let set_ups: [&[(&str, &str)]; 5] = [
        &[("S5", "on")],
        &[("S2", "on"), ("S5", "on")],
        &[("S2", "on"), ("S3", "on"), ("S5", "on")],
        &[("S1", "on"), ("S5", "on")],
        &[("S1", "on"), ("S2", "on"), ("S3", "on"), ("S4", "on"), ("S5", "on")],
    ];
    if let Some(agreed) = compare("sprayer", &faults, &set_ups, None) {
        assert_eq!(agreed, Agreed { cases: 85, limited: 0 });
    }
}

/// A battery that is worn out and asks for nothing while the engine turns: this is where plain iteration failed.
#[test]
fn a_worn_battery_with_the_engine_on_is_solved_by_both() {
    let faults = soft("starter battery", "worn-out", &[0.05, 0.2, 2.0]);
    let set_ups: [&[(&str, &str)]; 3] = [
        &[("key", "on")],
        &[("key", "on"), ("engine alternator", "idle")],
        &[("key", "on"), ("engine alternator", "fast"), ("S1", "on"), ("S2", "on"), ("S3", "on")],
    ];
    if let Some(agreed) = compare("van", &faults, &set_ups, None) {
        assert_eq!(agreed, Agreed { cases: 9, limited: 0 });
    }
}

/// The van's alternator gives 90 A and the boat's 55 A, as printed on them (`install.yaml`). A winch that asks for more than
/// that (13.4 V / 0.12 ohm = 112 A, 27 V / 0.4 ohm = 67 A) at a flat battery gets that much and no more, idling and fast.
#[test]
fn an_alternator_at_its_limit_is_solved_by_both() {
    let faults = [hard("starter battery", "flat")];
    let set_ups: [&[(&str, &str)]; 3] = [
        &[("key", "on")],
        &[("key", "on"), ("engine alternator", "idle"), ("S1", "on")],
        &[("key", "on"), ("engine alternator", "fast"), ("S1", "on"), ("S2", "on"), ("S3", "on"), ("S4", "on")],
    ];
    let winch = Some(("starter battery.+", "starter battery.-", 0.12));
    if let Some(agreed) = compare("van", &faults, &set_ups, winch) {
        assert_eq!(agreed, Agreed { cases: 3, limited: 2 });
    }
    let set_ups: [&[(&str, &str)]; 3] = [
        &[("isolator", "on"), ("key", "on")],
        &[("isolator", "on"), ("key", "on"), ("engine alternator", "idle")],
        &[("isolator", "on"), ("key", "on"), ("engine alternator", "fast"), ("S1", "on"), ("horn button", "pressed")],
    ];
    let faults = [hard("battery", "flat")];
    if let Some(agreed) = compare("workboat", &faults, &set_ups, Some(("battery.+", "battery.-", 0.4))) {
        assert_eq!(agreed, Agreed { cases: 3, limited: 2 });
    }
}
