//! Many trials: which states are hidden, in what noise, on how many threads.

use super::baseline::Baselines;
use super::cases::{Case, cases};
use super::figures::Figures;
use super::further::{Alike, further};
use super::offered::never_useful;
use super::reduced::{Reduced, reduced};
use super::scene::Scene;
use super::trial::{Trial, play};
use crate::bench::{Hidden, Uses};
use crate::choice::Test;
use crate::circuit::{Incomplete, PossibleFault};
use crate::install::Install;
use crate::job::{AtHand, System};
use crate::network::Network;

/// What is hidden.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Faults {
    /// One fault.
    Single,
    /// Two faults.
    Pair,
    /// One mistake of wiring, in an install that never worked.
    Wiring,
    /// One difference between the system and its description: another load, something added, something left out.
    Altered,
    /// Nothing: the complaint is mistaken.
    None,
}

/// What a campaign is to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// What is hidden.
    pub faults: Faults,
    /// Meter, parts, supply and person as they are; otherwise all is exact.
    pub noise: bool,
    /// Factor on the spreads of parts.
    pub tolerance_scale: f64,
    /// The instruments at hand.
    pub at_hand: AtHand,
    /// Trials; `None`: every single fault or mistake at five severities in an exact campaign, 200 in others.
    pub trials: Option<usize>,
    /// Trials beside which baselines are played, chosen by the seed; `None`: of trials with one fault a tenth, and at least 5.
    pub baselines: Option<usize>,
    /// Seed of all draws.
    pub seed: u64,
    /// Threads that play trials; the outcome does not depend on them.
    pub threads: usize,
}

/// What a campaign was and came to.
#[derive(Debug)]
pub struct Campaign {
    /// Its plan.
    pub plan: Plan,
    /// The system; trials refer to its faults.
    pub system: System,
    /// The trials, in order.
    pub trials: Vec<Trial>,
    /// Hidden states that cause no complaint, each once.
    pub unnoticed: Vec<Hidden>,
    /// The figures.
    pub figures: Figures,
    /// The largest groups of single faults that no offered test tells apart, and where one more test point or lamp would;
    /// looked for where single faults are hidden.
    pub alike: Vec<Alike>,
    /// How many tests were offered, each counted once, whatever the set-up.
    pub offered: usize,
    /// Those of them that no trial asked for.
    pub never_useful: Vec<Test>,
    /// What other ways of choosing tests come to.
    pub baselines: Option<Baselines>,
    /// The engine's rule beside the optimum on the reduced install; looked for where single faults are hidden.
    pub reduced: Option<Reduced>,
}

/// Why there is no campaign.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// The install lacks figures.
    Incomplete(Vec<Incomplete>),
    /// No hidden state causes a complaint.
    NoComplaint,
}

/// Runs a campaign on an install.
///
/// # Errors
/// An install that lacks figures, or one that nothing can be complained of.
pub fn campaign(install: &Install, plan: Plan) -> Result<Campaign, Trouble> {
    let system = System::new(install.clone()).map_err(Trouble::Incomplete)?;
    let uses = Uses::new(&system.circuit, install);
    let possible: Vec<PossibleFault> = system.possible.iter().cloned().collect();
    let scene = Scene { install, uses: &uses, possible: &possible, plan };
    let drawn = cases(&scene, &system);
    if drawn.cases.is_empty() {
        return Err(Trouble::NoComplaint);
    }
    let trials = play_all(&scene, &system, &drawn.cases);
    let alike = if plan.faults == Faults::Single { further(&scene, &system) } else { Vec::new() };
    let reduced = if plan.faults == Faults::Single { reduced(&scene, &system, &drawn.cases) } else { None };
    let figures = Figures::of(&trials, drawn.considered, drawn.detected);
    let (offered, never_useful) = never_useful(&system, &system.instruments_at_hand(&plan.at_hand), &trials);
    let baselines = Baselines::of(&trials);
    Ok(Campaign {
        plan,
        trials,
        unnoticed: drawn.unnoticed,
        figures,
        alike,
        offered,
        never_useful,
        baselines,
        reduced,
        system,
    })
}

/// Plays all cases, in order, on as many threads as the plan says.
fn play_all(scene: &Scene<'_>, system: &System, cases: &[Case]) -> Vec<Trial> {
    let threads = scene.plan.threads.clamp(1, cases.len().max(1));
    if threads == 1 {
        return share(scene, system, cases, (0, 1)).into_iter().map(|(_, trial)| trial).collect();
    }
    // A system is not shared between threads: each has its own, made from the same install.
    let mut all: Vec<(usize, Trial)> = std::thread::scope(|scope| {
        let own = |thread: usize| {
            let system = System::new(scene.install.clone()).ok()?;
            Some(share(scene, &system, cases, (thread, threads)))
        };
        let running: Vec<_> = (0..threads).map(|thread| scope.spawn(move || own(thread))).collect();
        running.into_iter().filter_map(|thread| thread.join().ok().flatten()).flatten().collect()
    });
    all.sort_by_key(|(i, _)| *i);
    all.into_iter().map(|(_, trial)| trial).collect()
}

/// Plays each `of`-th case, beginning with the `first`.
fn share(scene: &Scene<'_>, system: &System, cases: &[Case], (first, of): (usize, usize)) -> Vec<(usize, Trial)> {
    let own = cases.iter().enumerate().skip(first).step_by(of);
    // A network knows what it was asked before, which moves last digits and where a chattering circuit is left: of its own to each
    // case, a trial is the same whatever was played before it.
    let alone = |(i, case): (usize, &Case)| {
        let network = Network::new(&system.circuit.netlist);
        Some((i, play(scene, system, &network, case)?))
    };
    own.filter_map(alone).collect()
}
