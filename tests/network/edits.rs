//! Edits as low-rank changes of a shared factor against the edited circuit factored for itself.

use crate::support::circuits::Circuit;
use crate::support::kirchhoff;
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::{Edit, Element, Netlist, Primitive, SetUp, edited};
use halfsplit::network::{Branch, Network};
use halfsplit::units::Ohms;

/// The same circuit with the edits drawn in: an open element hangs on one node alone.
fn drawn(netlist: &Netlist, edits: &[Edit]) -> Netlist {
    let mut new = netlist.clone();
    new.elements = edited(netlist, edits)
        .enumerate()
        .map(|(id, element)| {
            element.clone().unwrap_or_else(|| {
                let from = netlist.elements[id].from;
                Element {
                    name: "open".to_owned(),
                    from,
                    to: from,
                    primitive: Primitive::Resistance { ohms: Ohms::new(1.0) },
                }
            })
        })
        .collect();
    new
}

/// The largest difference of any voltage between two nodes, in volts over the larger of 1 V and itself;
/// infinite when they differ in what is joined.
fn difference(netlist: &Netlist, one: &Branch<'_>, other: &Branch<'_>) -> f64 {
    let mut worst = 0.0_f64;
    for a in netlist.nodes.ids() {
        for b in netlist.nodes.ids() {
            match (one.state.voltage(a, b), other.state.voltage(a, b)) {
                (Some(x), Some(y)) => {
                    worst = worst.max((x.get() - y.get()).abs() / x.abs().get().max(1.0));
                }
                (None, None) => {}
                _ => return f64::INFINITY,
            }
        }
    }
    worst
}

fn compare(circuit: &Circuit, network: &Network<'_>, edits: &[Edit], set_up: &SetUp, name: &str) {
    let shared = network.enter(edits, &network.fresh(), set_up).unwrap();
    let drawn = drawn(&circuit.netlist, edits);
    let own = Network::new(&drawn);
    let fresh = own.enter(&[], &own.fresh(), set_up).unwrap();
    assert_eq!(shared.len(), fresh.len(), "{name}");
    for (one, other) in shared.iter().zip(&fresh) {
        assert_eq!(one.state.chatter(), other.state.chatter(), "{name}");
        assert!((one.weight - other.weight).abs() < 1e-6, "{name}");
        let worst = difference(&circuit.netlist, one, other);
        // Stiff pieces that hang on megohms alone are told to some 1e-7 V: a volt's last digit over a
        // milliohm is a current of 1e-13 A.
        assert!(worst < 1e-6, "{name}: {worst:e} V, {edits:?}");
        if one.state.chatter().is_empty() {
            kirchhoff::check(&circuit.netlist, edits, &one.state).unwrap();
        }
    }
}

/// One to five faults at a time, several suspects and set-ups on one shared factor.
#[test]
fn low_rank_edits_agree_with_fresh_factorizations() {
    let mut counts = halfsplit::network::Counts::default();
    for seed in 0..60 {
        let mut dice = Dice::new(seed + 1000);
        let ways = 2 + dice.below(12);
        let circuit = board(&mut dice, ways);
        let network = Network::new(&circuit.netlist);
        for suspect in 0..8 {
            let set_up = set_up(&mut dice, &circuit);
            let faults = 1 + dice.below(5);
            let edits: Vec<Edit> = (0..faults).map(|_| fault(&mut dice, &circuit)).collect();
            compare(&circuit, &network, &edits, &set_up, &format!("{seed}.{suspect}"));
        }
        let now = network.counts();
        counts.factorizations += now.factorizations;
        counts.low_rank += now.low_rank;
        counts.refinements += now.refinements;
        counts.refactorizations += now.refactorizations;
    }
    println!("{counts:?}");
    assert!(counts.low_rank > counts.refactorizations, "{counts:?}");
}
