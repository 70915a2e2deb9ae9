//! Fuses and breakers: which opens, in which order, and how it closes again.

use crate::support::circuits::{Circuit, enter, near, ohms};
use halfsplit::circuit::{Edit, ElementId, Reset};
use halfsplit::network::{ElementState, Network};

fn whole(fuse: bool) -> ElementState {
    ElementState::Fuse(fuse)
}

/// A 30 A main and a 10 A branch fuse, 12.6 V, 0.05 ohm of wire, load 2 ohms.
fn branched(reset: Reset) -> (Circuit, ElementId, ElementId) {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.6, 0.02);
    let main = c.fuse("F0", "plus", "bus", 30.0, Reset::Never);
    let branch = c.fuse("F1", "bus", "out", 10.0, reset);
    c.switch("S", "out", "w");
    c.resistor("W", "w", "load", 0.05);
    c.resistor("L", "load", "minus", 2.0);
    c.resistor("other", "bus", "minus", 4.0);
    (c, main, branch)
}

/// A dead short draws 12.6 / 0.101 = 125 A: 12.5 times the branch's rating (0.1 s * (6 / 12.5)^2 = 23 ms)
/// and 4.2 times the main's (some 0.3 s): the branch fuse opens, the main stays whole.
#[test]
fn quicker_fuse_opens_first_and_saves_the_other() {
    let (c, main, branch) = branched(Reset::Never);
    let n = Network::new(&c.netlist);
    let short = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(0.001))];
    let state = enter(&n, &short, &n.fresh(), &c.with(&["S"]));
    assert_eq!(state.state(branch), whole(false));
    assert_eq!(state.state(main), whole(true));
    // The blown fuse is remembered, the short being gone.
    let later = enter(&n, &[], state.memory(), &c.with(&["S"]));
    assert_eq!(later.state(branch), whole(false));
    let bus = later.voltage(c.id("bus"), c.id("minus")).unwrap().get();
    near(bus, 12.6 * 4.0 / 4.03, 1e-9);
    let replaced = enter(&n, &[], &state.memory().clone().renewed(branch), &c.with(&["S"]));
    assert_eq!(replaced.state(branch), whole(true));
}

/// Two equal fuses in series with the short race: half and half.
#[test]
fn equal_fuses_in_series_race() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.6, 0.02);
    let first = c.fuse("F1", "plus", "a", 10.0, Reset::Never);
    let second = c.fuse("F2", "a", "load", 10.0, Reset::Never);
    c.resistor("L", "load", "minus", 2.0);
    let n = Network::new(&c.netlist);
    let short = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(0.001))];
    let branches = n.enter(&short, &n.fresh(), &c.with(&[])).unwrap();
    assert_eq!(branches.len(), 2);
    let mut blown = Vec::new();
    for branch in &branches {
        near(branch.weight, 0.5, 1e-12);
        blown.push((branch.state.state(first), branch.state.state(second)));
    }
    assert!(blown.contains(&(whole(false), whole(true))));
    assert!(blown.contains(&(whole(true), whole(false))));
}

/// Two equal fuses side by side: when one opens the other carries all and opens too, so the race has one
/// end.
#[test]
fn fuses_in_parallel_both_open() {
    let mut c = Circuit::default();
    c.source("B", "plus", "minus", 12.6, 0.02);
    let first = c.fuse("F1", "plus", "load", 10.0, Reset::Never);
    let second = c.fuse("F2", "plus", "load", 10.0, Reset::Never);
    c.resistor("L", "load", "minus", 0.2);
    let n = Network::new(&c.netlist);
    // 12.6 / 0.225 = 56 A, 28 A each.
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!((state.state(first), state.state(second)), (whole(false), whole(false)));
}

/// Below the first point of its gate a fuse holds for ever: 12.6 V over 0.93 + 0.08 ohms is 12.5 A, less
/// than 1.35 times 10 A.
#[test]
fn small_overload_is_held() {
    let (c, _, branch) = branched(Reset::Never);
    let n = Network::new(&c.netlist);
    let load = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(1.74))];
    let state = enter(&n, &load, &n.fresh(), &c.with(&["S"]));
    let amps = state.current(branch).get();
    assert!(amps > 10.0 && amps < 13.5, "{amps}");
    assert_eq!(state.state(branch), whole(true));
}

/// A breaker that resets by itself cycles while the short lasts, and has forgotten it afterwards.
#[test]
fn self_resetting_breaker_cycles() {
    let (c, main, breaker) = branched(Reset::ByItself);
    let n = Network::new(&c.netlist);
    let short = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(0.001))];
    let state = enter(&n, &short, &n.fresh(), &c.with(&["S"]));
    assert_eq!(state.chatter(), [breaker]);
    assert_eq!(state.state(main), whole(true));
    let healthy = enter(&n, &[], state.memory(), &c.with(&["S"]));
    assert!(healthy.chatter().is_empty());
    assert_eq!(healthy.state(breaker), whole(true));
}

/// A breaker that resets when dead stays open while the switch is on, and is in again after the switch was
/// off: the next set-up passes through rest.
#[test]
fn breaker_resets_when_dead() {
    let (c, _, breaker) = branched(Reset::WhenDead);
    let n = Network::new(&c.netlist);
    let short = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(0.001))];
    let state = enter(&n, &short, &n.fresh(), &c.with(&["S"]));
    assert_eq!(state.state(breaker), whole(false));
    assert!(state.chatter().is_empty());
    let healthy = enter(&n, &[], state.memory(), &c.with(&["S"]));
    assert_eq!(healthy.state(breaker), whole(true));
}

/// A breaker reset by hand stays open until then.
#[test]
fn breaker_reset_by_hand_stays_open() {
    let (c, _, breaker) = branched(Reset::ByHand);
    let n = Network::new(&c.netlist);
    let short = [Edit::Bridge(c.id("load"), c.id("minus"), ohms(0.001))];
    let state = enter(&n, &short, &n.fresh(), &c.with(&["S"]));
    let later = enter(&n, &[], state.memory(), &c.with(&["S"]));
    assert_eq!(later.state(breaker), whole(false));
    let reset = enter(&n, &[], &state.memory().clone().renewed(breaker), &c.with(&["S"]));
    assert_eq!(reset.state(breaker), whole(true));
}
