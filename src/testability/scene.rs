//! What all trials of a campaign have in common: the system as a mock-up, its uses, the person at it.

use super::Plan;
use crate::bench::{Draws, Grievance, Hidden, MockUp, Person, Uses};
use crate::circuit::{Circuit, PossibleFault};
use crate::install::Install;
use fastrand::Rng;

/// Everything that trials have in common but the engine's own system, which is not shared between threads.
#[derive(Clone, Copy)]
pub(super) struct Scene<'s> {
    pub(super) install: &'s Install,
    pub(super) uses: &'s Uses,
    pub(super) possible: &'s [PossibleFault],
    pub(super) plan: Plan,
}

impl Scene<'_> {
    pub(super) fn mock_up<'c>(&self, circuit: &'c Circuit, hidden: &Hidden, draws: &Draws) -> MockUp<'c> {
        MockUp::new(&circuit.netlist, hidden.edits(self.possible), draws.clone())
    }

    /// What somebody would complain of.
    pub(super) fn grievance(&self, circuit: &Circuit, hidden: &Hidden, draws: &Draws) -> Option<Grievance> {
        self.uses.complaint(circuit, self.install, || self.mock_up(circuit, hidden, draws))
    }

    /// What is left of a complaint with less hidden; `None`: it is cured.
    pub(super) fn still(
        &self,
        circuit: &Circuit,
        was: &Grievance,
        hidden: &Hidden,
        draws: &Draws,
    ) -> Option<Grievance> {
        let mock_ups = [hidden, &Hidden::nothing()].map(|hidden| self.mock_up(circuit, hidden, draws));
        self.uses.still(circuit, self.install, was, mock_ups)
    }

    /// The person who answers the tests of a job.
    pub(super) fn person<'c>(&self, circuit: &'c Circuit, hidden: &Hidden, draws: &Draws, seed: u64) -> Person<'c> {
        let mock_up = self.mock_up(circuit, hidden, draws);
        let person = if self.plan.noise {
            Person::noisy(circuit, mock_up, &self.install.knowledge.tolerances, Rng::with_seed(seed))
        } else {
            Person::exact(circuit, mock_up)
        };
        person.before(hidden, self.possible)
    }
}
