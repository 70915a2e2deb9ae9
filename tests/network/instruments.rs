//! Instruments are part of the reading.

use crate::support::circuits::{Circuit, enter, makes, near, ohms, volts};
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::Edit;
use halfsplit::network::{Instrument, Network};

const METER: Instrument = Instrument::Voltmeter(halfsplit::units::Ohms::new(10e6));
/// 21 W at 12 V is 6.86 ohms; a test lamp is a small one: 3 W, 48 ohms.
const LAMP: Instrument =
    Instrument::TestLamp { hot: halfsplit::units::Ohms::new(48.0), nominal: halfsplit::units::Volts::new(12.0) };

/// A wire broken off reads nothing on a meter (0 V) and is told apart from a real 0 V.
#[test]
fn floating_wire_reads_nothing() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    let wire = c.resistor("W", "plus", "a", 0.1);
    c.resistor("W2", "a", "b", 0.1);
    let n = Network::new(&c.netlist);
    let cut = enter(&n, &[Edit::Open(wire)], &n.fresh(), &c.with(&[]));
    let met = n.measure(&cut, &METER, c.id("b"), c.id("minus")).unwrap();
    assert!(met.floating);
    near(met.volts.get(), 0.0, 0.0);
    assert_eq!(cut.voltage(c.id("b"), c.id("minus")), None);
    let whole = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let met = n.measure(&whole, &METER, c.id("b"), c.id("minus")).unwrap();
    assert!(!met.floating);
    near(met.volts.get(), 12.0, 1e-6);
}

/// Behind a dark LED (1.8 V, 680 ohms) a 10 megohm meter reads a ghost voltage: 12 V less 1.8 V, and 1
/// microamp through 680 ohms is nothing: 10.2 V * 10e6 / 10.00068e6. A test lamp stays dark: 15 mA through
/// its cold filament (4.8 ohms) is 0.07 V.
#[test]
fn ghost_voltage_behind_a_dark_led() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.diode("LED", "plus", "a", 1.8, 680.0);
    c.switch("S", "a", "minus");
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let met = n.measure(&state, &METER, c.id("a"), c.id("minus")).unwrap();
    near(met.volts.get(), 10.2 * 10e6 / 10.000_68e6, 1e-6);
    assert!(!met.floating);
    let met = n.measure(&state, &LAMP, c.id("a"), c.id("minus")).unwrap();
    near(met.volts.get(), 10.2 * 4.8 / 684.81, 1e-4);
}

/// A corroded joint of 2 ohms reads healthy with no load (the 2 ohms drop 2.4 microvolts at the meter's
/// microamp) and collapses under 2 ohms of load: 12 * 2 / 4.01.
#[test]
fn bad_joint_shows_only_under_load() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.resistor("J", "plus", "a", 2.0);
    c.switch("S", "a", "b");
    c.resistor("L", "b", "minus", 1.99);
    let n = Network::new(&c.netlist);
    let open = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let met = n.measure(&open, &METER, c.id("a"), c.id("minus")).unwrap();
    near(met.volts.get(), 12.0, 1e-5);
    let loaded = enter(&n, &[], &n.fresh(), &c.with(&["S"]));
    let met = n.measure(&loaded, &METER, c.id("a"), c.id("minus")).unwrap();
    // Contact and load are 2 ohms.
    near(met.volts.get(), 12.0 * 2.0 / 4.01, 1e-5);
}

/// A meter's 10 megohms across 1 megohm of a divider: (1 || 10) / (1 + 1 || 10) of 12 V.
#[test]
fn meter_loads_what_it_measures() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.resistor("R1", "plus", "a", 1e6);
    c.resistor("R2", "a", "minus", 1e6);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let met = n.measure(&state, &METER, c.id("a"), c.id("minus")).unwrap();
    let both = 10.0 / 11.0;
    near(met.volts.get(), 12.0 * both / (1.0 + both), 1e-6);
    near(met.amps.get(), met.volts.get() / 10e6, 1e-15);
}

/// A test lamp across an open contact feeds the coil behind it and pulls the relay in; the meter does not.
#[test]
fn test_lamp_may_pull_a_relay_in() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.switch("S", "plus", "a");
    let coil = c.coil("K", "a", "minus", 80.0, (8.0, 3.0));
    c.contact("K.30", "plus", "out", makes(coil));
    c.resistor("L", "out", "minus", 12.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let met = n.measure(&state, &LAMP, c.id("plus"), c.id("a")).unwrap();
    // The filament is nearly cold: the coil takes most of it. Solving I = (V / 12)^0.55 / 4 = (12 - V) / 80
    // by hand gives V = 1.83 V over the lamp.
    let v = met.volts.get();
    near((v / 12.0_f64).powf(0.55) / 4.0, met.amps.get(), 1e-9);
    near((12.0 - v) / 80.0, met.amps.get(), 1e-3);
    let met = n.measure(&state, &METER, c.id("plus"), c.id("a")).unwrap();
    near(met.volts.get(), 12.0, 1e-3);
}

/// An LED tester (1.8 V, 470 ohms) lights either way round: (12 - 1.8) / 470 = 21.7 mA.
#[test]
fn led_tester_lights_either_way_round() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.001);
    c.resistor("R", "plus", "minus", 100.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    let tester = Instrument::LedTester { forward: volts(1.8), series: ohms(470.0) };
    let met = n.measure(&state, &tester, c.id("plus"), c.id("minus")).unwrap();
    near(met.amps.get(), 10.2 / 470.0, 1e-5);
    let met = n.measure(&state, &tester, c.id("minus"), c.id("plus")).unwrap();
    near(met.amps.get(), -10.2 / 470.0, 1e-5);
    near(met.volts.get(), -12.0, 1e-3);
}

/// Across a chattering coil the reading jumps; across the battery it hardly does.
#[test]
fn chatter_makes_a_reading_unsteady() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.001);
    let coil = c.coil("K", "feed", "minus", 80.0, (8.0, 3.0));
    c.contact("K.87a", "plus", "feed", crate::support::circuits::breaks(coil));
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert!(n.measure(&state, &METER, c.id("feed"), c.id("minus")).unwrap().swing > 1.0);
    assert!(n.measure(&state, &METER, c.id("plus"), c.id("minus")).unwrap().swing < 1.0);
}

/// What is said to float without a solve is what the solve with the meter in place finds: a meter between two islands closes no
/// ring and carries nothing (Kirchhoff's current law), unless diodes that are dark close one.
#[test]
fn what_floats_reads_nothing_when_it_is_solved() {
    let (mut floating, mut behind_diodes) = (0, 0);
    for seed in 0..60 {
        let mut dice = Dice::new(seed + 1);
        let circuit = board(&mut dice, 3);
        let edits = [fault(&mut dice, &circuit)];
        let set_up = set_up(&mut dice, &circuit);
        let network = Network::new(&circuit.netlist);
        for branch in network.enter(&edits, &network.fresh(), &set_up).unwrap() {
            for a in circuit.netlist.nodes.ids() {
                for b in circuit.netlist.nodes.ids().filter(|b| *b > a) {
                    if branch.state.voltage(a, b).is_some() {
                        assert!(!branch.state.floats(a, b));
                    } else if branch.state.floats(a, b) {
                        let met = network.measure(&branch.state, &Instrument::Voltmeter(ohms(1e7)), a, b).unwrap();
                        assert!(met.floating && met.volts.get().abs() < 1e-9, "{seed}: {met:?}");
                        floating += 1;
                    } else {
                        behind_diodes += 1;
                    }
                }
            }
        }
    }
    assert!(floating > 1000 && behind_diodes > 0, "{floating} {behind_diodes}");
}
