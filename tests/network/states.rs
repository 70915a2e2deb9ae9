//! Relays, fuses, diodes and loads, each against a calculation by hand.

use crate::support::circuits::{Circuit, enter, makes, near};
use halfsplit::network::{ElementState, Network};

/// 12 V through 10 ohms onto an 80 ohm coil: pulls in at 8 V or more (10.67 V), and holds when the feed
/// sinks to 6 V (5.33 V), because it lets go only below 3 V. Pull-in and release: common practice for
/// 12 V relays (two thirds and a quarter of nominal).
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
    // At rest 12 * 80 / 160.01 = 6.0 V: not enough to pull in.
    let rest = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(rest.state(coil), ElementState::Coil(false));
    near(rest.drop(coil).get(), 6.0, 0.001);
    let on = enter(&n, &[], rest.memory(), &c.with(&["S"]));
    assert_eq!(on.state(coil), ElementState::Coil(true));
    // Back at rest the 5.98 V (the load costs a little) hold it.
    let held = enter(&n, &[], on.memory(), &c.with(&[]));
    assert_eq!(held.state(coil), ElementState::Coil(true));
}
