//! Islands, edits, and circuits with nothing in them.

use crate::support::circuits::{Circuit, enter, near, ohms};
use halfsplit::circuit::{Edit, ElementId, Netlist, NodeId, SetUp};
use halfsplit::index::Id;
use halfsplit::network::{Instrument, Network};

/// Two supplies with nothing between them: each has its own voltages, none stands between them; a bridge
/// between the minus posts joins them.
#[test]
fn separate_supplies_are_islands() {
    let mut c = Circuit::default();
    c.source("A", "a+", "a-", 12.0, 0.01);
    c.source("B", "b+", "b-", 24.0, 0.01);
    c.resistor("R", "a+", "a-", 10.0);
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    assert_eq!(state.voltage(c.id("a+"), c.id("b-")), None);
    near(state.voltage(c.id("b+"), c.id("b-")).unwrap().get(), 24.0, 1e-12);
    near(state.voltage(c.id("a-"), c.id("a+")).unwrap().get(), -12.0 * 10.0 / 10.01, 1e-12);
    let bridge = [Edit::Bridge(c.id("a-"), c.id("b-"), ohms(0.1))];
    let state = enter(&n, &bridge, &n.fresh(), &c.with(&[]));
    let between = state.voltage(c.id("b+"), c.id("a+")).unwrap().get();
    near(between, 24.0 - 12.0 * 10.0 / 10.01, 1e-9);
}

/// A crossed end: the load's far end on the plus instead of the minus has no voltage across it.
#[test]
fn moved_end_is_on_its_new_node() {
    let mut c = Circuit::default();
    c.source("A", "plus", "minus", 12.0, 0.01);
    let load = c.resistor("R", "plus", "minus", 10.0);
    let n = Network::new(&c.netlist);
    let edit = Edit::Move { element: load, from_end: false, to: c.id("plus") };
    let state = enter(&n, &[edit], &n.fresh(), &c.with(&[]));
    near(state.drop(load).get(), 0.0, 0.0);
    near(state.voltage(c.id("plus"), c.id("minus")).unwrap().get(), 12.0, 1e-12);
}

/// Edits apply in order: a joint of 2 ohms inside the load, then an open circuit, then a new load; an
/// opened element stays open, also when it is replaced afterwards (documented at `Edit`).
#[test]
fn edits_apply_in_order() {
    let mut c = Circuit::default();
    c.source("A", "plus", "minus", 12.0, 1.0);
    let load = c.resistor("R", "plus", "minus", 3.0);
    let n = Network::new(&c.netlist);
    let series = Edit::Series(load, ohms(2.0));
    let state = enter(&n, std::slice::from_ref(&series), &n.fresh(), &c.with(&[]));
    near(state.current(load).get(), 2.0, 1e-12);
    let new = halfsplit::circuit::Primitive::Resistance { ohms: ohms(5.0) };
    let edits = [series, Edit::Open(load), Edit::Replace(load, new)];
    let open = enter(&n, &edits[..2], &n.fresh(), &c.with(&[]));
    near(open.current(load).get(), 0.0, 0.0);
    // What is open stays open: two faults of one part add up in either order.
    let replaced = enter(&n, &edits, &n.fresh(), &c.with(&[]));
    near(replaced.current(load).get(), 0.0, 0.0);
    let only_replaced = enter(&n, &edits[2..], &n.fresh(), &c.with(&[]));
    near(only_replaced.current(load).get(), 2.0, 1e-12);
}

/// Nothing at all, a node alone, an element on itself, an element on nodes that do not exist, edits of
/// elements that do not exist: an answer each time.
#[test]
fn degenerate_circuits_are_answered() {
    let empty = Netlist::default();
    let n = Network::new(&empty);
    let nowhere = [Edit::Open(ElementId::new(7)), Edit::Bridge(NodeId::new(3), NodeId::new(4), ohms(1.0))];
    let set_up = SetUp::at_rest(&empty.controls);
    let state = enter(&n, &nowhere, &n.fresh(), &set_up);
    assert_eq!(state.voltage(NodeId::new(0), NodeId::new(0)), None);
    let meter = Instrument::Voltmeter(ohms(10e6));
    assert!(n.measure(&state, &meter, NodeId::new(0), NodeId::new(1)).is_err());

    let mut c = Circuit::default();
    c.source("A", "x", "x", 12.0, 0.1);
    let loop_ = c.resistor("R", "x", "x", 0.0);
    c.netlist.elements.push(halfsplit::circuit::Element {
        name: "nowhere".to_owned(),
        from: NodeId::new(99),
        to: c.id("x"),
        primitive: halfsplit::circuit::Primitive::Resistance { ohms: ohms(1.0) },
    });
    let n = Network::new(&c.netlist);
    let state = enter(&n, &[], &n.fresh(), &c.with(&[]));
    near(state.voltage(c.id("x"), c.id("x")).unwrap().get(), 0.0, 0.0);
    near(state.drop(loop_).get(), 0.0, 0.0);
}
