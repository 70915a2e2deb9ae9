//! Solves a netlist: islands, stamping, factorization, state iteration, low-rank edits, instruments, sensitivities.
//!
//! It deliberately knows no parts, kinds or probabilities.
//!
//! * **Islands** (`islands`): union-find over closed branches comes first. Each island is pinned at its
//!   strongest node by 1 S, which carries no current. There is no voltage between islands.
//! * **One state** (`point`, `linear`, `law`): Newton on filaments, constant power and converters, to where
//!   rounding ends it; then diodes and source limits that contradict their voltage are turned over, all at
//!   once, later one at a time. A source in its limit keeps a slope of 2e-7 of `limit / emf`. A constant
//!   power takes the high-voltage solution, as it is come from above; where there is none it cuts out.
//! * **The state loop** (`settle`, `switching`): fastest first. Electronics cut in and out; electronic switches trip;
//!   all coils that must move do so together, with their contacts; motors start and stop; when all of this
//!   rests, one fuse opens, the quickest. States that repeat are chatter.
//! * **Speed** (`base`, `tangent`, `solver`, `shadow`): each state of the healthy circuit is factored once.
//!   A suspect is a change of that factor by a few branches and pins, repeated against the exact residual
//!   until that is at rounding, and given a factor of its own where it does not get there. A suspect that
//!   alters no decision on the way into a set-up is solved in its last state alone.
//!
//! Limits: potentials are doubles against a far datum, so what hangs on megohms alone is told to some 1e-7 V.
//! Coils and motors do not feel the pulses of an electronic switch, only its on state.

mod alike;
mod base;
mod core;
mod dark;
mod expand;
mod frame;
mod islands;
mod law;
mod linear;
mod measure;
mod memory;
mod ohmmeter;
mod operating;
mod outside;
mod packed;
mod point;
mod sensitivity;
mod settle;
mod shadow;
mod solver;
mod switching;
mod tangent;
mod wiring;

pub use alike::Alike;
pub use memory::Memory;
pub use operating::Operating;
pub use sensitivity::Sensitivities;

use crate::circuit::{Edit, Netlist, NodeId, SetUp};
use crate::index::Id;
use crate::units::{Amps, Ohms, Volts};
use base::{Engine, Way};
use frame::{Frame, Framer};
use law::Status;
use point::{Care, NoPoint};
use settle::{Fuses, Outcome, Run};
use shadow::Trace;
use std::sync::Arc;
use wiring::Wiring;

/// At most this many ways in which one set-up can end are followed; then the likelier side of a race wins.
const BRANCHES: usize = 4;

/// Circuits of so many nodes and more are solved in the parts of them that carry something; of a hundred nodes the whole is
/// solved as quickly (measured).
const LARGE: usize = 500;

/// A netlist made ready to be solved many times, each time with other edits.
pub struct Network<'n> {
    netlist: &'n Netlist,
    engine: Engine,
    /// Finds the part of a large circuit that has to be solved.
    framer: Option<Framer>,
}

/// How often what was done; what it costs is told by these.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// States of the healthy circuit factored and kept.
    pub factorizations: u64,
    /// Steps solved as a low-rank change of a kept factor.
    pub low_rank: u64,
    /// Of those, repetitions: refinement, and Newton on filaments and constant power.
    pub refinements: u64,
    /// States factored for themselves because a low-rank change was too long or not accurate enough.
    pub refactorizations: u64,
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
    /// By how much the reading jumps where the state did not settle (chatter), as a multiple of what is seen to jump: 1 % and
    /// 10 mV.
    pub swing: f64,
}

impl<'n> Network<'n> {
    /// Prepares a netlist.
    pub fn new(netlist: &'n Netlist) -> Self {
        let whole = Self::whole(netlist);
        let nodes = netlist.nodes.len();
        let framer = (nodes >= LARGE).then(|| Framer::new(&whole.engine.wiring, nodes / 2));
        Self { framer, ..whole }
    }

    /// The same with no more solved than carries something, however small the circuit is.
    pub fn in_parts(netlist: &'n Netlist) -> Self {
        let whole = Self::whole(netlist);
        Self { framer: Some(Framer::new(&whole.engine.wiring, netlist.nodes.len())), ..whole }
    }

    /// The same with all of it solved each time, however little of it carries anything.
    pub fn whole(netlist: &'n Netlist) -> Self {
        Self { netlist, engine: Engine::new(Wiring::new(netlist)), framer: None }
    }

    /// The netlist.
    pub fn netlist(&self) -> &'n Netlist {
        self.netlist
    }

    /// The memory of a circuit never used: fuses whole, latches open.
    pub fn fresh(&self) -> Memory {
        Memory::fresh()
    }

    /// How often what was done so far.
    pub fn counts(&self) -> Counts {
        self.engine.tally.counts()
    }

    /// Enters `set_up` with `edits` in force: all controls at rest first (unless the set-up is entered straight
    /// from the one before), then one control after the other in file order.
    ///
    /// The interventions of the set-up are applied first and the edits, which are faults, after them: a broken
    /// sensor stays broken whatever it is set to, and an element that either of them opens stays open. `before` says which fuses are blown, how latches stand, and which relays
    /// were in: one that is not held by the circuit itself with all controls at rest lets go.
    /// After each control the state loop runs until nothing changes. A race of two fuses gives two branches.
    ///
    /// # Errors
    /// The nodes at which no solution was found, and why.
    pub fn enter(&self, edits: &[Edit], before: &Memory, set_up: &SetUp) -> Result<Vec<Branch<'n>>, Unsolvable> {
        let frame = self.framer.as_ref().and_then(|framer| {
            let rest = &self.engine.wiring.positions[..];
            let stands = if set_up.from_rest || before.positions().is_empty() { rest } else { before.positions() };
            let edits: Vec<Edit> = set_up.interventions.iter().chain(edits).cloned().collect();
            let frame =
                framer.frame(self.netlist, &self.engine, &edits, before, [stands, set_up.positions.as_slice()])?;
            Some((frame, edits))
        });
        let Some((frame, all)) = frame else {
            let ended = enter(&self.engine, edits, before, set_up).map_err(|error| self.unsolvable(&error, None))?;
            let state = |run| Operating::new(&self.engine, run);
            return Ok(ended.into_iter().map(|(weight, run)| Branch { weight, state: state(run) }).collect());
        };
        let inside = SetUp { interventions: frame.edits(&set_up.interventions), ..set_up.clone() };
        let ended = enter(&frame.engine, &frame.edits(edits), &frame.memory(before), &inside)
            .map_err(|error| self.unsolvable(&error, Some(&frame)))?;
        let edits: Arc<[Edit]> = all.into();
        let state = |run| Operating::in_frame(&frame, run, &edits);
        Ok(ended.into_iter().map(|(weight, run)| Branch { weight, state: state(run) }).collect())
    }

    /// Says which nodes cannot be solved.
    fn unsolvable(&self, error: &NoPoint, frame: Option<&Frame>) -> Unsolvable {
        let of = |node: &u32| frame.map_or(Some(*node), |frame| frame.nodes.get(*node as usize).copied());
        let nodes: Vec<NodeId> = error.nodes.iter().filter_map(of).map(|node| NodeId::new(node as usize)).collect();
        let names: Vec<&str> = nodes
            .iter()
            .filter_map(|node| self.netlist.nodes.get(*node))
            .map(|node| node.name.as_str())
            .take(5)
            .collect();
        let why = if names.is_empty() {
            "the currents could not be made to add up".to_owned()
        } else {
            format!("no voltages were found at which the currents add up at `{}`", names.join("`, `"))
        };
        Unsolvable { nodes, why }
    }
}

/// Enters a set-up in a circuit, or in a part of it: the ways in which it can end, with their probabilities.
fn enter(engine: &Engine, edits: &[Edit], before: &Memory, set_up: &SetUp) -> Result<Vec<(f64, Run)>, NoPoint> {
    let mut wiring = (*engine.wiring).clone();
    wiring.edit(&set_up.interventions);
    wiring.edit(edits);
    if !set_up.from_rest {
        for (control, position) in before.positions().iter().enumerate() {
            wiring.set(control, *position);
        }
    }
    let moves = moves(&wiring, set_up);
    let beside = set_up.from_rest && !wiring.healthy;
    let way = if beside { healthy_way(engine, before, set_up) } else { None };
    let parting = way.as_ref().and_then(|way| way.parting(engine, &wiring));
    let start = if let Some(step) = parting {
        Run::beside(wiring, step)
    } else {
        let mut status = before.status(&wiring.parts[..wiring.elements]);
        status.resize(wiring.parts.len(), Status::default());
        Run::new(wiring, status)
    };
    run(engine, start, &moves)
}

/// The healthy circuit's way into a set-up from what it remembers, gone once and kept. From a memory that is asked for the
/// first time it is not gone yet: that of a suspect's own blown fuse may be asked for once only.
fn healthy_way(engine: &Engine, before: &Memory, set_up: &SetUp) -> Option<Arc<Trace>> {
    let key = Way { memory: before.states().into(), positions: set_up.positions.as_slice().into() };
    if let Some(known) = engine.trace(&key) {
        return Some(known);
    }
    if !before.is_fresh() && !engine.is_asked(&key) {
        engine.keep(key, None);
        return None;
    }
    let wiring = (*engine.wiring).clone();
    let status = before.status(&wiring.parts);
    let moves = moves(&wiring, set_up);
    let mut start = Run::new(wiring, status);
    start.trace = Some(Trace::new(&start.wiring));
    // A healthy circuit that cannot be solved, or whose way is lost in a race, has an empty one.
    let trace = run(engine, start, &moves)
        .ok()
        .and_then(|mut ended| ended.iter_mut().find_map(|(_, run)| run.trace.take()))
        .unwrap_or_else(|| Trace::new(&engine.wiring));
    let trace = Arc::new(trace);
    engine.keep(key, Some(Arc::clone(&trace)));
    Some(trace)
}

/// Follows a run to the end of its set-up, in all its branches.
fn run(engine: &Engine, start: Run, moves: &[(usize, usize)]) -> Result<Vec<(f64, Run)>, NoPoint> {
    let mut work = vec![(1.0, start)];
    let mut ended: Vec<(f64, Run)> = Vec::new();
    while let Some((weight, mut run)) = work.pop() {
        let care = if run.stage == moves.len() { Care::Fine } else { Care::Rough };
        match run.settle(engine, Fuses::Blow, care)? {
            Outcome::Race(a, b, share) => {
                let mut other = run.clone();
                other.trace = None;
                if let Some(trace) = &mut run.trace {
                    trace.close();
                }
                run.blow(a);
                if work.len() + ended.len() + 2 > BRANCHES {
                    work.push((weight, run));
                } else {
                    other.blow(b);
                    work.push((weight * (1.0 - share), other));
                    work.push((weight * share, run));
                }
            }
            Outcome::Settled => {
                if let Some((control, position)) = moves.get(run.stage) {
                    run.wiring.set(*control, *position);
                    run.follow();
                    run.point.close = false;
                    run.release_held();
                    run.stage += 1;
                    work.push((weight, run));
                    continue;
                }
                if let Some((sum, _)) = ended.iter_mut().find(|(_, r)| r.status == run.status) {
                    *sum += weight;
                } else {
                    run.pulse(engine)?;
                    ended.push((weight, run));
                }
            }
        }
    }
    Ok(ended)
}

/// The controls that do not stand where a set-up wants them, in file order, with their positions in it.
fn moves(wiring: &Wiring, set_up: &SetUp) -> Vec<(usize, usize)> {
    (wiring.positions.iter().enumerate())
        .zip(set_up.positions.iter())
        .filter(|((_, stands), position)| *stands != *position)
        .map(|((index, _), position)| (index, *position))
        .collect()
}
