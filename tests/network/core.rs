//! Circuits solved in the parts of them that carry something against the same solved whole.

use crate::cli::boards::system;
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::{ControlId, Edit, ElementId, Netlist, NodeId, SetUp};
use halfsplit::index::Id;
use halfsplit::network::{Branch, Instrument, Network};
use halfsplit::units::{Ohms, Volts};

/// Volts and amps over the larger of 1 and themselves by which the two may differ: rounding, of a sum over milliohms.
const ROUNDING: f64 = 1e-6;

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= ROUNDING * a.abs().max(1.0)
}

/// Compares all that can be asked of two operating points; what differs, in words.
fn differs(
    netlist: &Netlist,
    [parts, whole]: [&Network<'_>; 2],
    one: &Branch<'_>,
    other: &Branch<'_>,
    dice: &mut Dice,
) -> Option<String> {
    if (one.weight - other.weight).abs() > 1e-6 {
        return Some(format!("weights {} {}", one.weight, other.weight));
    }
    let (a, b) = (&one.state, &other.state);
    if a.chatter() != b.chatter() {
        return Some(format!("chatter {:?} {:?}", a.chatter(), b.chatter()));
    }
    for id in netlist.elements.ids() {
        let name = &netlist.elements[id].name;
        if a.state(id) != b.state(id) {
            return Some(format!("{name} is {:?} and {:?}", a.state(id), b.state(id)));
        }
        if !near(a.current(id).get(), b.current(id).get()) {
            return Some(format!("{name} carries {} and {}", a.current(id), b.current(id)));
        }
        if !near(a.drop(id).get(), b.drop(id).get()) {
            return Some(format!("{name} loses {} and {}", a.drop(id), b.drop(id)));
        }
        if a.jumps(id) != b.jumps(id) {
            return Some(format!("{name} jumps in one"));
        }
    }
    let nodes = netlist.nodes.len();
    for k in 0..60 {
        let (red, black) = (NodeId::new(dice.below(nodes)), NodeId::new(dice.below(nodes)));
        let named = || format!("{} against {}", netlist.nodes[red].name, netlist.nodes[black].name);
        match (a.voltage(red, black), b.voltage(red, black)) {
            (Some(x), Some(y)) if near(x.get(), y.get()) => {}
            (None, None) => {}
            (x, y) => return Some(format!("{}: {x:?} and {y:?}", named())),
        }
        match (a.plain_volts(red, black), b.plain_volts(red, black)) {
            (Some(x), Some(y)) if near(x.get(), y.get()) => {}
            (None, None) => {}
            (x, y) => return Some(format!("{} plainly: {x:?} and {y:?}", named())),
        }
        if a.floats(red, black) != b.floats(red, black) {
            return Some(format!("{} floats in one", named()));
        }
        if k < 3 {
            let meter = Instrument::Voltmeter(Ohms::new(1e7));
            let lamp = Instrument::TestLamp { hot: Ohms::new(60.0), nominal: Volts::new(12.0) };
            for instrument in [&meter, &lamp] {
                let x = parts.measure(a, instrument, red, black).unwrap();
                let y = whole.measure(b, instrument, red, black).unwrap();
                if !near(x.volts.get(), y.volts.get()) || x.floating != y.floating || !near(x.swing, y.swing) {
                    return Some(format!("{}: {instrument:?} shows {x:?} and {y:?}", named()));
                }
            }
            if let (Ok(x), Ok(y)) =
                (parts.sensitivities(a, &meter, red, black), whole.sensitivities(b, &meter, red, black))
            {
                let moved =
                    |e: &ElementId| !near(x.leading(*e), y.leading(*e)) || !near(x.relative(*e), y.relative(*e));
                if let Some(element) = netlist.elements.ids().find(moved) {
                    let name = &netlist.elements[element].name;
                    return Some(format!(
                        "{} moves with {name} by {} and {}",
                        named(),
                        x.leading(element),
                        y.leading(element)
                    ));
                }
            }
        }
    }
    None
}

/// Enters one set-up after the other under a suspect, in parts and whole.
fn compare(netlist: &Netlist, networks: [&Network<'_>; 2], edits: &[Edit], set_ups: &[SetUp], dice: &mut Dice) {
    let [parts, whole] = networks;
    let (mut before, mut there) = (parts.fresh(), whole.fresh());
    for set_up in set_ups {
        let (one, other) = (parts.enter(edits, &before, set_up), whole.enter(edits, &there, set_up));
        let (Ok(one), Ok(other)) = (&one, &other) else {
            assert!(one.is_err() && other.is_err(), "{edits:?}");
            return;
        };
        assert_eq!(one.len(), other.len(), "{edits:?}");
        for (x, y) in one.iter().zip(other) {
            let found = differs(netlist, networks, x, y, dice);
            assert!(found.is_none(), "{}: {edits:?} {:?}", found.unwrap_or_default(), set_up.positions);
        }
        (before, there) = (one[0].state.memory().clone(), other[0].state.memory().clone());
    }
}

/// Boards as they are built into vehicles, every suspect of them at both ends of its range; the set-ups turn on a way of the
/// first board, then one of the last too.
#[test]
fn every_suspect_of_some_boards_is_solved_in_its_own_part_alone() {
    let system = system(26);
    let netlist = &system.circuit.netlist;
    let networks = [&Network::in_parts(netlist), &Network::whole(netlist)];
    let rest = SetUp::at_rest(&netlist.controls);
    let first = rest.clone().with(ControlId::new(0), 1);
    let both = first.clone().with(ControlId::new(25), 1);
    let straight = SetUp { from_rest: false, ..rest.clone().with(ControlId::new(7), 1) };
    let mut dice = Dice::new(5);
    let suspects = &system.mistakes_too;
    for id in suspects.list().ids().filter(|id| id.position() % 5 == 0) {
        let ends = suspects.severity(id).map_or(vec![Ohms::ZERO], |range| vec![range.low, range.high]);
        for ohms in ends {
            let edits = suspects.edits(id, ohms, &[]);
            compare(
                netlist,
                networks,
                &edits,
                &[rest.clone(), first.clone(), both.clone(), straight.clone()],
                &mut dice,
            );
        }
    }
}

/// Pairs of suspects, whose ways to the core may meet.
#[test]
fn pairs_of_suspects_are_solved_in_their_own_part_alone() {
    let system = system(26);
    let netlist = &system.circuit.netlist;
    let networks = [&Network::in_parts(netlist), &Network::whole(netlist)];
    let rest = SetUp::at_rest(&netlist.controls);
    let on = rest.clone().with(ControlId::new(3), 1);
    let mut dice = Dice::new(11);
    let list: Vec<_> = system.mistakes_too.list().ids().collect();
    for _ in 0..150 {
        let mut edits: Vec<Edit> = Vec::new();
        for _ in 0..2 {
            let id = list[dice.below(list.len())];
            let ohms = system.mistakes_too.severity(id).map_or(Ohms::ZERO, |range| range.low);
            edits.extend(system.mistakes_too.edits(id, ohms, &[]));
        }
        compare(netlist, networks, &edits, &[on.clone(), rest.clone()], &mut dice);
    }
}

/// Random circuits with cross links, diodes and all kinds of loads.
#[test]
fn random_circuits_are_solved_in_the_part_that_carries_something() {
    for seed in 0..60 {
        let mut dice = Dice::new(seed);
        let ways = 3 + dice.below(6);
        let circuit = board(&mut dice, ways);
        let networks = [&Network::in_parts(&circuit.netlist), &Network::whole(&circuit.netlist)];
        for _ in 0..6 {
            let edits = [fault(&mut dice, &circuit), fault(&mut dice, &circuit)];
            let ups = [set_up(&mut dice, &circuit), set_up(&mut dice, &circuit)];
            compare(&circuit.netlist, networks, &edits, &ups, &mut dice);
        }
    }
}
