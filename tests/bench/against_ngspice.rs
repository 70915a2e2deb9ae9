//! Random boards with random faults: the mock-up and ngspice must agree.

use super::{mock_up, same};
use crate::support::ngspice::{Kept, Problem, is_there, solve_all};
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::{Edit, SetUp};

#[test]
fn random_boards_agree_with_ngspice() {
    if !is_there() {
        println!("skipped: ngspice is not installed");
        return;
    }
    let cases: Vec<_> = (1..=80)
        .map(|seed| {
            let mut dice = Dice::new(1000 + seed);
            let ways = 1 + dice.below(4);
            let circuit = board(&mut dice, ways);
            let edits: Vec<Edit> = (0..dice.below(3)).map(|_| fault(&mut dice, &circuit)).collect();
            let set_up: SetUp = set_up(&mut dice, &circuit);
            (circuit, edits, set_up)
        })
        .collect();
    let problems: Vec<Problem<'_>> = cases
        .iter()
        .map(|(circuit, edits, set_up)| Problem {
            netlist: &circuit.netlist,
            edits: edits.clone(),
            set_up: set_up.clone(),
            before: Kept::new(),
        })
        .collect();
    let mut wrong = Vec::new();
    let mut compared = 0;
    for (seed, ((circuit, edits, set_up), solved)) in cases.iter().zip(solve_all(&problems)).enumerate() {
        // Where ngspice itself finds nothing, two fuses race or states go round, there is nothing to compare.
        let Some(solved) = solved.ok().filter(|s| !s.raced && !s.chatters) else { continue };
        let mut bench = mock_up(&circuit.netlist, edits);
        if bench.enter(set_up).is_err() {
            wrong.push(format!("board {seed}, {edits:?}: the bench finds no state"));
            continue;
        }
        compared += 1;
        for element in circuit.netlist.elements.iter() {
            let (a, b) = (bench.volts(element.from, element.to).unwrap(), solved.between(element.from, element.to));
            let alike = match (a, b) {
                (Some(a), Some(b)) => same(a, b),
                (a, b) => a.is_none() && b.is_none(),
            };
            if !alike {
                wrong.push(format!("board {seed}, {edits:?}: {}: bench {a:?}, ngspice {b:?}", element.name));
                break;
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {compared}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(compared >= 50, "{compared}");
}
