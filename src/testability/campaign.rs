//! Many trials: which states are hidden, in what noise, on how many threads.

use super::figures::Figures;
use super::trial::{Trial, play};
use crate::bench::{Draws, Grievance, Hidden, MockUp, Person, Uses};
use crate::circuit::{Incomplete, PossibleFault};
use crate::install::Install;
use crate::job::System;
use crate::network::Network;
use fastrand::Rng;

/// Trials of a noisy campaign when nothing else is said.
const TRIALS: usize = 200;
/// Hidden states that are drawn for each trial before a campaign gives up: most of them would cause no complaint.
const DRAWS_PER_TRIAL: usize = 50;

/// What is hidden.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Faults {
    /// One fault.
    Single,
    /// Two faults.
    Pair,
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
    /// Trials; `None`: every single fault at five severities in an exact campaign, 200 in others.
    pub trials: Option<usize>,
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
}

/// Why there is no campaign.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// The install lacks figures.
    Incomplete(Vec<Incomplete>),
    /// No hidden state causes a complaint.
    NoComplaint,
}

/// A trial to be played.
struct Case {
    hidden: Hidden,
    grievance: Grievance,
    draws: Draws,
    seed: u64,
}

/// Runs a campaign on an install.
///
/// # Errors
/// An install that lacks figures, or one that nothing can be complained of.
pub fn campaign(install: &Install, plan: Plan) -> Result<Campaign, Trouble> {
    let system = System::new(install.clone()).map_err(Trouble::Incomplete)?;
    let uses = Uses::new(&system.circuit, install);
    let possible: Vec<PossibleFault> = system.possible.iter().cloned().collect();
    let stage = Stage { install, system: &system, uses: &uses, possible: &possible, plan };
    let drawn = stage.cases();
    if drawn.cases.is_empty() {
        return Err(Trouble::NoComplaint);
    }
    let trials = stage.play(&drawn.cases);
    let figures = Figures::of(&trials, drawn.considered, drawn.detected);
    Ok(Campaign { plan, trials, unnoticed: drawn.unnoticed, figures, system })
}

/// Everything that trials have in common.
struct Stage<'s> {
    install: &'s Install,
    system: &'s System,
    uses: &'s Uses,
    possible: &'s [PossibleFault],
    plan: Plan,
}

/// The cases of a campaign, and what was left aside.
struct Drawn {
    cases: Vec<Case>,
    considered: usize,
    detected: f64,
    unnoticed: Vec<Hidden>,
}

impl Stage<'_> {
    fn cases(&self) -> Drawn {
        if self.plan.faults == Faults::Single && !self.plan.noise { self.visited() } else { self.drawn() }
    }

    fn draws(&self, rng: &mut Rng) -> Draws {
        if self.plan.noise {
            Draws::new(&self.system.circuit, self.install.nominal, self.plan.tolerance_scale, rng)
        } else {
            Draws::none()
        }
    }

    fn grievance(&self, hidden: &Hidden, draws: &Draws) -> Option<Grievance> {
        let edits = hidden.edits(self.possible);
        let fresh = || MockUp::new(&self.system.circuit.netlist, edits.clone(), draws.clone());
        self.uses.complaint(&self.system.circuit, self.install, fresh)
    }

    /// Every single fault at every severity, or `trials` of them spread evenly over their weights.
    fn visited(&self) -> Drawn {
        let all = Hidden::every(self.possible);
        let total: f64 = all.iter().map(|h| h.weight).sum();
        let (mut noticed, mut unnoticed) = (Vec::new(), Vec::new());
        let considered = all.len();
        for hidden in all {
            match self.grievance(&hidden, &Draws::none()) {
                Some(grievance) => noticed.push((hidden, grievance)),
                None => unnoticed.push(hidden),
            }
        }
        let weight: f64 = noticed.iter().map(|(h, _)| h.weight).sum();
        let case = |(hidden, grievance): (Hidden, Grievance)| Case {
            hidden,
            grievance,
            draws: Draws::none(),
            seed: self.plan.seed,
        };
        let cases = match self.plan.trials {
            Some(trials) if trials < noticed.len() => {
                spread(noticed, weight, trials, self.plan.seed).into_iter().map(case).collect()
            }
            _ => noticed.into_iter().map(case).collect(),
        };
        Drawn { cases, considered, detected: weight / total.max(f64::MIN_POSITIVE), unnoticed }
    }

    /// States drawn by prior, until there are enough that somebody would complain of.
    fn drawn(&self) -> Drawn {
        let trials = self.plan.trials.unwrap_or(TRIALS);
        let mut rng = Rng::with_seed(self.plan.seed);
        let mut drawn = Drawn { cases: Vec::new(), considered: 0, detected: 0.0, unnoticed: Vec::new() };
        while drawn.cases.len() < trials && drawn.considered < DRAWS_PER_TRIAL * trials {
            // Each state has its own generator, so that the next one does not hang on what this one has drawn.
            let seed = rng.u64(..);
            let mut own = Rng::with_seed(seed);
            let hidden = match self.plan.faults {
                Faults::Single => Hidden::draw(self.possible, 1, &mut own),
                Faults::Pair => Hidden::draw(self.possible, 2, &mut own),
                Faults::None => Some(Hidden::nothing()),
            };
            let Some(hidden) = hidden else { break };
            let draws = self.draws(&mut own);
            drawn.considered += 1;
            let grievance = match self.plan.faults {
                Faults::None => self.uses.mistaken(&self.system.circuit, self.install, own.usize(0..1024)),
                Faults::Single | Faults::Pair => self.grievance(&hidden, &draws),
            };
            match grievance {
                Some(grievance) => drawn.cases.push(Case { hidden, grievance, draws, seed: own.u64(..) }),
                None => drawn.unnoticed.push(hidden),
            }
        }
        drawn.detected = drawn.cases.len() as f64 / drawn.considered.max(1) as f64;
        drawn
    }

    /// Plays all cases, in order, on as many threads as the plan says.
    fn play(&self, cases: &[Case]) -> Vec<Trial> {
        let player = Player { install: self.install, possible: self.possible, plan: self.plan };
        let threads = self.plan.threads.clamp(1, cases.len().max(1));
        if threads == 1 {
            return player.share(self.system, cases, (0, 1)).into_iter().map(|(_, trial)| trial).collect();
        }
        // A system is not shared between threads: each has its own, made from the same install.
        let mut all: Vec<(usize, Trial)> = std::thread::scope(|scope| {
            let share = |thread: usize| {
                let system = System::new(player.install.clone()).ok()?;
                Some(player.share(&system, cases, (thread, threads)))
            };
            let running: Vec<_> = (0..threads).map(|thread| scope.spawn(move || share(thread))).collect();
            running.into_iter().filter_map(|thread| thread.join().ok().flatten()).flatten().collect()
        });
        all.sort_by_key(|(i, _)| *i);
        all.into_iter().map(|(_, trial)| trial).collect()
    }
}

/// What a thread needs to play its share of the trials.
#[derive(Clone, Copy)]
struct Player<'s> {
    install: &'s Install,
    possible: &'s [PossibleFault],
    plan: Plan,
}

impl Player<'_> {
    /// Plays each `of`-th case, beginning with the `first`.
    fn share(&self, system: &System, cases: &[Case], (first, of): (usize, usize)) -> Vec<(usize, Trial)> {
        let network = Network::new(&system.circuit.netlist);
        let own = cases.iter().enumerate().skip(first).step_by(of);
        own.filter_map(|(i, case)| Some((i, self.one(system, &network, case)?))).collect()
    }

    fn one<'n>(&self, system: &'n System, network: &'n Network<'n>, case: &Case) -> Option<Trial> {
        let edits = case.hidden.edits(self.possible);
        let mock_up = MockUp::new(&system.circuit.netlist, edits, case.draws.clone());
        let person = if self.plan.noise {
            let tolerances = &self.install.knowledge.tolerances;
            Person::noisy(&system.circuit, mock_up, tolerances, Rng::with_seed(case.seed))
        } else {
            Person::exact(&system.circuit, mock_up)
        };
        play(system, network, &case.hidden, &case.grievance, person, self.plan.seed)
    }
}

/// `count` of a list, evenly over its weights from a random start on; each then counts the same.
fn spread(list: Vec<(Hidden, Grievance)>, total: f64, count: usize, seed: u64) -> Vec<(Hidden, Grievance)> {
    let step = total / count.max(1) as f64;
    let mut next = step * Rng::with_seed(seed).f64();
    let mut sum = 0.0;
    let mut chosen = Vec::new();
    for (hidden, grievance) in list {
        sum += hidden.weight;
        while next < sum && chosen.len() < count {
            chosen.push((Hidden { weight: 1.0, ..hidden.clone() }, grievance.clone()));
            next += step;
        }
    }
    chosen
}
