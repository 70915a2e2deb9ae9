//! How long suspects take; printed, not judged: machines differ.

use crate::support::circuits::ohms;
use crate::support::random::{Dice, board};
use halfsplit::circuit::{DEAD_SHORT, Edit, NodeId};
use halfsplit::index::Id;
use halfsplit::network::{Instrument, Network};
use std::time::Instant;

/// All openings, bad joints of 16 severities and shorts to the frame on boards of several sizes.
#[test]
fn suspects_take_microseconds() {
    for ways in [8] {
        let mut dice = Dice::new(7);
        let c = board(&mut dice, ways);
        let n = Network::new(&c.netlist);
        let set_up = c.with(&["S1", "Q1"]);
        let frame = c.id("frame");
        let mut suspects: Vec<Vec<Edit>> = Vec::new();
        for id in c.netlist.elements.ids() {
            suspects.push(vec![Edit::Open(id)]);
            for severity in 0..16 {
                let r = ohms(0.1 * 10_f64.powf(f64::from(severity) / 4.0));
                suspects.push(vec![Edit::Series(id, r)]);
            }
        }
        for node in c.netlist.nodes.ids() {
            suspects.push(vec![Edit::Bridge(node, frame, DEAD_SHORT)]);
        }
        let fresh = n.fresh();
        n.enter(&[], &fresh, &set_up).unwrap();
        let before = n.counts();
        let start = Instant::now();
        let mut ends = 0;
        for edits in &suspects {
            ends += n.enter(edits, &fresh, &set_up).unwrap().len();
        }
        let each = start.elapsed().as_secs_f64() / suspects.len() as f64;
        let after = n.counts();
        let meter = Instrument::Voltmeter(ohms(10e6));
        let start = Instant::now();
        let state = &n.enter(&suspects[1], &fresh, &set_up).unwrap()[0].state;
        for index in 0..1000 {
            let red = NodeId::new(index % c.netlist.nodes.len());
            n.measure(state, &meter, red, frame).unwrap();
        }
        let reading = start.elapsed().as_secs_f64() / 1000.0;
        let met = n.counts();
        println!(
            "{} nodes, {} elements, {} suspects: {:.1} us to enter, {:.1} us to measure",
            c.netlist.nodes.len(),
            c.netlist.elements.len(),
            suspects.len(),
            each * 1e6,
            reading * 1e6,
        );
        println!(
            "  {} factors, {} low-rank, {} repeated, {} refactored; measuring {} factors, {} low-rank, {} repeated, {} refactored",
            after.factorizations - before.factorizations,
            after.low_rank - before.low_rank,
            after.refinements - before.refinements,
            after.refactorizations - before.refactorizations,
            met.factorizations - after.factorizations,
            met.low_rank - after.low_rank,
            met.refinements - after.refinements,
            met.refactorizations - after.refactorizations,
        );
        assert!(ends >= suspects.len());
    }
}
