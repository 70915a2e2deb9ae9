//! Ranks the offered tests by information per minute.

use super::cost::{Standing, minutes};
use super::in_play::{Hypothesis, in_play};
use super::information::{Outcome, gain};
use super::test::Test;
use crate::belief::{Belief, Posterior, Probe, predict};
use crate::circuit::SetUp;
use crate::install::Install;
use crate::network::Operating;
use crate::units::Minutes;
use std::rc::Rc;

/// A test with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// The test.
    pub test: Test,
    /// Information about the repair in bits.
    pub bits: f64,
    /// Minutes from where the person stands.
    pub minutes: Minutes,
}

/// Minutes below which a test counts as free; keeps the rate finite.
const FLOOR: f64 = 0.1;

impl Ranked {
    /// Bits per minute.
    pub fn rate(&self) -> f64 {
        self.bits / self.minutes.get().max(FLOOR)
    }
}

/// Standard deviation of a meter at a value in volts.
pub type Accuracy = fn(f64) -> f64;

/// What is fixed while tests are ranked.
pub struct Ranking<'a, 'n> {
    /// The install.
    pub install: &'a Install,
    /// The belief with all readings so far.
    pub belief: &'a Belief<'n>,
    /// Its posterior.
    pub posterior: &'a Posterior,
    /// Where the person stands.
    pub standing: &'a Standing,
    /// The meter's accuracy.
    pub accuracy: Accuracy,
    /// Chance that a reading says nothing.
    pub blunder: f64,
}

impl<'n> Ranking<'_, 'n> {
    /// The tests that tell something, best rate first; equal ones in the order offered. `tests_in` lists the tests of a set-up.
    pub fn rank(
        &self,
        set_ups: &[SetUp],
        tests_in: impl Fn(&SetUp) -> Vec<Test>,
        least_bits: f64,
    ) -> Vec<Ranked> {
        let hypotheses = in_play(self.belief, self.posterior);
        let mut ranked = Vec::new();
        for set_up in set_ups {
            let states: Vec<Option<Rc<Operating<'n>>>> =
                hypotheses.iter().map(|h| self.state_in(h, set_up)).collect();
            for test in tests_in(set_up) {
                let bits = self.bits(&hypotheses, &states, &test.probe);
                if bits >= least_bits {
                    let minutes = minutes(self.install, self.standing, &test);
                    ranked.push(Ranked { test, bits, minutes });
                }
            }
        }
        // A stable sort: ties stay in the order of the offer.
        ranked.sort_by(|a, b| b.rate().total_cmp(&a.rate()));
        ranked
    }

    /// The operating point of a hypothesis in a set-up that may still have to be entered.
    fn state_in(&self, hypothesis: &Hypothesis, set_up: &SetUp) -> Option<Rc<Operating<'n>>> {
        let path = hypothesis.path_of(self.belief);
        if self.standing.set_up == *set_up && !path.states.is_empty() {
            return Some(Rc::clone(path.last()));
        }
        let suspects = self.belief.suspects();
        let ohms = self.belief.tracks()[hypothesis.suspect].points[hypothesis.point].ohms;
        let edits = suspects.edits(hypothesis.suspect, ohms);
        let branches = self.belief.network().enter(&edits, path.last().memory(), set_up).ok()?;
        branches.into_iter().max_by(|a, b| a.weight.total_cmp(&b.weight)).map(|b| Rc::new(b.state))
    }

    fn bits(
        &self,
        hypotheses: &[Hypothesis],
        states: &[Option<Rc<Operating<'n>>>],
        probe: &Probe,
    ) -> f64 {
        let outcomes: Vec<Outcome> = hypotheses
            .iter()
            .zip(states)
            .filter_map(|(h, state)| {
                let rest = &h.path_of(self.belief).rest;
                let state = state.as_ref()?;
                let predicted =
                    predict(self.belief.network(), self.belief.senses(), rest, state, probe);
                Some(Outcome { group: h.group, weight: h.weight, predicted })
            })
            .collect();
        gain(&outcomes, self.accuracy, self.blunder, self.belief.noise())
    }
}
