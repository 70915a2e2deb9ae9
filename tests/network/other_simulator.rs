//! Random circuits with a random fault against ngspice and a state loop of its own.

use crate::support::circuits::Circuit;
use crate::support::kirchhoff;
use crate::support::ngspice::{Kept, Problem, Solved, is_there, solve_all};
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::{Edit, SetUp};
use halfsplit::network::{Branch, Network};
use std::io::Write;

/// How many random circuits.
const CIRCUITS: u64 = 200;

fn cases() -> Vec<(Circuit, Vec<Edit>, SetUp)> {
    (0..CIRCUITS)
        .map(|seed| {
            let mut dice = Dice::new(seed + 1);
            let ways = 2 + dice.below(6);
            let circuit = board(&mut dice, ways);
            let edits = vec![fault(&mut dice, &circuit)];
            let set_up = set_up(&mut dice, &circuit);
            (circuit, edits, set_up)
        })
        .collect()
}

/// The largest difference between the two, relative to the larger of a volt and the voltage; or why they
/// cannot be compared.
fn compare(circuit: &Circuit, branches: &[Branch<'_>], other: &Solved) -> Result<f64, String> {
    let best = branches.iter().map(|branch| {
        let mut worst = 0.0_f64;
        for a in circuit.netlist.nodes.ids() {
            for b in circuit.netlist.nodes.ids() {
                match (branch.state.voltage(a, b), other.between(a, b)) {
                    (Some(x), Some(y)) => {
                        worst = worst.max((x.get() - y).abs() / y.abs().max(1.0));
                    }
                    (None, None) => {}
                    _ => return f64::INFINITY,
                }
            }
        }
        worst
    });
    let best = best.fold(f64::INFINITY, f64::min);
    if best.is_finite() { Ok(best) } else { Err("they disagree on what is joined".to_owned()) }
}

#[test]
fn random_faults_agree_with_ngspice() {
    if !is_there() {
        // Straight to the stream, past the test harness's capture: it must be seen.
        let _ =
            writeln!(std::io::stderr(), "SKIPPED: ngspice is not installed, random circuits are not compared with it");
        return;
    }
    let cases = cases();
    let problems: Vec<Problem<'_>> = cases
        .iter()
        .map(|(circuit, edits, set_up)| Problem {
            netlist: &circuit.netlist,
            edits: edits.clone(),
            set_up: set_up.clone(),
            before: Kept::new(),
        })
        .collect();
    let (mut compared, mut chattering, mut wrong) = (0, 0, Vec::new());
    for (seed, ((circuit, edits, set_up), other)) in cases.iter().zip(solve_all(&problems)).enumerate() {
        let network = Network::new(&circuit.netlist);
        let branches = network.enter(edits, &network.fresh(), set_up).unwrap();
        let other = match other {
            Ok(other) => other,
            Err(why) => {
                wrong.push(format!("{seed}: {why} {edits:?}"));
                continue;
            }
        };
        if other.chatters || branches.iter().any(|b| !b.state.chatter().is_empty()) {
            if other.chatters && branches.iter().any(|b| !b.state.chatter().is_empty()) {
                chattering += 1;
            } else {
                let jumps: Vec<_> = branches.iter().map(|b| b.state.chatter()).collect();
                wrong.push(format!("{seed}: chatter {}, {jumps:?} {edits:?}", other.chatters));
            }
            continue;
        }
        for branch in &branches {
            if branch.state.chatter().is_empty()
                && let Err(left) = kirchhoff::check(&circuit.netlist, edits, &branch.state)
            {
                wrong.push(format!("{seed}: {left} {edits:?}"));
            }
        }
        match compare(circuit, &branches, &other) {
            Ok(worst) if worst <= 1e-6 => compared += 1,
            Ok(worst) => wrong.push(format!("{seed}: off by {worst:e} {edits:?}")),
            Err(why) => wrong.push(format!("{seed}: {why} {edits:?}")),
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!("{compared} circuits agree with ngspice to 1e-6, {chattering} chatter in both");
    assert!(compared >= 180, "{compared} compared, {chattering} chatter");
}
