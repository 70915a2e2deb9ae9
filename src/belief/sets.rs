//! Several faults at once: sets of them become suspects when the likeliest ones leave something unexplained.
//!
//! Which sets is asked of the evidence alone, best first by an estimate ([`super::candidates`]); only the best are solved.

use super::candidates::{Candidate, FAR, SOLVED};
use super::density::{Noise, most_of_answer, of_answer};
use super::fit::Fit;
use super::held::{PINS, with_pins};
use super::update::HOPELESS;
use super::{Answer, Belief, Evidence, Observation, Posterior, Predicted};
use crate::suspects::{Set, SuspectId};

/// Sets are asked for when suspects that hold this share of all that has a name leave something unexplained. Where as much is
/// held by such as explain everything, a set, rarer beforehand by a factor of a thousand or more, holds next to nothing.
const UNEXPLAINED: f64 = 0.5;
/// An observation is unexplained when it is this much less likely (in log) than the likeliest answer, or when it is more
/// probably spoilt than not.
const MISSED: f64 = 3.0;

impl Belief<'_> {
    /// The posterior with the sets that the evidence asks for, best first.
    pub(super) fn with_sets(&mut self, posterior: &Posterior, evidence: &Evidence) -> Posterior {
        let mut made = 0;
        let mut best = self.best();
        let ground = self.ground(posterior, evidence);
        for candidate in self.candidates(&ground) {
            if made >= SOLVED || candidate.log < best - FAR {
                break;
            }
            let ids = self.admit_all(&candidate);
            made += ids.len();
            best = self.follow_all(ids, best, evidence);
        }
        let mut posterior = self.weighed_anew(best, evidence);
        let near = self.neighbours(&ground, &posterior);
        if !near.is_empty() {
            for candidate in near {
                let ids = self.admit_all(&candidate);
                best = self.follow_all(ids, best, evidence);
            }
            posterior = self.weighed_anew(best, evidence);
        }
        let finer = self.hold_finer(&posterior);
        if !finer.is_empty() {
            // The coarser ones, which are taken back, may have seemed better than anything is: nothing is judged by them.
            let again = self.follow_all(finer, f64::NEG_INFINITY, evidence).max(self.best());
            let is_dropped = |id: &SuspectId| {
                self.active[*id] && self.fits[*id].is_none() && !self.inert[*id] && self.logs[*id] >= again - HOPELESS
            };
            let dropped = self.suspects().list().ids().filter(is_dropped).collect();
            let best = self.follow_all(dropped, again, evidence);
            posterior = self.weighed_anew(best, evidence);
        }
        posterior
    }

    /// Whether the likeliest suspects cannot account for what was seen.
    pub(super) fn leaves_unexplained(&self, posterior: &Posterior, evidence: &Evidence) -> bool {
        let (mut all, mut missing) = (0.0, 0.0);
        for (id, p) in posterior.probability.enumerate().filter(|(_, p)| **p > 1e-6) {
            if self.suspects().list()[id].faults.is_empty() {
                continue;
            }
            all += p;
            if self.misses(id, posterior.likeliest_point(id), evidence) {
                missing += p;
            }
        }
        missing > UNEXPLAINED * all
    }

    /// Whether a suspect leaves an observation unexplained, at one point of its grid.
    fn misses(&self, id: SuspectId, point: usize, evidence: &Evidence) -> bool {
        // What changes nothing so far is the healthy circuit.
        let at = if self.fits[id].is_some() { Some((id, point)) } else { self.singles().next().map(|id| (id, 0)) };
        let Some((id, point)) = at else { return true };
        let whole = self.fits[id].as_ref().and_then(Fit::whole);
        if whole.is_none_or(|whole| whole.doubts.iter().sum::<f64>() > 0.5) {
            return true;
        }
        let Some(path) = self.tracks()[id].points.get(point).and_then(|p| p.paths.first()) else { return true };
        let missed = |(o, p): (&Observation, &Predicted)| {
            o.answer.value().is_none() && f64::from(o.times) * short_of_best(o, p, self.noise()) > MISSED
        };
        evidence.observations.iter().zip(&path.predicted).any(missed)
    }

    /// Makes suspects of a candidate: one, or one for each size at which a fault is held.
    fn admit_all(&mut self, candidate: &Candidate) -> Vec<SuspectId> {
        let (sets, log, weight) = (with_pins(&candidate.set, candidate.held, PINS[0]), candidate.log, candidate.weight);
        let admit = |set: Set| {
            let share: f64 = set.pins.iter().map(|pin| self.share_of(pin)).product();
            let prior = self.suspects().prior_of(&set.faults) * weight * share;
            let id = self.admit(set, prior);
            self.logs[id] = log;
            id
        };
        sets.into_iter().map(admit).collect()
    }
}

/// How much less likely an answer is, in log, than the likeliest one.
fn short_of_best(observation: &Observation, predicted: &Predicted, noise: &Noise) -> f64 {
    let own = of_answer(&observation.answer, predicted, 0.0, observation.blunder, noise).ln();
    let most = match (&observation.answer, predicted) {
        (Answer::Word(_), Predicted::Words(shares)) => shares.iter().copied().fold(f64::MIN_POSITIVE, f64::max).ln(),
        _ => most_of_answer(&observation.answer, noise),
    };
    most - own
}
