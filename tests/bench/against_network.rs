//! Random boards with random faults: the mock-up and the engine's network must agree.

use super::{differs, engine, meters, mock_up, same};
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::{ElementId, NodeId};
use halfsplit::index::Id;
use halfsplit::install::PartId;
use halfsplit::network::Network;

#[test]
fn random_boards_agree_with_the_network() {
    let boards: u64 = std::env::var("BENCH_BOARDS").ok().and_then(|n| n.parse().ok()).unwrap_or(150);
    let (mut compared, mut skipped) = (0, 0);
    let mut wrong = Vec::new();
    for seed in 1..=boards {
        let mut dice = Dice::new(seed);
        let ways = 1 + dice.below(4);
        let circuit = board(&mut dice, ways);
        let edits: Vec<_> = (0..dice.below(3)).map(|_| fault(&mut dice, &circuit)).collect();
        let network = Network::new(&circuit.netlist);
        let mut bench = mock_up(&circuit.netlist, &edits);
        let mut before = network.fresh();
        for stay in 0..3 {
            let mut set_up = set_up(&mut dice, &circuit);
            // In every third set-up something is taken out by hand: a fuse, a plug, a relay.
            if dice.below(3) == 0 {
                let element = ElementId::new(dice.below(circuit.netlist.elements.len()));
                set_up = set_up.without(PartId::new(0), &[element]);
            }
            // A race has two right endings.
            let Some(state) = engine(&network, &edits, &before, &set_up) else {
                skipped += 1;
                break;
            };
            if bench.enter(&set_up).is_err() {
                wrong.push(format!("board {seed}, stay {stay}: the bench finds no state"));
                break;
            }
            if let Some(why) = differs(&circuit.netlist, &bench, &state) {
                wrong.push(format!("board {seed}, stay {stay}, {edits:?}: {why}"));
                break;
            }
            compared += 1;
            for _ in 0..4 {
                let nodes = circuit.netlist.nodes.len();
                let (red, black) = (NodeId::new(dice.below(nodes)), NodeId::new(dice.below(nodes)));
                let (own, engines) = meters();
                let met = bench.attach(own, red, black).unwrap();
                let measured = network.measure(&state, &engines, red, black).unwrap();
                let alike = same(met.volts, measured.volts.get())
                    && met.floating == measured.floating
                    && met.jumps == (measured.swing > 1.0);
                if !alike {
                    wrong.push(format!("board {seed}, stay {stay}, {edits:?}: meter {met:?} {measured:?}"));
                }
            }
            before = state.memory().clone();
        }
    }
    assert!(wrong.is_empty(), "{} of {compared}:\n{}", wrong.len(), wrong.join("\n"));
    // Most boards must have been compared, or the test says nothing.
    assert!(compared > 2 * skipped, "{compared} compared, {skipped} skipped");
}
