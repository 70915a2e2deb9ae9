//! The install reduced until the best choice of tests can be computed: the engine's rule beside the optimum.
//!
//! Of all complaints the one with most prior mass is taken. Its likeliest repairs, each as one fault at its likeliest size, and
//! the most telling tests of its usual set-up make a game of sure outcomes, in which readings are apart where the meter tells
//! them apart (`Diagnosis::game`). Minutes are those of the install, with the ways between places and what is open already. Of
//! 16 repairs and 20 tests a tenth is left out again and again until dynamic programming comes to an end.

use super::cases::Case;
use super::complaint::complaint;
use super::scene::Scene;
use crate::bench::Grievance;
use crate::choice::{Rule, Table};
use crate::job::{Diagnosis, System};
use crate::network::Network;

/// Repairs and tests to begin with.
const REPAIRS: usize = 16;
const TESTS: usize = 20;
/// States that dynamic programming may look at.
const MOST_STATES: usize = 60_000;

/// What the reduced install came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Reduced {
    /// Faults, each with a repair of its own.
    pub faults: usize,
    /// Tests.
    pub tests: usize,
    /// Mean minutes by the engine's rule, weighted by the prior.
    pub mean_minutes: f64,
    /// The least that any rule can come to.
    pub optimal_minutes: f64,
    /// The same by rollout over that rule ([`Rule::ROLLOUT`]).
    pub rollout_minutes: f64,
}

/// `None` where there is nothing to choose.
pub(super) fn reduced(scene: &Scene<'_>, system: &System, cases: &[Case]) -> Option<Reduced> {
    let complaint = complaint(system, heaviest(cases)?, scene.plan.faults)?;
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments_at_hand(&scene.plan.at_hand);
    let job = Diagnosis::begin(system, &network, instruments, complaint, scene.plan.seed).ok()?;
    let (mut repairs, mut tests) = (REPAIRS, TESTS);
    while repairs > 1 && tests > 0 {
        let table = job.game(repairs, tests)?;
        if let Some(optimal_minutes) = table.optimum(MOST_STATES) {
            return Some(Reduced::of(&table, optimal_minutes));
        }
        (repairs, tests) = (repairs * 9 / 10, tests * 9 / 10);
    }
    None
}

impl Reduced {
    fn of(table: &Table, optimal_minutes: f64) -> Self {
        Self {
            faults: table.groups(),
            tests: table.tests(),
            mean_minutes: table.expected(Rule::Rate),
            optimal_minutes,
            rollout_minutes: table.expected(Rule::ROLLOUT),
        }
    }
}

/// The complaint that most of the prior comes to.
fn heaviest(cases: &[Case]) -> Option<&Grievance> {
    let mut sums: Vec<(&Grievance, f64)> = Vec::new();
    for case in cases {
        match sums.iter_mut().find(|(grievance, _)| **grievance == case.grievance) {
            Some((_, sum)) => *sum += case.hidden.weight,
            None => sums.push((&case.grievance, case.hidden.weight)),
        }
    }
    sums.into_iter().reduce(|best, next| if next.1 > best.1 { next } else { best }).map(|(grievance, _)| grievance)
}
