//! An install that brings a kind of its own: it reads, expands, works and fails as its owner wrote it.

use halfsplit::belief::Probe;
use halfsplit::choice::{Target, Test};
use halfsplit::circuit::{Circuit, Edit, SetUp};
use halfsplit::document::Source;
use halfsplit::install::{Install, load};
use halfsplit::job::System;
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use halfsplit::show::diagnostics;
use halfsplit::show::test::wait;
use halfsplit::units::{Ohms, Volts};

/// Volts across the lift valve and across the flap lamp, with these controls set.
fn volts(install: &Install, edits: &[Edit], set: &[(&str, &str)]) -> (f64, f64) {
    let circuit = Circuit::expand(install).unwrap_or_else(|e| panic!("{e:?}"));
    let mut set_up = SetUp::at_rest(&circuit.netlist.controls);
    for (name, position) in set {
        let mut controls = circuit.netlist.controls.enumerate();
        let found = controls.find(|(_, control)| control.name == *name);
        let (id, control) = found.unwrap_or_else(|| panic!("no control {name}"));
        let index = control.positions.iter().position(|p| p == position);
        set_up = set_up.with(id, index.unwrap_or_else(|| panic!("no {position}")));
    }
    let network = Network::new(&circuit.netlist);
    let branches = network.enter(edits, &network.fresh(), &set_up).unwrap();
    let across = |part: &str| {
        let (id, _) = install.parts.enumerate().find(|(_, p)| p.id == part).unwrap();
        let node = |name| circuit.node(install, id, 0, name);
        let ends = node("feed").zip(node("return"));
        let ends = ends.or_else(|| node("+").zip(node("-"))).unwrap();
        let volts = branches[0].state.voltage(ends.0, ends.1);
        volts.map_or(0.0, Volts::get)
    };
    (across("lift valve"), across("flap open"))
}

fn read() -> Install {
    let source = Source::new("install.yaml", include_str!("../../examples/taillift/install.yaml"));
    let (install, warnings) = load(&source, &Knowledge::built_in())
        .unwrap_or_else(|report| panic!("{}", diagnostics(&report, &source, false)));
    assert_eq!(diagnostics(&warnings, &source, false), "");
    install
}

#[test]
fn a_delay_on_the_way_is_told() {
    let system = System::new(read()).unwrap_or_else(|e| panic!("{e:?}"));
    let wait = |part: &str| {
        let test = Test {
            set_up: SetUp::at_rest(&system.circuit.netlist.controls),
            probe: Probe::Look(0),
            at: Target::Part(system.part(part).unwrap()),
        };
        wait(&system, &test)
    };
    // The valve hangs on the guard, and that waits 3 s (its description in the file).
    assert_eq!(wait("lift valve").as_deref(), Some("3 s: guard has a delay"));
    assert_eq!(wait("FM"), None);
}

#[test]
fn a_kind_of_the_owners_own_works_and_fails_as_described() {
    let install = read();
    let shut = ("flap", "pressed");
    let up = ("up", "pressed");
    let plug = ("lift plug", "2");
    // 6 Ω of valve behind, in milliohms: battery 10, fuse and bolts 1.43, plug 2.1, gate 5, output 20, splice 1, earth
    // joint, cable and its two ends 1, 0.78 and 2: 43.3 in all.
    let vehicle = 12.6 * 6.0 / 6.0433;
    // The same from the yard: 30 mΩ of its feed for battery and fuse, and no way back by the earth joint's cable.
    let yard = 12.6 * 6.0 / 6.058;
    let check = |edits: &[Edit], set: &[(&str, &str)], valve: f64, lamp_lit: bool| {
        let (found, lamp) = volts(&install, edits, set);
        assert!((found - valve).abs() < 0.02, "{set:?}: {found} for {valve}");
        assert_eq!(lamp > 10.0, lamp_lit, "{set:?}: lamp {lamp}");
    };
    check(&[], &[shut, up], vehicle, false);
    check(&[], &[plug, shut, up], yard, false);
    check(&[], &[("lift plug", "out"), shut, up], 0.0, false);
    check(&[], &[up], 0.0, true);
    check(&[], &[shut], 0.0, false);
    let circuit = Circuit::expand(&install).unwrap();
    let faults = circuit.possible_faults(&install).unwrap();
    let fault = |mode: &str| {
        let found = faults.iter().find(|f| f.part_id == "guard" && f.mode == mode);
        let found = found.unwrap_or_else(|| panic!("no {mode}"));
        found.effect.edits(Ohms::new(1.0))
    };
    check(&fault("flap-blind"), &[shut, up], 0.0, true);
    check(&fault("gate-welded"), &[up], vehicle, true);
    check(&fault("output-dead"), &[shut, up], 0.0, false);
}
