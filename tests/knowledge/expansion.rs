//! A small install put together by hand, and the circuit that it becomes.

use super::bench::Bench;
use halfsplit::circuit::{Circuit, Drive, Emf, NodeId, Primitive, SetUp};
use halfsplit::index::Id;
use halfsplit::install::ControlId;
use halfsplit::network::Network;
use std::collections::BTreeSet;

/// Battery, fuse, switch, relay, lamp, frame: the smallest thing that this trade would call an install.
fn lamp_circuit() -> Bench {
    let mut bench = Bench::new(12.0);
    bench.part("lead-acid battery", "battery", &[], &[]);
    bench.part("blade fuse", "F1", &[("rating", 15.0)], &[]);
    bench.part("switch", "S1", &[], &[]);
    bench.part("relay", "K1", &[], &[]);
    bench.part("filament lamp", "work lamp", &[("watts", 55.0)], &[]);
    bench.wire("minus", 10.0, 1.0, "battery.-", "frame");
    bench.wire("feed", 10.0, 2.0, "battery.+", "F1.in");
    bench.wire("to relay", 2.5, 3.0, "F1.out", "K1.30");
    bench.wire("to lamp", 2.5, 6.0, "K1.87", "work lamp.feed");
    bench.wire("lamp earth", 2.5, 1.0, "work lamp.return", "frame");
    bench.wire("control", 0.75, 6.0, "S1.out", "K1.86");
    bench.join("S1.in", "F1.out");
    bench.join("K1.85", "frame");
    bench
}

fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-9 * expected.abs().max(1.0), "{found} for {expected}");
}

#[test]
fn a_small_install_becomes_the_elements_that_an_electrician_would_draw() {
    let bench = lamp_circuit();
    let circuit = Circuit::expand(&bench.install).unwrap();
    let netlist = &circuit.netlist;
    let primitive = |name: &str| {
        let found = netlist.elements.iter().find(|e| e.name == name);
        &found.unwrap_or_else(|| panic!("no element {name}")).primitive
    };
    // 5 parts with 7 elements (relay and fuse have two), 6 wires with 2 end joints each.
    assert_eq!(netlist.elements.len(), 7 + 6 * 3);
    let ohms = |name: &str| match primitive(name) {
        Primitive::Resistance { ohms } => ohms.get(),
        other => panic!("{name} is {other:?}"),
    };
    // IEC 60228 class 5: 1.91, 7.98 and 26.0 Ω/km; times the length in km.
    close(ohms("feed"), 1.91 * 2.0 / 1000.0);
    close(ohms("to relay"), 7.98 * 3.0 / 1000.0);
    close(ohms("to lamp"), 7.98 * 6.0 / 1000.0);
    close(ohms("control"), 26.0 * 6.0 / 1000.0);
    // A sound crimp: 1 mΩ (common practice).
    close(ohms("to lamp.a"), 0.001);
    match primitive("F1.element") {
        // 15 A blade fuse: 4.80 mΩ cold (typical maker data, from memory).
        Primitive::Fuse { ohms, rating, gate, .. } => {
            close(ohms.get(), 0.0048);
            close(rating.get(), 15.0);
            // 30 A is twice the rating: 0.15 to 5 s, mean sqrt(0.15 x 5) = 0.866 s (maker data sheet).
            close(gate.melting_seconds(2.0).unwrap(), 0.866);
            assert_eq!(gate.melting_seconds(1.1), None, "it holds 110 % (ISO 8820-3, from memory)");
        }
        other => panic!("{other:?}"),
    }
    match primitive("K1.coil") {
        // 85 Ω is within 70 to 100 Ω; 0.6 x 12 V = 7.2 V (maker data sheet, second hand).
        Primitive::Coil { ohms, pull_in, release } => {
            close(ohms.get(), 85.0);
            close(pull_in.get(), 7.2);
            assert!(release < pull_in);
        }
        other => panic!("{other:?}"),
    }
    match primitive("work lamp") {
        // 12² / 55 = 2.618 Ω.
        Primitive::Filament { hot, nominal } => {
            close(hot.get(), 144.0 / 55.0);
            close(nominal.get(), 12.0);
        }
        other => panic!("{other:?}"),
    }
    match primitive("battery") {
        // 12.6 V at rest when full (rule of thumb, lists.ettus.com).
        Primitive::Source { emf: Emf::Fixed(emf), .. } => close(emf.get(), 12.6),
        other => panic!("{other:?}"),
    }
    let s1 = bench.install.controls.enumerate().find(|(_, c)| c.name == "S1").unwrap().0;
    match primitive("S1") {
        Primitive::Contact { drive: Drive::Control { control, positions }, .. } => {
            assert_eq!(*control, circuit.control_of[s1]);
            assert_eq!(positions, &[1]);
        }
        other => panic!("{other:?}"),
    }
    match primitive("K1.contact") {
        Primitive::Contact { drive: Drive::Coils { coils, closed_at_rest }, .. } => {
            assert_eq!(netlist.elements[coils[0]].name, "K1.coil");
            assert!(!closed_at_rest);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn nodes_are_named_as_a_person_finds_them() {
    let bench = lamp_circuit();
    let circuit = Circuit::expand(&bench.install).unwrap();
    let name = |point: &str| circuit.netlist.nodes[circuit.node_of[bench.point(point)]].name.as_str();
    assert_eq!(name("minus.b.b"), "frame", "the owner's word for earth before all");
    assert_eq!(name("feed.b.b"), "F1.in", "a terminal before a wire's end");
    assert_eq!(name("feed.a.a"), "feed.a", "a wire's end before its crimp");
    assert_eq!(circuit.netlist.nodes[circuit.earth].name, "frame");
    let names: BTreeSet<_> = circuit.netlist.nodes.iter().map(|n| &n.name).collect();
    assert_eq!(names.len(), circuit.netlist.nodes.len());
    // Frame, 2 posts, 3 at F1 (one is S1.in too, one inside), S1.out, 30, 86 and 87 (85 is frame), 2 at the lamp; 2 in each wire.
    assert_eq!(names.len(), 12 + 2 * 6);
}

#[test]
fn a_wire_and_its_two_ends_are_one_repair() {
    let bench = lamp_circuit();
    let circuit = Circuit::expand(&bench.install).unwrap();
    let faults = circuit.possible_faults(&bench.install).unwrap();
    let group = |part: &str, mode: &str| {
        let found = faults.iter().find(|f| f.part_id == part && f.mode == mode);
        found.unwrap_or_else(|| panic!("no {mode} of {part}")).repair_group.as_str()
    };
    for (part, mode) in [("to lamp", "broken"), ("to lamp.a", "corroded"), ("to lamp.b", "loose")] {
        assert_eq!(group(part, mode), "to lamp: conductor");
    }
    assert_eq!(group("to lamp", "short-to-earth"), "to lamp: insulation");
    let ids: BTreeSet<_> = faults.iter().map(|f| (&f.part_id, &f.mode)).collect();
    assert_eq!(ids.len(), faults.len(), "part and mode name one fault each");
}

#[test]
fn cores_and_pins_have_faults_of_their_own() {
    let mut bench = Bench::new(12.0);
    let cable =
        bench.part("multi-core cable", "control", &[("size", 0.75), ("length", 6.0)], &["yellow", "blue", "white"]);
    let joint = bench.part("end joint", "on/2.a", &[], &[]);
    bench.install.parts[joint].joint_of = Some(halfsplit::install::JointOf { conductor: cable, first_end: true });
    bench.join("on/2.a.b", "control.blue.a");
    let circuit = Circuit::expand(&bench.install).unwrap();
    let faults = circuit.possible_faults(&bench.install).unwrap();
    let of =
        |mode: &str| -> Vec<&str> { faults.iter().filter(|f| f.mode == mode).map(|f| f.part_id.as_str()).collect() };
    assert_eq!(of("broken"), ["control.yellow", "control.blue", "control.white"]);
    assert_eq!(of("leak-between-cores"), ["control.yellow/blue", "control.blue/white"]);
    let corroded = faults.iter().find(|f| f.mode == "corroded").unwrap();
    assert_eq!(corroded.repair_group, "control.blue: conductor");
    // Each core is 26.0 Ω/km x 6 m = 156 mΩ (IEC 60228 class 5).
    match circuit.netlist.elements.iter().find(|e| e.name == "control.blue").unwrap().primitive {
        Primitive::Resistance { ohms } => close(ohms.get(), 0.156),
        ref other => panic!("{other:?}"),
    }
}

#[test]
fn a_part_without_a_figure_it_needs_is_named() {
    let mut bench = Bench::new(12.0);
    bench.part("resistor", "R1", &[], &[]);
    let wire = bench.part("wire", "w", &[("length", 0.0)], &[]);
    let missing = Circuit::expand(&bench.install).unwrap_err();
    assert_eq!(missing.len(), 2);
    assert_eq!(missing[1].part, wire);
    assert_eq!(missing[1].at, "copper");
}

/// The lamp's volts by hand: `E - I r = V` with `I = V / (hot (V/12)^0.45)`, by halving the interval.
fn by_hand(emf: f64, series: f64, hot: f64) -> f64 {
    let (mut low, mut high) = (0.0, emf);
    for _ in 0..60 {
        let volts = f64::midpoint(low, high);
        let amps = volts / (hot * (volts / 12.0_f64).powf(0.45));
        if emf - amps * series > volts {
            low = volts;
        } else {
            high = volts;
        }
    }
    low
}

#[test]
fn the_lamp_of_the_small_install_gets_the_volts_that_are_left_over() {
    let bench = lamp_circuit();
    let circuit = Circuit::expand(&bench.install).unwrap();
    let network = Network::new(&circuit.netlist);
    let s1 = circuit.control_of[ControlId::new(0)];
    let node = |point: &str| -> NodeId { circuit.node_of[bench.point(point)] };
    let volts = |set_up: &SetUp| {
        let branches = network.enter(&[], &network.fresh(), set_up).unwrap();
        assert_eq!(branches.len(), 1);
        branches[0].state.voltage(node("work lamp.feed"), node("work lamp.return")).unwrap().get()
    };
    let off = SetUp::at_rest(&circuit.netlist.controls);
    assert!(volts(&off).abs() < 1e-9);
    // In mΩ: battery 10, minus 1.91, feed 3.82, fuse 4.8, its clips 0.5, to relay 23.94, contact 5, to lamp 47.88, lamp earth 7.98, and
    // ten end joints of 1: 115.83. The coil's 0.15 A takes some 3 mV off, which this leaves out.
    let expected = by_hand(12.6, 0.11583, 144.0 / 55.0);
    let found = volts(&off.with(s1, 1));
    assert!((found - expected).abs() < 0.005, "{found} for {expected}");
    let seen = circuit.sights.iter().find(|s| s.table == "lamp").unwrap();
    close(seen.nominal, 55.0);
}

#[test]
fn any_two_pins_can_be_exchanged_not_only_neighbours() {
    let mut bench = Bench::new(12.0);
    bench.part("multi-core cable", "control", &[], &["white", "red", "green"]);
    let circuit = Circuit::expand(&bench.install).unwrap();
    let faults = circuit.possible_faults(&bench.install).unwrap();
    let of = |mode: &str| faults.iter().filter(|f| f.mode == mode).collect::<Vec<_>>();
    // Three cores: 3 x 2 / 2 pairs, of which two are neighbours.
    let crossed = of("crossed");
    let ids: Vec<_> = crossed.iter().map(|f| f.part_id.as_str()).collect();
    assert_eq!(ids, ["control.white/red", "control.white/green", "control.red/green"]);
    let ids: Vec<_> = of("leak-between-cores").iter().map(|f| f.part_id.as_str()).collect();
    assert_eq!(ids, ["control.white/red", "control.red/green"]);
    assert_eq!(crossed[1].label, "control, cores white and green");
    // Each pair is put right on its own: what one repair cures is not all pairs.
    assert_eq!(crossed[1].repair_group, "control.white/green: order");
    assert!(crossed.iter().all(|f| f.mistake));
    assert!(of("leak-between-cores").iter().all(|f| !f.mistake));
}
