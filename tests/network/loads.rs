//! Lamps, motors, constant power, converters and limited sources.

use crate::support::circuits::{Circuit, enter, near, ohms, volts};
use halfsplit::circuit::{ControlId, Edit, ElementId, Emf, Primitive};
use halfsplit::index::Id;
use halfsplit::network::{ElementState, Network};
use halfsplit::units::{Amps, Volts};

/// A 21 W lamp at its 12 V draws 1.75 A; at half the voltage I ~ V^0.55: 1.75 * 0.683 = 1.195 A (lamp law
/// of the engine design, from memory); at a millivolt it is cold: a tenth of 6.857 ohms.
#[test]
fn filament_follows_the_lamp_law() {
    for (emf, amps) in
        [(12.0, 1.75), (6.0, 1.75 * 0.5_f64.powf(0.55)), (-6.0, -1.75 * 0.5_f64.powf(0.55)), (0.001, 0.001 / 0.6857)]
    {
        let mut c = Circuit::default();
        c.source("B", "plus", "minus", emf, 1e-6);
        let lamp = c.lamp("L", "plus", "minus", 12.0 * 12.0 / 21.0, 12.0);
        let n = Network::new(&c.netlist);
        let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
        near(state.current(lamp).get(), amps, amps.abs() * 1e-4);
    }
}

/// Two unlike lamps in series share the voltage by their law: the same current, so the voltages are in
/// the ratio (hot1 / hot2)^(1 / 0.55).
#[test]
fn lamps_in_series_share_by_their_law() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 1e-6);
    let first = c.lamp("L1", "plus", "a", 6.857, 12.0);
    let second = c.lamp("L2", "a", "minus", 28.8, 12.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let ratio = (6.857_f64 / 28.8).powf(1.0 / 0.55);
    near(state.drop(first).get() / state.drop(second).get(), ratio, 1e-6 * ratio);
}

/// 20 W through 0.5 ohm from 12 V: V^2 - 12 V + 10 = 0, the higher root is 6 + sqrt(26) = 11.099 V.
#[test]
fn constant_power_takes_the_high_voltage_solution() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.5);
    let load = c.power("P", "plus", "minus", 20.0, 8.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    near(state.drop(load).get(), 6.0 + 26.0_f64.sqrt(), 1e-9);
    assert_eq!(state.state(load), ElementState::Power(true));
    // Its current rises as the supply sags: with a further ohm V^2 - 12 V + 30 = 0, 6 + sqrt(6) = 8.449 V.
    let bad = [Edit::Series(ElementId::new(0), ohms(1.0))];
    let state = enter(&n, &bad, &n.fresh(), &c.with(&[]));
    near(state.drop(load).get(), 6.0 + 6.0_f64.sqrt(), 1e-9);
}

/// Behind 3 ohms 20 W has no operating point (12^2 / 4 / 3 = 12 W at most): it cuts out and leaks.
#[test]
fn constant_power_cuts_out_where_there_is_no_operating_point() {
    let mut c = Circuit::default();
    let source = c.source("B", "plus", "minus", 12.0, 0.5);
    let load = c.power("P", "plus", "minus", 20.0, 8.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[Edit::Series(source, ohms(2.5))], &n.fresh(), &c.with(&[]));
    assert_eq!(state.state(load), ElementState::Power(false));
    near(state.drop(load).get(), 12.0 * 50e3 / 50_003.0, 1e-9);
    assert!(state.chatter().is_empty());
}

/// Of two on one weak feed the one with the higher cut-off goes out and the other stays.
#[test]
fn weakest_constant_power_cuts_out_first() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 1.0);
    let high = c.power("P1", "plus", "minus", 15.0, 10.0);
    let low = c.power("P2", "plus", "minus", 20.0, 6.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(state.state(high), ElementState::Power(false));
    assert_eq!(state.state(low), ElementState::Power(true));
    // V^2 - 12 V + 20 = 0: 10 V exactly, but for what the other leaks (50 kilohms).
    near(state.drop(low).get(), 10.0, 0.001);
}

/// A reversed polarised load draws only its leakage.
#[test]
fn polarised_power_draws_nothing_reversed() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.5);
    let load = c.power("P", "minus", "plus", 20.0, 8.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(state.state(load), ElementState::Power(false));
    near(state.current(load).get(), -12.0 / 50_000.5, 1e-12);
}

/// Motor: winding 0.5 ohm, running 4 ohms, starts at 4 V across the winding, stops below 2 V. Healthy it
/// runs: 12 * 4 / 4.1. Behind 2 ohms it stalls: 12 * 0.5 / 2.6 = 2.3 V, and never starts. Once running it
/// would keep on (12 * 4 / 6.1 = 7.9 V).
#[test]
fn motor_stalls_behind_a_bad_joint() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.05);
    let joint = c.resistor("J", "plus", "a", 0.05);
    let motor = c.motor("M", "a", "minus", (0.5, 4.0), (4.0, 2.0));
    let n = Network::new(&c.netlist);
    let runs = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(runs.state(motor), ElementState::Motor(true));
    near(runs.drop(motor).get(), 12.0 * 4.0 / 4.1, 1e-9);
    let bad = [Edit::Series(joint, ohms(2.0))];
    let stalled = enter(&n, &bad, &n.fresh(), &c.with(&[]));
    assert_eq!(stalled.state(motor), ElementState::Motor(false));
    near(stalled.drop(motor).get(), 12.0 * 0.5 / 2.6, 1e-9);
    let running = enter(&n, &bad, runs.memory(), &c.with(&[]));
    assert_eq!(running.state(motor), ElementState::Motor(true));
    near(running.drop(motor).get(), 12.0 * 4.0 / 6.1, 1e-9);
}

/// A 30 A supply shorted by a milliohm holds 30 A; a load of 10 ohms has its full 24 V.
#[test]
fn limited_source_holds_its_current() {
    let mut c = Circuit::default();
    let source = c.limited("U", "plus", "minus", 24.0, 0.001, Some(30.0));
    c.resistor("L", "plus", "minus", 10.0);
    let n = Network::new(&c.netlist);
    let fine = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(fine.state(source), ElementState::Source(false));
    near(fine.drop(source).get(), 24.0 * 10.0 / 10.001, 1e-9);
    let short = [Edit::Bridge(c.id("plus"), c.id("minus"), ohms(0.001))];
    let shorted = enter(&n, &short, &n.fresh(), &c.with(&[]));
    assert_eq!(shorted.state(source), ElementState::Source(true));
    near(shorted.current(source).get(), -30.0, 30.0 * 1e-6);
}

/// A 480 V supply behind a milliohm, shorted by a milliohm: 240 kA, 240 V, no failed solve.
#[test]
fn shorted_stiff_supply_is_solved() {
    let mut c = Circuit::default();
    let source = c.source("U", "plus", "minus", 480.0, 0.001);
    c.resistor("L", "plus", "minus", 1e6);
    let n = Network::new(&c.netlist);
    let short = [Edit::Bridge(c.id("plus"), c.id("minus"), ohms(0.001))];
    let state = enter(&n, &short, &n.fresh(), &c.with(&[]));
    near(state.drop(source).get(), 240.0, 1e-6);
    near(state.current(source).get(), -240e3, 0.01);
}

/// A converter 12 V to 5 V, 80 %: 5 V over 5 ohms is 5 W, so it draws 6.25 W; behind 0.5 ohm
/// V^2 - 12 V + 3.125 = 0 gives 6 + sqrt(32.875) (idle 1 megohm is nothing). Its output is an island.
#[test]
fn converter_draws_what_it_delivers() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.5);
    let (input, output) = (ElementId::new(1), ElementId::new(2));
    c.add(
        "C.in",
        "plus",
        "minus",
        Primitive::ConverterInput { output, efficiency: 0.8, cut_off: volts(9.0), idle: ohms(1e6), enable: None },
    );
    c.add(
        "C.out",
        "o",
        "g",
        Primitive::ConverterOutput { emf: volts(5.0), internal: ohms(1e-6), limit: Some(Amps::new(2.0)), input },
    );
    c.resistor("L", "o", "g", 5.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    near(state.drop(input).get(), 6.0 + 32.875_f64.sqrt(), 1e-4);
    near(state.drop(output).get(), 5.0, 1e-5);
    assert_eq!(state.voltage(c.id("o"), c.id("minus")), None);
    // Shorted at its output it holds 2 A and draws next to nothing.
    let short = [Edit::Bridge(c.id("o"), c.id("g"), ohms(0.001))];
    let shorted = enter(&n, &short, &n.fresh(), &c.with(&[]));
    near(shorted.current(output).get(), -2.0, 1e-5);
    near(shorted.current(input).get(), 2.0 * 2.0 * 0.001 / 0.8 / 12.0, 1e-4);
    // Behind 5 ohms more it has no operating point at 9 V or above and is off.
    let weak = [Edit::Series(ElementId::new(0), ohms(5.0))];
    let off = enter(&n, &weak, &n.fresh(), &c.with(&[]));
    assert_eq!(off.state(input), ElementState::Power(false));
    assert_eq!(off.voltage(c.id("o"), c.id("g")).map(Volts::get), Some(0.0));
}

/// An alternator: open while the engine stands, 14.4 V once it runs.
#[test]
fn source_follows_its_control() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.1);
    let control: ControlId = c.control("engine");
    let alternator = c.add(
        "G",
        "plus",
        "minus",
        Primitive::Source {
            emf: Emf::By { control, volts: vec![None, Some(volts(14.4))] },
            internal: ohms(0.1),
            limit: None,
        },
    );
    c.resistor("L", "plus", "minus", 1e6);
    let n = Network::new(&c.netlist);
    let still = enter(&n, &[], &n.fresh(), &c.with(&[]));
    near(still.current(alternator).get(), 0.0, 0.0);
    near(still.drop(alternator).get(), 12.0, 1e-5);
    let runs = enter(&n, &[], &n.fresh(), &c.with(&["engine"]));
    near(runs.drop(alternator).get(), 13.2, 1e-5);
    near(runs.current(alternator).get(), -12.0, 1e-3);
}

/// Three LEDs of 2 V in series with 300 ohms on 12 V: (12 - 6) / (300 + 3 * 10) = 18 mA, though the nodes
/// between them float while they are dark. One of them reversed: nothing flows.
#[test]
fn leds_in_series_light() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 1e-6);
    let resistor = c.resistor("R", "plus", "a", 300.0);
    c.diode("D1", "a", "b", 2.0, 10.0);
    let middle = c.diode("D2", "b", "c", 2.0, 10.0);
    c.diode("D3", "c", "minus", 2.0, 10.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    near(state.current(resistor).get(), 6.0 / 330.0, 1e-9);
    let (from, to) = (c.id("b"), c.id("c"));
    let reversed =
        [Edit::Move { element: middle, from_end: true, to }, Edit::Move { element: middle, from_end: false, to: from }];
    let dark = enter(&n, &reversed, &n.fresh(), &c.with(&[]));
    // Nothing flows but the rounding of a factor.
    near(dark.current(resistor).get(), 0.0, 1e-30);
}

/// A switch that is on 30 % of the time onto 11.98 ohms from 12 V: a meter reads the mean. On: 12 V * 11.98 /
/// 12; off: the leakage of a megohm.
#[test]
fn pulsed_switch_reads_its_mean() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 1e-6);
    let control = c.control("S");
    let switch = Primitive::ElectronicSwitch {
        on: ohms(0.02),
        leakage: ohms(1e6),
        trip: None,
        on_share: 0.3,
        drive: halfsplit::circuit::Drive::Control { control, positions: vec![1] },
    };
    let switch = c.add("Q", "plus", "load", switch);
    let load = c.resistor("L", "load", "minus", 11.98);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&["S"]));
    let off = 12.0 * 11.98 / 1e6;
    near(state.drop(load).get(), 0.3 * 11.98 + 0.7 * off, 1e-5);
    assert_eq!(state.state(switch), ElementState::Contact(true));
    assert!(state.chatter().is_empty());
    let meter = halfsplit::network::Instrument::Voltmeter(ohms(10e6));
    let met = n.measure(&state, &meter, c.id("load"), c.id("minus")).unwrap();
    near(met.volts.get(), 0.3 * 11.98 + 0.7 * off, 1e-5);
    assert!(met.swing <= 0.0);
    let rest = enter(&n, &[], state.memory(), &c.with(&[]));
    near(rest.drop(load).get(), off, 1e-6);
}
