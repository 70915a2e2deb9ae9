//! A test as it stands on the screen.

use super::program::GOOD;
use halfsplit::belief::{Predicted, Probe};
use halfsplit::choice::{Ranked, Target, Test};
use halfsplit::circuit::{ByHand, Move, SetUp};
use halfsplit::document::Source;
use halfsplit::index::Id;
use halfsplit::install::load;
use halfsplit::job::{Expect, System};
use halfsplit::knowledge::Knowledge;
use halfsplit::show::test::{prompt, test};
use halfsplit::units::Minutes;
use insta::assert_snapshot;
use std::path::Path;

pub(super) fn system(install: &str) -> System {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(install);
    let source = Source::new(install, std::fs::read_to_string(path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap();
    System::new(install).unwrap()
}

fn on_screen(system: &System, number: usize, asked: Test, expect: &Expect) -> String {
    let ranked = Ranked { test: asked, bits: 1.0, minutes: Minutes::try_from(2.5).unwrap(), reluctance: Minutes::ZERO };
    let text = test(system, number, &ranked, expect) + &prompt(system, &ranked.test);
    for line in text.lines() {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    text
}

fn set_up(system: &System, control: &str) -> SetUp {
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let found = system.install.controls.enumerate().find(|(_, c)| c.name == control);
    rest.with(system.circuit.control_of[found.unwrap().0], 1)
}

#[expect(clippy::unnecessary_wraps, reason = "it stands where an expectation may be missing")]
fn number(mean: f64, floating: bool) -> Option<Predicted> {
    Some(Predicted::Number { mean, floating, jumps: 0.0 })
}

/// The order is that of the design ('A test on the screen'): place, caution, switches, meter, red, black, good and bad,
/// the prompt last.
#[test]
fn a_test_is_told_in_the_order_in_which_it_is_carried_out() {
    let system = system(GOOD);
    let instruments = system.instruments();
    let [red, black] = ["power plug.plus.out", "frame"].map(|name| system.point(name).unwrap());
    let probe = Probe::Volts {
        instrument: instruments.voltmeter.clone().unwrap(),
        red: system.node(red),
        black: system.node(black),
        unsigned: false,
    };
    let volts = Test { set_up: set_up(&system, "S1"), probe, at: Target::Points { red, black } };
    let expect = Expect {
        good: number(12.36, false),
        bad: number(0.0, true),
        moves: Vec::new(),
        energised: Vec::new(),
        outcomes: Vec::new(),
    };
    assert_snapshot!("screen_volts", on_screen(&system, 3, volts, &expect));

    let [red, black] = ["B.1.relay.86", "mast foot"].map(|name| system.point(name).unwrap());
    let probe = Probe::Light {
        instrument: instruments.test_lamp.clone().unwrap(),
        red: system.node(red),
        black: system.node(black),
    };
    let light = Test { set_up: set_up(&system, "S1"), probe, at: Target::Points { red, black } };
    let expect = Expect {
        good: Some(Predicted::Words(vec![0.0, 0.0, 0.0, 1.0, 0.0])),
        bad: None,
        moves: Vec::new(),
        energised: Vec::new(),
        outcomes: Vec::new(),
    };
    assert_snapshot!("screen_lamp", on_screen(&system, 12, light, &expect));

    let clamp = system.amps(set_up(&system, "S1"), system.part("pump/2.a").unwrap()).unwrap();
    let expect = Expect {
        good: number(4.61, false),
        bad: number(0.0, false),
        moves: Vec::new(),
        energised: Vec::new(),
        outcomes: Vec::new(),
    };
    assert_snapshot!("screen_clamp", on_screen(&system, 2, clamp, &expect));

    let battery = system.part("battery").unwrap();
    let dead = set_up(&system, "S1").without(battery, &system.circuit.parting_of[battery]);
    let points = ["B.1.relay.86", "B.1.relay.85"].map(|name| system.point(name).unwrap());
    let expect = Expect {
        good: number(85.0_f64.log10(), false),
        bad: number(4e7_f64.log10(), false),
        moves: vec![Move { part: battery, from: None, to: Some(ByHand::TakenOut) }],
        energised: Vec::new(),
        outcomes: Vec::new(),
    };
    assert_snapshot!("screen_ohms", on_screen(&system, 4, system.ohms(dead, points), &expect));

    let relay = system.part("B.1.relay").unwrap();
    let sight = system.sight(relay).unwrap();
    let look = Test { set_up: set_up(&system, "S2"), probe: Probe::Look(sight), at: Target::Part(relay) };
    let expect = Expect { good: None, bad: None, moves: Vec::new(), energised: Vec::new(), outcomes: Vec::new() };
    assert_snapshot!("screen_look", on_screen(&system, 1, look, &expect));
    assert_eq!(relay.position(), system.part("relay of B.1").unwrap().position(), "by id and by label");
}
