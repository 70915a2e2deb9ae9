//! Relays, latches and contacts, each against a calculation by hand.

use crate::support::circuits::{Circuit, breaks, enter, makes, near, ohms};
use halfsplit::circuit::{Drive, Edit};
use halfsplit::network::{ElementState, Network};

/// 12 V through 10 and 70 ohms onto an 80 ohm coil gives 12 * 80 / 160.01 = 6.0 V: less than the 8 V at
/// which it pulls in, more than the 3 V below which it lets go. With S closed it has 12 * 80 / 90 = 10.7 V.
/// Pull-in and release: common practice for 12 V relays (two thirds and a quarter of nominal).
#[test]
fn relay_has_hysteresis() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.resistor("R1", "plus", "a", 10.0);
    c.resistor("R2", "a", "feed", 70.0);
    c.switch("S", "a", "feed");
    let coil = c.coil("K", "feed", "minus", 80.0, (8.0, 3.0));
    c.contact("K.30", "plus", "load", makes(coil));
    c.resistor("L", "load", "minus", 6.0);
    let n = Network::new(&c.netlist);
    let rest = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(rest.state(coil), ElementState::Coil(false));
    near(rest.drop(coil).get(), 6.0, 0.001);
    let on = enter(&n, &[], rest.memory(), &c.with(&["S"]));
    assert_eq!(on.state(coil), ElementState::Coil(true));
    // Back at rest the 6 V (the load costs 10 mV) hold it.
    let held = enter(&n, &[], on.memory(), &c.with(&[]));
    assert_eq!(held.state(coil), ElementState::Coil(true));
}

/// A relay that feeds its own coil stays in after the button is released, until the feed is broken.
#[test]
fn relay_holds_by_back_feed() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.switch("main", "plus", "live");
    c.switch("button", "live", "feed");
    let coil = c.coil("K", "feed", "minus", 80.0, (8.0, 3.0));
    let own = c.contact("K.30", "live", "feed", makes(coil));
    let n = Network::new(&c.netlist);
    // `main` is at rest open: every set-up passes through rest and drops the relay.
    let pressed = enter(&n, &[], &n.fresh(), &c.with(&["main", "button"]));
    assert_eq!(pressed.state(coil), ElementState::Coil(true));
    let after = enter(&n, &[], pressed.memory(), &c.with(&["main"]));
    assert_eq!(after.state(coil), ElementState::Coil(false));
    // With `main` bridged the circuit stays live at rest and the relay holds itself.
    let bridge = [Edit::Bridge(c.id("plus"), c.id("live"), ohms(0.001))];
    let pressed = enter(&n, &bridge, &n.fresh(), &c.with(&["button"]));
    let after = enter(&n, &bridge, pressed.memory(), &c.with(&[]));
    assert_eq!(after.state(coil), ElementState::Coil(true));
    assert_eq!(after.state(own), ElementState::Contact(true));
    // A relay never pulled in does not come in by itself.
    let fresh = enter(&n, &bridge, &n.fresh(), &c.with(&[]));
    assert_eq!(fresh.state(coil), ElementState::Coil(false));
}

/// A coil fed through its own break contact buzzes: it opens its feed, lets go, and closes it again. Half
/// the states have 12 V on it, so the mean is 6 V.
#[test]
fn coil_behind_its_own_break_contact_chatters() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.001);
    c.switch("S", "plus", "live");
    let coil = c.coil("K", "feed", "minus", 80.0, (8.0, 3.0));
    let contact = c.contact("K.87a", "live", "feed", breaks(coil));
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&["S"]));
    assert_eq!(state.chatter(), [coil, contact]);
    near(state.drop(coil).get(), 6.0, 0.01);
    let rest = enter(&n, &[], state.memory(), &c.with(&[]));
    assert!(rest.chatter().is_empty());
}

/// A latch stays where the coil energised last has put it, through set-ups in which both are dead.
#[test]
fn latch_remembers() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.switch("on", "plus", "s");
    c.switch("off", "plus", "r");
    let set = c.coil("K.set", "s", "minus", 80.0, (8.0, 3.0));
    let reset = c.coil("K.reset", "r", "minus", 80.0, (8.0, 3.0));
    let contact = c.contact("K.30", "plus", "load", Drive::Latch { set, reset });
    let load = c.resistor("L", "load", "minus", 12.0);
    let n = Network::new(&c.netlist);
    let mut memory = n.fresh();
    for (press, closed) in [(None, false), (Some("on"), true), (None, true), (Some("off"), false), (None, false)] {
        let state = enter(&n, &[], &memory, &c.with(press.as_slice()));
        assert_eq!(state.state(contact), ElementState::Contact(closed), "{press:?}");
        // 12 V over 12 ohms and 20 milliohms; a coil of 150 mA costs 1.5 mV more.
        near(state.current(load).get(), if closed { 12.0 / 12.02 } else { 0.0 }, 2e-4);
        memory = state.memory().clone();
    }
}

/// A stepping relay changes at each pulse.
#[test]
fn stepping_contact_changes_at_each_pulse() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.switch("push", "plus", "p");
    let coil = c.coil("K", "p", "minus", 80.0, (8.0, 3.0));
    let contact = c.contact("K.1", "plus", "load", Drive::Step { coil });
    c.resistor("L", "load", "minus", 12.0);
    let n = Network::new(&c.netlist);
    let mut memory = n.fresh();
    for closed in [true, false, true] {
        let state = enter(&n, &[], &memory, &c.with(&["push"]));
        assert_eq!(state.state(contact), ElementState::Contact(closed));
        memory = enter(&n, &[], state.memory(), &c.with(&[])).memory().clone();
    }
}

/// A contact of several coils is moved by any of them.
#[test]
fn any_of_several_coils_moves_a_contact() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.switch("a", "plus", "x");
    c.switch("b", "plus", "y");
    let coils = vec![c.coil("K1", "x", "minus", 80.0, (8.0, 3.0)), c.coil("K2", "y", "minus", 80.0, (8.0, 3.0))];
    let contact = c.contact("C", "plus", "load", Drive::Coils { coils, closed_at_rest: false });
    c.resistor("L", "load", "minus", 12.0);
    let n = Network::new(&c.netlist);
    for (on, closed) in [(&[][..], false), (&["a"], true), (&["b"], true), (&["a", "b"], true)] {
        let state = enter(&n, &[], &n.fresh(), &c.with(on));
        assert_eq!(state.state(contact), ElementState::Contact(closed), "{on:?}");
    }
}

/// A stuck contact ignores its coil, both ways.
#[test]
fn stuck_contact_ignores_its_coil() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.switch("S", "plus", "x");
    let coil = c.coil("K", "x", "minus", 80.0, (8.0, 3.0));
    let contact = c.contact("K.30", "plus", "load", makes(coil));
    let load = c.resistor("L", "load", "minus", 12.0);
    let n = Network::new(&c.netlist);
    let welded = enter(&n, &[Edit::Stuck(contact, true)], &n.fresh(), &c.with(&[]));
    assert_eq!(welded.state(coil), ElementState::Coil(false));
    near(welded.current(load).get(), 12.0 / 12.02, 1e-9);
    let dirty = enter(&n, &[Edit::Stuck(contact, false)], &n.fresh(), &c.with(&["S"]));
    assert_eq!(dirty.state(coil), ElementState::Coil(true));
    near(dirty.current(load).get(), 0.0, 0.0);
}

/// A milliohm across a coil behind a metre of thin wire (0.1 ohm): 12 * 0.001 / 0.111 = 0.108 V, no pull-in.
#[test]
fn bridged_coil_does_not_pull_in() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    c.resistor("W", "plus", "a", 0.1);
    let coil = c.coil("K", "a", "minus", 80.0, (8.0, 3.0));
    let n = Network::new(&c.netlist);
    let bridge = [Edit::Bridge(c.id("a"), c.id("minus"), ohms(0.001))];
    let state = enter(&n, &bridge, &n.fresh(), &c.with(&[]));
    assert_eq!(state.state(coil), ElementState::Coil(false));
    near(state.drop(coil).get(), 0.1081, 0.0001);
}

/// An electronic switch that trips at 5 A onto a 1 ohm load (12 A) stays off until it is commanded off.
#[test]
fn electronic_switch_trips_until_commanded_off() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    let control = c.control("S");
    let switch = c.add(
        "Q",
        "plus",
        "load",
        halfsplit::circuit::Primitive::ElectronicSwitch {
            on: ohms(0.02),
            leakage: ohms(1e6),
            trip: Some(halfsplit::units::Amps::new(5.0)),
            on_share: 1.0,
            drive: Drive::Control { control, positions: vec![1] },
        },
    );
    let load = c.resistor("L", "load", "minus", 12.0);
    let n = Network::new(&c.netlist);
    let on = enter(&n, &[], &n.fresh(), &c.with(&["S"]));
    assert_eq!(on.state(switch), ElementState::Contact(true));
    let short = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(1.0))];
    let tripped = enter(&n, &short, &n.fresh(), &c.with(&["S"]));
    assert_eq!(tripped.state(switch), ElementState::Contact(false));
    // Only the leakage is left: 12 V * 1 / 1e6, most of it through the 1 ohm.
    near(tripped.current(load).get(), 12.0 / 1e6 / 13.0, 1e-9);
    let again = enter(&n, &[], tripped.memory(), &c.with(&["S"]));
    assert_eq!(again.state(switch), ElementState::Contact(true));
}

/// Stages go in file order: K2 is fed through K1's break contact, so whichever comes first wins.
#[test]
fn controls_move_in_file_order() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    let first = c.coil("K1", "a", "minus", 80.0, (8.0, 3.0));
    let second = c.coil("K2", "b", "minus", 80.0, (8.0, 3.0));
    c.contact("K2.nc", "plus", "p", breaks(second));
    c.contact("K1.nc", "plus", "q", breaks(first));
    c.switch("S1", "p", "a");
    c.switch("S2", "q", "b");
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&["S1", "S2"]));
    assert_eq!(state.state(first), ElementState::Coil(true));
    assert_eq!(state.state(second), ElementState::Coil(false));
    assert!(state.chatter().is_empty());
}

/// A joint of 80 ohms inside an 80 ohm coil leaves the winding 6 V of 12: it stays silent (8 V needed). 20 ohms
/// leave 9.6 V.
#[test]
fn joint_inside_a_coil_takes_its_share() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.0, 0.01);
    let coil = c.coil("K", "plus", "minus", 80.0, (8.0, 3.0));
    let n = Network::new(&c.netlist);
    for (joint, pulled) in [(80.0, false), (20.0, true)] {
        let state = enter(&n, &[Edit::Series(coil, ohms(joint))], &n.fresh(), &c.with(&[]));
        assert_eq!(state.state(coil), ElementState::Coil(pulled));
    }
}
