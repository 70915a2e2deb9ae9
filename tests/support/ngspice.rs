//! A second opinion: ngspice (Debian package `ngspice`) solves each discrete state, and a state loop of its
//! own, written apart from the engine's, says what switches.

mod operating;
mod process;
mod switching;
mod walk;

use halfsplit::circuit::{Edit, ElementId, Export, Netlist, NodeId, SetUp};
use halfsplit::index::Id;
use std::collections::BTreeMap;
use walk::Walk;

pub(crate) use process::is_there;

/// What lasts from one set-up to the next, by element: `true` is pulled in, closed (latches), blown,
/// turning, tripped (electronic switches).
pub(crate) type Kept = BTreeMap<ElementId, bool>;

/// A circuit to be solved.
pub(crate) struct Problem<'p> {
    pub(crate) netlist: &'p Netlist,
    pub(crate) edits: Vec<Edit>,
    pub(crate) set_up: SetUp,
    pub(crate) before: Kept,
}

/// How a problem ended.
#[derive(Clone, Debug)]
pub(crate) struct Solved {
    /// Potential of each node against its island's first.
    pub(crate) volts: Vec<f64>,
    /// The island of each node.
    pub(crate) island: Vec<usize>,
    /// Export states, by element (see `Export::active`).
    pub(crate) active: Vec<bool>,
    /// Coils that are pulled in.
    pub(crate) pulled: Vec<bool>,
    pub(crate) kept: Kept,
    /// The states repeat: the voltages are those of one of them.
    pub(crate) chatters: bool,
    /// Two fuses were within a factor of two of each other; the quicker one has opened.
    pub(crate) raced: bool,
}

impl Solved {
    /// Voltage between two nodes, when something joins them.
    pub(crate) fn between(&self, a: NodeId, b: NodeId) -> Option<f64> {
        let (a, b) = (a.position(), b.position());
        (self.island[a] == self.island[b]).then(|| self.volts[a] - self.volts[b])
    }
}

/// One circuit.
pub(crate) fn solve(netlist: &Netlist, edits: &[Edit], set_up: &SetUp, before: &Kept) -> Result<Solved, String> {
    let problem = Problem { netlist, edits: edits.to_vec(), set_up: set_up.clone(), before: before.clone() };
    solve_all(&[problem]).remove(0)
}

/// Many circuits, all of one round of the state loop in one process.
pub(crate) fn solve_all(problems: &[Problem<'_>]) -> Vec<Result<Solved, String>> {
    let mut walks: Vec<Walk<'_>> = problems.iter().map(Walk::new).collect();
    for _ in 0..400 {
        let open: Vec<usize> = (0..walks.len()).filter(|i| walks[*i].end.is_none()).collect();
        if open.is_empty() {
            break;
        }
        let states: Vec<Export<'_>> = open.iter().map(|i| walks[*i].export()).collect();
        for (index, volts) in open.into_iter().zip(operating::points(&states)) {
            match volts {
                Some(volts) => walks[index].take(&volts),
                None => walks[index].end = Some(Err("ngspice found no operating point".to_owned())),
            }
        }
    }
    walks.into_iter().map(|walk| walk.end.unwrap_or_else(|| Err("the states never came to rest".to_owned()))).collect()
}
