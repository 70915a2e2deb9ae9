//! Roughly what would be left of a likelihood without each single observation, from the ways that were summed for all of them.
//!
//! A reading that is spoilt says nothing: the ways in which it is, by the probability of that and the density of any value,
//! are those of all other readings, `P(others) = P(others, i spoilt) / (c_i f)` (Bayes' theorem). Of words the probability is
//! divided out. What falls short is ways of two blunders that were not worth summing, so that the odds
//! are off by up to [`FACTOR`]: where more hangs on it, it is worked out by itself.

use super::density::is_value;
use super::integral::{LogSum, Scene};
use super::spoilt::How;
use super::ways::Made;
use super::{Answer, Belief, Blunder, Evidence, Posterior, hearsay};
use crate::suspects::GroupId;

/// The odds of what is rough are off by less than this factor, either way. Seen on the sprayer (585 readings left out of noisy
/// jobs): 98 % within 1.03, the worst 4.6.
pub const FACTOR: f64 = 5.0;

/// The sums of one suspect.
pub(super) struct Spared<'a> {
    scene: &'a Scene<'a>,
    sums: Vec<LogSum>,
    /// Log of the density of any value.
    flat: f64,
}

impl<'a> Spared<'a> {
    pub(super) fn new(scene: &'a Scene<'a>) -> Self {
        let sums = vec![LogSum::default(); scene.evidence.observations.len()];
        Self { scene, sums, flat: -scene.noise.span.ln() }
    }

    /// Adds a way in which a blunder was made.
    pub(super) fn spoilt(&mut self, made: Made, log: f64) {
        if made.how == How::Shifted {
            return;
        }
        let scene = self.scene;
        let latent = &scene.latents[made.latent];
        for i in latent.blunder.spoils() {
            let observation = &scene.evidence.observations[*i];
            if is_value(&observation.answer, scene.noise) {
                let own = match latent.blunder {
                    Blunder::Reading(_) => latent.chance.ln() + scene.spoilt.alone(*i),
                    Blunder::BlackLead(_) | Blunder::SetUp(_) => {
                        scene.spoilt.log(made.latent, made.how, *i).unwrap_or(self.flat)
                    }
                };
                self.sums[*i].add(log - own);
            }
        }
    }

    /// Adds a way in which some were said with these probabilities.
    pub(super) fn said(&mut self, each: &[(usize, f64)], log: f64) {
        for (i, own) in each {
            self.sums[*i].add(log - own);
        }
    }

    /// For each observation the log-likelihood of all others; `total` is that of all.
    pub(super) fn logs(&self, total: f64) -> Vec<f64> {
        let all = self.sums.iter().zip(&self.scene.evidence.observations);
        all.map(|(sum, observation)| match observation.answer {
            Answer::NotTaken => total,
            Answer::Unsteady => f64::NAN,
            Answer::Number { .. } | Answer::Between(..) | Answer::Word(_) => sum.value(),
        })
        .collect()
    }
}

impl Belief<'_> {
    /// For each observation of the last `update`, roughly the probability that at least one of `groups` is needed with that
    /// observation left out; `None` where it is not known. `posterior` is that of all of them.
    pub fn roughly_without(&self, posterior: &Posterior, evidence: &Evidence, groups: &[GroupId]) -> Vec<Option<f64>> {
        let count = evidence.observations.len();
        let whole = |id| self.fits[id].as_ref().and_then(|fit| fit.whole());
        if *evidence != self.seen {
            return vec![None; count];
        }
        // What changes nothing so far is the healthy circuit.
        let healthy = self.tracks().ids().next().and_then(whole);
        let cured = self.cured();
        let (mut all, mut some) = (vec![0.0; count], vec![0.0; count]);
        for (id, p) in posterior.probability.enumerate().filter(|(_, p)| **p > 0.0) {
            let Some(weighed) = (if self.inert[id] { healthy } else { whole(id) }) else { continue };
            let needed = self.needed(id, &cured).iter().any(|group| groups.contains(group));
            let track = &self.tracks()[id];
            let nothing = self.suspects().list()[id].faults.is_empty();
            let heard = |left_out: &[usize]| {
                let prior = self.suspects().shares().nothing;
                if nothing { hearsay::correction(evidence, track, prior, left_out) } else { 0.0 }
            };
            let all_heard = heard(&[]);
            for (i, spared) in weighed.spared.iter().enumerate() {
                let share = p * (spared - weighed.log + heard(&[i]) - all_heard).exp();
                all[i] += share;
                if needed {
                    some[i] += share;
                }
            }
        }
        let share = |i: usize| {
            let share = some[i] / (all[i] + posterior.unknown * (-self.unknown_of(evidence, i)).exp());
            share.is_finite().then_some(share)
        };
        (0..count).map(share).collect()
    }

    /// The observations without which one of `groups` may no longer hold at least `lead`, the least sure first.
    pub(super) fn doubtful_without(
        &self,
        posterior: &Posterior,
        evidence: &Evidence,
        groups: &[GroupId],
        lead: f64,
    ) -> Vec<usize> {
        let rough = self.roughly_without(posterior, evidence, groups);
        let doubt = |i: &usize| rough[*i].map_or(1.0, |share| 1.0 - share);
        let mut doubtful: Vec<usize> = (0..rough.len()).filter(|i| doubt(i) * FACTOR > 1.0 - lead).collect();
        doubtful.sort_by(|a, b| doubt(b).total_cmp(&doubt(a)));
        doubtful
    }
}
