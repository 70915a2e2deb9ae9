//! The reading that those would fail which had also been possible (engine design, section 4, end).

use super::{Limit, Proof, Proves};
use crate::belief::{Predicted, predict};
use crate::choice::{Test, minutes};
use crate::circuit::SetUp;
use crate::job::Diagnosis;
use crate::network::Operating;
use crate::suspects::{FaultId, GroupId, SuspectId};

/// Suspects behind the leading ones that a proof has to speak against.
const RUNNERS_UP: usize = 8;
/// Of the tests that the most would fail, those whose limits are worked out.
const TRIED: usize = 6;
/// A word that a good circuit shows speaks against a suspect which shows it more seldom than this.
const SELDOM: f64 = 0.2;

/// A suspect that had been possible, with its weight.
struct RunnerUp {
    faults: Vec<FaultId>,
    suspect: SuspectId,
    weight: f64,
}

impl<'n> Diagnosis<'n> {
    /// The reading that most of the runners-up would fail which the complaint and `others` let pass; `None`: there is none, or
    /// none is needed.
    pub(super) fn against_runners_up(&self, groups: &[GroupId], others: &[Proof]) -> Option<Proof> {
        let usual = &self.complaint().usual;
        let retries = self.complained();
        let others: Vec<(&Proof, Option<Limit>)> = others.iter().map(|proof| (proof, self.limit(proof))).collect();
        let mut passed: Vec<(RunnerUp, Operating<'n>)> = Vec::new();
        for runner_up in self.runners_up(groups) {
            let shows =
                |test: &Test| self.with(runner_up.suspect, groups, &test.set_up).map(|state| (state, test.clone()));
            let seen = retries.iter().filter_map(shows).any(|(state, test)| self.word_fails(&test, &state));
            let read = others.iter().any(|(proof, limit)| {
                let state = self.with(runner_up.suspect, groups, &proof.test.set_up);
                state.is_some_and(|state| self.fails(&proof.test, limit.as_ref(), &state))
            });
            if let (false, Some(state)) = (seen || read, self.with(runner_up.suspect, groups, usual)) {
                passed.push((runner_up, state));
            }
        }
        if passed.is_empty() {
            return None;
        }
        let healthy = crate::job::diagnosis::healthy(self.belief().network(), usual).ok()?;
        let standing = self.standing();
        let mut tests: Vec<(f64, f64, Test)> = Vec::new();
        for test in self.tests(usual) {
            if Self::probed_nodes(&test).is_none() || self.is_out_of_reach(&test) {
                continue;
            }
            let Some(good) = self.volts_in(&test, &healthy) else { continue };
            // Another state is another reading by far more than tolerances make of it.
            let far = |state: &Operating<'n>| {
                self.volts_in(&test, state).is_none_or(|v| (v - good).abs() > APART * good.abs().max(1.0))
            };
            let weight: f64 = passed.iter().filter(|(_, state)| far(state)).map(|(r, _)| r.weight).sum();
            if weight > 0.0 {
                tests.push((weight, minutes(&self.system().install, &standing, &test).get(), test));
            }
        }
        tests.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        for (_, _, test) in tests.into_iter().take(TRIED) {
            let mut proof = Proof { test, proves: Proves::NotThat(Vec::new()) };
            let limit = self.limit(&proof);
            let failing = passed.iter().filter(|(_, state)| self.fails(&proof.test, limit.as_ref(), state));
            let faults: Vec<FaultId> = failing.flat_map(|(runner_up, _)| runner_up.faults.clone()).collect();
            if !faults.is_empty() {
                proof.proves = Proves::NotThat(faults);
                return Some(proof);
            }
        }
        None
    }

    /// The likeliest suspects beside what is being repaired.
    fn runners_up(&self, groups: &[GroupId]) -> Vec<RunnerUp> {
        let suspects = self.belief().suspects();
        let repaired: Vec<SuspectId> =
            groups.iter().flat_map(|group| suspects.groups()[*group].members.iter().copied()).collect();
        let mut cured = self.cured_by(groups);
        cured.extend(self.belief().cured());
        let probability = &self.posterior().probability;
        let mut all: Vec<RunnerUp> = suspects
            .list()
            .enumerate()
            .filter(|(id, suspect)| {
                let left = suspect.faults.iter().any(|fault| !cured.contains(fault));
                left && !suspect.faults.is_empty() && !repaired.contains(id)
            })
            .map(|(suspect, of)| RunnerUp {
                faults: of.faults.iter().copied().filter(|fault| !cured.contains(fault)).collect(),
                suspect,
                weight: probability[suspect],
            })
            .filter(|runner_up| runner_up.weight > 0.0)
            .collect();
        all.sort_by(|a, b| b.weight.total_cmp(&a.weight).then(a.suspect.cmp(&b.suspect)));
        all.truncate(RUNNERS_UP);
        all
    }

    fn cured_by(&self, groups: &[GroupId]) -> Vec<FaultId> {
        let suspects = self.belief().suspects();
        let members = groups.iter().flat_map(|group| &suspects.groups()[*group].members);
        members.flat_map(|s| suspects.list()[*s].faults.iter().copied()).collect()
    }

    /// The circuit with a suspect left in it behind the repair.
    fn with(&self, suspect: SuspectId, groups: &[GroupId], set_up: &SetUp) -> Option<Operating<'n>> {
        let (belief, posterior) = (self.belief(), self.posterior());
        let point = posterior.likeliest_point(suspect);
        let ohms = belief.tracks()[suspect].points.get(point)?.ohms;
        let mut cured = belief.cured();
        cured.extend(self.cured_by(groups));
        let edits = belief.suspects().edits(suspect, ohms, &cured);
        let network = belief.network();
        let branches = network.enter(&edits, &network.fresh(), set_up).ok()?;
        branches.into_iter().next().map(|branch| branch.state)
    }

    /// Whether a proof would fail in this state.
    fn fails(&self, test: &Test, limit: Option<&Limit>, state: &Operating<'n>) -> bool {
        match limit {
            Some(limit) => {
                let Some(volts) = self.volts_in(test, state) else { return true };
                match limit {
                    Limit::AtMost { volts: most, .. } => volts.abs() > *most,
                    Limit::Between(low, high) => volts < *low || volts > *high,
                }
            }
            None => self.word_fails(test, state),
        }
    }

    /// Whether a look would hardly show in this state what a good circuit shows.
    fn word_fails(&self, test: &Test, state: &Operating<'n>) -> bool {
        let (Some(Predicted::Words(good)), Predicted::Words(here)) =
            (self.good(test).map(|good| good.predicted), self.shown(test, state))
        else {
            return false;
        };
        let top = (0..good.len()).max_by(|a, b| good[*a].total_cmp(&good[*b]).then(b.cmp(a)));
        top.and_then(|top| here.get(top)).is_some_and(|share| *share < SELDOM)
    }

    fn shown(&self, test: &Test, state: &Operating<'n>) -> Predicted {
        let belief = self.belief();
        predict(belief.network(), belief.senses(), state, &test.probe, |e| state.state(e))
    }

    /// Volts that a test reads; `None` where nothing settles.
    fn volts_in(&self, test: &Test, state: &Operating<'n>) -> Option<f64> {
        self.shown(test, state).steady()
    }
}

/// Share of a good reading (of a volt, where it is smaller) by which another has to differ to be worth a closer look.
const APART: f64 = 0.02;
