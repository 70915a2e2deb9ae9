//! Solves a netlist: islands, stamping, factorization, state iteration, low-rank edits, instruments, sensitivities.
//!
//! It deliberately knows no parts, kinds or probabilities.

mod islands;
mod law;
mod measure;
mod memory;
mod operating;
mod point;
mod sensitivity;
mod settle;
mod solver;
mod wiring;

pub use memory::Memory;
pub use operating::Operating;
pub use sensitivity::Sensitivities;

use crate::circuit::{Edit, Netlist, NodeId, SetUp};
use crate::index::Id;
use crate::units::{Amps, Ohms, Volts};
use law::Status;
use point::NoPoint;
use settle::{Fuses, Outcome, Run};
use wiring::Wiring;

/// At most this many ways in which one set-up can end are followed; then the likelier side of a race wins.
const BRANCHES: usize = 4;

/// A netlist made ready to be solved many times, each time with other edits.
pub struct Network<'n> {
    netlist: &'n Netlist,
    wiring: Wiring,
}

/// One way in which a set-up can end (a race of fuses has several).
pub struct Branch<'n> {
    /// Its probability; those of one `enter` sum to 1.
    pub weight: f64,
    /// The operating point.
    pub state: Operating<'n>,
}

/// The part of a circuit that cannot be solved, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsolvable {
    /// Its nodes.
    pub nodes: Vec<NodeId>,
    /// In words.
    pub why: String,
}

/// How an element stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElementState {
    /// Linear, or nothing to say.
    Plain,
    /// A coil pulled in (`true`) or released.
    Coil(bool),
    /// A contact or electronic switch closed or open.
    Contact(bool),
    /// A fuse whole or blown / a breaker in or tripped.
    Fuse(bool),
    /// A diode conducting or not.
    Diode(bool),
    /// A motor turning or not.
    Motor(bool),
    /// A power element or converter on, or off / cut out.
    Power(bool),
    /// A source in its current limit (`true`).
    Source(bool),
}

/// An instrument between two probe points; the reading is that of the network with it attached.
#[derive(Clone, Debug, PartialEq)]
pub enum Instrument {
    /// A voltmeter of this input resistance.
    Voltmeter(Ohms),
    /// A filament test lamp: hot resistance at nominal voltage.
    TestLamp {
        /// Hot ohms.
        hot: Ohms,
        /// Nominal volts.
        nominal: Volts,
    },
    /// An LED tester: lights either way round.
    LedTester {
        /// Forward volts.
        forward: Volts,
        /// Series ohms.
        series: Ohms,
    },
}

/// What an instrument meets.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Voltage red minus black with the instrument attached.
    pub volts: Volts,
    /// Current through the instrument from red to black.
    pub amps: Amps,
    /// Nothing but the instrument joins the two points: an open line, no exact number.
    pub floating: bool,
    /// The state did not settle (chatter): the reading jumps.
    pub unsteady: bool,
}

impl<'n> Network<'n> {
    /// Prepares a netlist.
    pub fn new(netlist: &'n Netlist) -> Self {
        Self {
            netlist,
            wiring: Wiring::new(netlist),
        }
    }

    /// The netlist.
    pub fn netlist(&self) -> &'n Netlist {
        self.netlist
    }

    /// The memory of a circuit never used: fuses whole, latches open.
    pub fn fresh(&self) -> Memory {
        Memory::fresh(self.wiring.elements)
    }

    /// Enters `set_up` with `edits` in force: all controls at rest first (unless the set-up is entered straight from the
    /// one before), then one control after the other in file order.
    ///
    /// The interventions of the set-up are applied first and the edits, which are faults, after them: a broken sensor
    /// stays broken whatever it is set to, and an element that either of them opens stays open. `before` says which fuses are blown, how latches stand, and which relays
    /// were in: one that is not held by the circuit itself with all controls at rest lets go.
    /// After each control the state loop runs until nothing changes. A race of two fuses gives two branches.
    ///
    /// # Errors
    /// The nodes at which no solution was found, and why.
    pub fn enter(
        &self,
        edits: &[Edit],
        before: &Memory,
        set_up: &SetUp,
    ) -> Result<Vec<Branch<'n>>, Unsolvable> {
        let mut wiring = self.wiring.clone();
        wiring.edit(&set_up.interventions);
        wiring.edit(edits);
        if !set_up.from_rest {
            for (control, position) in before.positions().iter().enumerate() {
                wiring.set(control, *position);
            }
        }
        let moves: Vec<(usize, usize)> = (wiring.positions.iter().enumerate())
            .zip(set_up.positions.iter())
            .filter(|((_, stands), position)| *stands != *position)
            .map(|((index, _), position)| (index, *position))
            .collect();
        let mut status = before.status(&wiring.parts[..wiring.elements]);
        status.resize(wiring.parts.len(), Status::default());
        let mut work = vec![(1.0, 0_usize, Run::new(wiring, status))];
        let mut ended: Vec<(f64, Run)> = Vec::new();
        while let Some((weight, stage, mut run)) = work.pop() {
            match run
                .settle(Fuses::Blow)
                .map_err(|error| self.unsolvable(&error))?
            {
                Outcome::Race(a, b, share) => {
                    let mut other = run.clone();
                    run.blow(a);
                    if work.len() + ended.len() + 2 > BRANCHES {
                        work.push((weight, stage, run));
                    } else {
                        other.blow(b);
                        work.push((weight * (1.0 - share), stage, other));
                        work.push((weight * share, stage, run));
                    }
                }
                Outcome::Settled => {
                    if let Some((control, position)) = moves.get(stage) {
                        run.wiring.set(*control, *position);
                        run.follow();
                        run.release_held();
                        work.push((weight, stage + 1, run));
                    } else if let Some((sum, _)) =
                        ended.iter_mut().find(|(_, r)| r.status == run.status)
                    {
                        *sum += weight;
                    } else {
                        ended.push((weight, run));
                    }
                }
            }
        }
        Ok(ended
            .into_iter()
            .map(|(weight, run)| Branch {
                weight,
                state: Operating::new(run),
            })
            .collect())
    }

    /// Says which nodes cannot be solved.
    fn unsolvable(&self, error: &NoPoint) -> Unsolvable {
        let nodes: Vec<NodeId> = error
            .nodes
            .iter()
            .map(|node| NodeId::new(*node as usize))
            .collect();
        let names: Vec<&str> = nodes
            .iter()
            .filter_map(|node| self.netlist.nodes.get(*node))
            .map(|node| node.name.as_str())
            .take(5)
            .collect();
        let why = if names.is_empty() {
            "the currents could not be made to add up".to_owned()
        } else {
            format!(
                "no voltages were found at which the currents add up at `{}`",
                names.join("`, `")
            )
        };
        Unsolvable { nodes, why }
    }
}
