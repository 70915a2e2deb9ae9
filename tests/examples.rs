//! The installs under `examples/`: each reads without a warning, is short, and does what its owner would expect of it;
//! and mistakes made in them are named where they stand.
//!
//! Lengths: design, 'The install file'. What each install does: its own circuit, followed by hand.

mod mistakes;

use halfsplit::circuit::{Edit, SetUp};
use halfsplit::diagnostic::Report;
use halfsplit::document::Source;
use halfsplit::install::{Install, PartId, load};
use halfsplit::job::System;
use halfsplit::knowledge::Knowledge;
use halfsplit::network::{ElementState, Memory, Network, Operating};
use halfsplit::show::diagnostics;
use halfsplit::units::{Ohms, Volts};
use std::path::Path;

/// Name and text of every example.
fn examples() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let listed = std::fs::read_dir(folder).unwrap();
    let mut found: Vec<(String, String)> = listed
        .filter_map(|entry| {
            let path = entry.unwrap().path();
            let text = std::fs::read_to_string(path.join("install.yaml")).ok()?;
            Some((path.file_name().unwrap().to_string_lossy().into_owned(), text))
        })
        .collect();
    found.sort();
    assert!(found.len() >= 4);
    found
}

fn read(text: &str) -> Result<(Install, Report), Report> {
    load(&Source::new("install.yaml", text), &Knowledge::built_in())
}

#[track_caller]
fn system(text: &str) -> System {
    let source = Source::new("install.yaml", text);
    let (install, warnings) = read(text).unwrap_or_else(|r| panic!("{}", diagnostics(&r, &source, false)));
    assert_eq!(diagnostics(&warnings, &source, false), "");
    System::new(install).unwrap_or_else(|e| panic!("{e:?}"))
}

#[test]
fn every_example_reads_without_a_warning_and_is_short() {
    for (name, text) in examples() {
        let most = if name == "sprayer" { 60 } else { 90 };
        assert!(text.lines().count() <= most, "{name}: {} lines", text.lines().count());
        let system = system(&text);
        assert!(!system.possible.is_empty(), "{name}");
    }
}

#[test]
fn every_load_of_every_example_works_within_three_controls_of_rest() {
    for (name, text) in examples() {
        let system = system(&text);
        let rest = SetUp::at_rest(&system.circuit.netlist.controls);
        for load in system.all_loads() {
            let label = &system.install.parts[load.part].label;
            let set_up =
                system.usual_set_up(load.sight.unwrap()).unwrap_or_else(|| panic!("{name}: {label} never works"));
            let moved = rest.positions.iter().zip(set_up.positions.iter()).filter(|(a, b)| a != b).count();
            assert!(moved <= 3, "{name}: {label} takes {moved} controls");
        }
    }
}

/// Everything that can be measured and seen in a state, to a millivolt.
fn picture(system: &System, state: &Operating<'_>) -> Vec<String> {
    let zero = system.node(system.reference);
    let volts = |v: Option<Volts>| v.map_or_else(|| "-".to_owned(), |v| format!("{:.3}", v.get()));
    system.circuit.netlist.nodes.ids().map(|n| volts(state.voltage(n, zero))).collect()
}

#[test]
fn every_control_changes_something_and_every_set_up_near_rest_is_solved() {
    for (name, text) in examples() {
        let system = system(&text);
        let netlist = &system.circuit.netlist;
        let network = Network::new(netlist);
        let rest = SetUp::at_rest(&netlist.controls);
        let enter = |set_up: &SetUp, before: &Memory| {
            let entered = network.enter(&[], before, set_up);
            entered.unwrap_or_else(|u| panic!("{name}: {}", u.why)).remove(0).state
        };
        // A control counts where it does something at rest, or in the usual set-up of some load.
        let loads = system.all_loads();
        let mut starts: Vec<SetUp> = loads.iter().filter_map(|l| system.usual_set_up(l.sight?)).collect();
        starts.insert(0, rest);
        for (id, control) in netlist.controls.enumerate() {
            let mut changes = false;
            for start in &starts {
                let from = enter(start, &network.fresh());
                assert!(from.chatter().is_empty(), "{name}: {} chatters", control.name);
                for position in 0..control.positions.len() {
                    let to = enter(&start.clone().with(id, position), from.memory());
                    assert!(to.chatter().is_empty(), "{name}: {} {position} chatters", control.name);
                    changes |= picture(&system, &from) != picture(&system, &to);
                }
            }
            assert!(changes, "{name}: {} changes nothing", control.name);
        }
    }
}

/// A bench on which an example is switched and read.
struct Bench {
    system: System,
}

impl Bench {
    fn of(name: &str) -> Self {
        let (_, text) = examples().into_iter().find(|(n, _)| n == name).unwrap();
        Self { system: system(&text) }
    }

    fn part(&self, name: &str) -> PartId {
        self.system.part(name).unwrap_or_else(|| panic!("no part {name}"))
    }

    /// Volts between two terminals `part.terminal`, with these controls moved from rest, one after the other.
    fn volts(&self, red: &str, black: &str, set: &[(&str, &str)], edits: &[Edit]) -> f64 {
        let [red, black] = [red, black].map(|name| {
            let (part, terminal) = name.rsplit_once('.').unwrap();
            let node = self.system.circuit.node(&self.system.install, self.part(part), 0, terminal);
            node.unwrap_or_else(|| panic!("no {name}"))
        });
        self.state(set, edits, |state| state.voltage(red, black).map_or(0.0, Volts::get))
    }

    fn closed(&self, part: &str, key: &str, set: &[(&str, &str)]) -> bool {
        let inner = self.system.circuit.elements_of[self.part(part)].iter().find(|i| i.key == key);
        let element = inner.unwrap().element;
        self.state(set, &[], |state| state.state(element) == ElementState::Contact(true))
    }

    fn state<T>(&self, set: &[(&str, &str)], edits: &[Edit], read: impl Fn(&Operating<'_>) -> T) -> T {
        let netlist = &self.system.circuit.netlist;
        let network = Network::new(netlist);
        let mut set_up = SetUp::at_rest(&netlist.controls);
        let mut state = network.enter(edits, &network.fresh(), &set_up).unwrap().remove(0).state;
        for (name, position) in set {
            let (id, control) = netlist.controls.enumerate().find(|(_, c)| c.name == *name).unwrap();
            let index = control.positions.iter().position(|p| p == position).unwrap();
            set_up = set_up.with(id, index);
            state = network.enter(edits, state.memory(), &set_up).unwrap().remove(0).state;
        }
        read(&state)
    }

    fn fault(&self, part: &str, mode: &str) -> Vec<Edit> {
        let id = self.system.fault(part, mode).unwrap_or_else(|| panic!("no {part} {mode}"));
        self.system.suspects.faults()[id].effect.edits(Ohms::ZERO)
    }
}

#[test]
fn the_bilge_pump_runs_with_the_isolator_off() {
    let boat = Bench::of("workboat");
    let pump = |set: &[(&str, &str)]| boat.volts("bilge pump.+", "bilge pump.-", set, &[]);
    // 24 V less what some metres of 2.5 mm² drop at 4 A: 0.2 Ω at the most.
    assert!(pump(&[("isolator", "off"), ("float", "up")]) > 23.0);
    assert!(pump(&[("isolator", "off"), ("bilge mode", "on")]) > 23.0);
    assert!(pump(&[("isolator", "off")]) < 0.5);
    assert!(pump(&[("float", "up"), ("bilge mode", "off")]) < 0.5);
    // All else is dead then.
    assert!(boat.volts("aft flood.+", "aft flood.-", &[("isolator", "off"), ("S3", "on")], &[]) < 0.5);
    assert!(boat.volts("radio.+", "radio.-", &[("isolator", "off")], &[]) < 0.5);
}

#[test]
fn the_horn_is_switched_on_its_minus() {
    let boat = Bench::of("workboat");
    let to_minus = |terminal: &str, set: &[(&str, &str)]| boat.volts(terminal, "battery.-", set, &[]);
    // At rest both its terminals are live, pressed its minus falls to the bar but for the drop of its wire.
    assert!(to_minus("horn.feed", &[]) > 24.0);
    assert!(to_minus("horn.return", &[]) > 24.0);
    assert!(to_minus("horn.return", &[("horn button", "pressed")]) < 1.0);
    assert!(boat.volts("horn.feed", "horn.return", &[("horn button", "pressed")], &[]) > 23.0);
}

#[test]
fn the_converter_gives_the_electronics_of_a_24_volt_boat_12_volts() {
    let boat = Bench::of("workboat");
    let out = boat.volts("converter.out", "converter.-", &[("S6", "on")], &[]);
    // 13.8 V less 20 mΩ at 6.5 A (its description in knowledge/parts/devices.yaml).
    assert!((out - 13.67).abs() < 0.05, "{out}");
    assert!(boat.volts("converter.in", "converter.-", &[("S6", "on")], &[]) > 24.0);
}

#[test]
fn the_batteries_of_the_van_are_joined_while_the_engine_charges() {
    let van = Bench::of("van");
    let joined = |set: &[(&str, &str)]| van.closed("split relay", "contact", set);
    let on = ("key", "on");
    assert!(!joined(&[]));
    assert!(!joined(&[on]));
    assert!(joined(&[on, ("engine alternator", "fast")]));
    assert!(!joined(&[on, ("engine alternator", "fast"), ("engine alternator", "off")]));
    // Without the key the charge lamp excites nothing.
    assert!(!joined(&[("engine alternator", "fast")]));
    let charging = van.volts("stall battery.+", "stall battery.-", &[on, ("engine alternator", "fast")], &[]);
    // Above the 12.6 V of a full battery at rest.
    assert!(charging > 12.9, "{charging}");
    let lamp = |set: &[(&str, &str)]| van.volts("charge lamp.feed", "charge lamp.return", set, &[]).abs();
    assert!(lamp(&[on]) > 10.0);
    assert!(lamp(&[on, ("engine alternator", "fast")]) < 1.0);
}

#[test]
fn the_plug_of_the_van_feeds_the_stall_from_either_battery() {
    let van = Bench::of("van");
    let till = |set: &[(&str, &str)], edits: &[Edit]| van.volts("till.+", "till.-", set, edits);
    assert!(till(&[], &[]) > 12.0);
    assert!(till(&[("stall plug", "2")], &[]) > 12.0);
    assert!(till(&[("stall plug", "out")], &[]) < 0.5);
    // With its own battery gone the stall lives in socket 2 alone, and the other way round.
    let no_stall = van.fault("stall battery", "inner-break");
    let no_front = van.fault("F2", "blown");
    assert!(till(&[], &no_stall) < 1.0);
    assert!(till(&[("stall plug", "2")], &no_stall) > 12.0);
    assert!(till(&[], &no_front) > 12.0);
    assert!(till(&[("stall plug", "2")], &no_front) < 1.0);
}

#[test]
fn the_key_of_the_van_switches_one_way_and_leaves_the_others() {
    let van = Bench::of("van");
    let lamp = |set: &[(&str, &str)]| van.volts("loading lamp.+", "loading lamp.-", set, &[]);
    assert!(lamp(&[("S4", "on")]) < 0.5);
    assert!(lamp(&[("S4", "on"), ("key", "on")]) > 12.0);
    assert!(van.volts("roof sign.+", "roof sign.-", &[("S2", "on")], &[]) > 11.5);
}

#[test]
fn a_lamp_of_the_van_shows_a_blown_fuse() {
    let van = Bench::of("van");
    for (lamp, fuse, set) in
        [("till fuse lamp", "B.4.fuse", [].as_slice()), ("fridge fuse lamp", "B.6.fuse", &[("fridge mode", "on")])]
    {
        let volts = |edits: &[Edit]| van.volts(&format!("{lamp}.+"), &format!("{lamp}.-"), set, edits);
        // Across a good fuse stand some millivolts; an LED wants two volts.
        assert!(volts(&[]).abs() < 0.2, "{lamp}");
        assert!(volts(&van.fault(fuse, "blown")) > 5.0, "{lamp}");
    }
    // With the fridge off nothing leads the lamp's current back, and it stays dark whatever its fuse is.
    assert!(van.volts("fridge fuse lamp.+", "fridge fuse lamp.-", &[], &van.fault("B.6.fuse", "blown")) < 2.0);
}

#[test]
fn the_override_of_the_fridge_goes_past_its_thermostat() {
    let van = Bench::of("van");
    let fridge = |set: &[(&str, &str)]| van.volts("fridge.+", "fridge.-", set, &[]);
    assert!(fridge(&[]) < 0.5);
    assert!(fridge(&[("thermostat", "hot")]) > 11.5);
    assert!(fridge(&[("fridge mode", "on")]) > 11.5);
    assert!(fridge(&[("thermostat", "hot"), ("fridge mode", "off")]) < 0.5);
}
