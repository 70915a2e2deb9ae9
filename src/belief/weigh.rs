//! From the likelihood of each suspect to probabilities.

use super::blunders::Latent;
use super::density::{of_answer, of_unknown};
use super::integral::Weighed;
use super::track::Track;
use super::{Belief, Blunder, Evidence, Posterior, hearsay, occasion};
use crate::index::{Id, IdVec};
use crate::suspects::{FaultId, GroupId, Suspect, SuspectId};
use std::collections::BTreeMap;

/// Suspects at least this likely are asked which readings they doubt.
const DOUBTING: f64 = 1e-4;

/// Single repairs with their probability, and sets of repairs that are needed together with theirs.
type Repairs = (Vec<(GroupId, f64)>, Vec<(Vec<GroupId>, f64)>);

impl Belief<'_> {
    /// The probabilities by the joint densities as they are, with the observations `left_out` not counted.
    pub(super) fn weigh(&self, evidence: &Evidence, left_out: &[usize]) -> Posterior {
        let first = self.tracks().iter().next().map(|t| (t.suspect, self.one(t, evidence, left_out)));
        let healthy = first.as_ref().map_or(0.0, |(_, w)| w.log);
        let timing = self.senses().timing.as_deref();
        let weighed: IdVec<SuspectId, Weighed> = self
            .tracks()
            .iter()
            .map(|t| {
                if !self.active[t.suspect] {
                    return Weighed { log: f64::NEG_INFINITY, ..even(t) };
                }
                let read = if self.inert[t.suspect] {
                    Weighed { log: healthy, ..even(t) }
                } else {
                    let known = first.as_ref().filter(|(id, _)| *id == t.suspect);
                    known.map_or_else(|| self.one(t, evidence, left_out), |(_, w)| w.clone())
                };
                let faults = &self.suspects().list()[t.suspect].faults;
                let (factor, shares) = occasion::weigh(timing, evidence, faults, t, &read.shares);
                let heard = if faults.is_empty() {
                    hearsay::correction(evidence, t, self.suspects().shares().nothing, left_out)
                } else {
                    0.0
                };
                Weighed { log: read.log + factor + heard, shares, ..read }
            })
            .collect();
        let counted = (0..evidence.observations.len()).filter(|i| !left_out.contains(i));
        let log_unknown: f64 = counted.map(|i| self.unknown_of(evidence, i)).sum();
        self.normalise(&weighed, log_unknown + occasion::of_unknown(timing, evidence))
    }

    /// Log of the probability of one observation under something that is not modelled.
    pub(super) fn unknown_of(&self, evidence: &Evidence, observation: usize) -> f64 {
        // It has no circuit; only the sort of the observation (how many words) is taken from the healthy one.
        let shape = self.tracks().iter().find_map(|t| t.points.first()?.paths.first());
        let Some(sort) = shape.and_then(|path| path.predicted.get(observation)) else { return 0.0 };
        let o = &evidence.observations[observation];
        // What is not modelled is elsewhere: what is looked at for marks looks sound.
        let probability = match self.senses().marks(&o.probe) {
            Some(_) => of_answer(&o.answer, sort, 0.0, o.blunder, self.noise()),
            None => of_unknown(&o.answer, sort, self.noise()),
        };
        f64::from(o.times) * probability.ln()
    }

    /// One suspect. A suspect that is hopeless with all readings stays so without one of them: leaving it out brings a suspect
    /// up by what a blunder costs, and no more.
    fn one(&self, track: &Track<'_>, evidence: &Evidence, left_out: &[usize]) -> Weighed {
        if evidence.observations.is_empty() {
            return even(track);
        }
        match &self.fits[track.suspect] {
            Some(fit) => match fit.whole().filter(|_| left_out.is_empty()) {
                Some(whole) => whole.clone(),
                None => self.scene(evidence, left_out).weigh(track, fit),
            },
            None => Weighed { log: f64::NEG_INFINITY, shares: vec![0.0; track.points.len()], ..Weighed::default() },
        }
    }

    fn normalise(&self, weighed: &IdVec<SuspectId, Weighed>, log_unknown: f64) -> Posterior {
        let list = self.suspects().list();
        let logs: IdVec<SuspectId, f64> = list.enumerate().map(|(id, s)| s.prior.ln() + weighed[id].log).collect();
        let unknown = self.suspects().shares().unknown.ln() + log_unknown;
        let top = logs.iter().copied().fold(unknown, f64::max);
        let total: f64 = logs.iter().map(|l| (l - top).exp()).sum::<f64>() + (unknown - top).exp();
        let probability: IdVec<SuspectId, f64> = logs.iter().map(|l| (l - top).exp() / total).collect();
        let (groups, sets) = self.repairs(&probability);
        Posterior {
            doubts: self.doubts(weighed, &probability),
            log_likelihood: weighed.iter().map(|w| w.log).collect(),
            probability,
            severities: weighed.iter().map(|w| w.shares.clone()).collect(),
            log_unknown,
            unknown: (unknown - top).exp() / total,
            groups,
            sets,
        }
    }

    /// What suspects of these probabilities need: single repairs, likeliest first, and what is needed together.
    pub(super) fn repairs(&self, probability: &IdVec<SuspectId, f64>) -> Repairs {
        let cured = self.cured();
        let mut sets: BTreeMap<Vec<GroupId>, f64> = BTreeMap::new();
        for (id, p) in probability.enumerate().filter(|(_, p)| **p > 0.0) {
            *sets.entry(self.needed(id, &cured)).or_default() += p;
        }
        let all = self.suspects().groups();
        let mut groups: Vec<(GroupId, f64)> = all.ids().map(|id| (id, 0.0)).collect();
        for (set, share) in &sets {
            for group in set {
                groups[group.position()].1 += share;
            }
        }
        groups.retain(|(id, _)| all[*id].repair.len() < 2);
        groups.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        (groups, sets.into_iter().collect())
    }

    /// The single repairs that a suspect still needs, those that were made left out; for none, 'nothing wrong'.
    pub(super) fn needed(&self, suspect: SuspectId, cured: &[FaultId]) -> Vec<GroupId> {
        let Suspect { faults, stays, group, .. } = &self.suspects().list()[suspect];
        if cured.is_empty() || *stays || !faults.iter().any(|f| cured.contains(f)) {
            return self.suspects().repairs(*group);
        }
        let left: Vec<&str> = (faults.iter().filter(|f| !cured.contains(f)))
            .map(|f| self.suspects().faults()[*f].repair.as_str())
            .collect();
        let repairs = self.suspects().repairs(*group).into_iter();
        let mut still: Vec<GroupId> = repairs
            .filter(|g| self.suspects().groups()[*g].repair.iter().any(|word| left.contains(&word.as_str())))
            .collect();
        if still.is_empty() {
            still.extend(self.suspects().list().iter().next().map(|nothing| nothing.group));
        }
        still
    }

    /// What a posterior would be if none of `groups` were needed; `None` if that has less than probability `least`. Something that
    /// is not modelled is left aside.
    pub fn rivals(&self, posterior: &Posterior, groups: &[GroupId], least: f64) -> Option<Posterior> {
        let cured = self.cured();
        let rival = |id: SuspectId, p: f64| {
            if p > 0.0 && !self.needed(id, &cured).iter().any(|group| groups.contains(group)) { p } else { 0.0 }
        };
        let left: IdVec<SuspectId, f64> = posterior.probability.enumerate().map(|(id, p)| rival(id, *p)).collect();
        let sum: f64 = left.iter().sum();
        if sum < least {
            return None;
        }
        let probability: IdVec<SuspectId, f64> = left.iter().map(|p| p / sum).collect();
        let (groups, sets) = self.repairs(&probability);
        Some(Posterior { probability, unknown: 0.0, groups, sets, ..posterior.clone() })
    }

    /// One name for what a suspect still needs: hypotheses that need the same have the same.
    pub fn name_of_need(&self, suspect: SuspectId) -> GroupId {
        match self.needed(suspect, &self.cured())[..] {
            [one] => one,
            _ => self.suspects().list()[suspect].group,
        }
    }

    /// The probability of each blunder, over all suspects.
    fn doubts(&self, weighed: &IdVec<SuspectId, Weighed>, probability: &IdVec<SuspectId, f64>) -> Vec<(Blunder, f64)> {
        let mut sums = vec![0.0; self.latents.len()];
        for (w, p) in weighed.iter().zip(probability.iter()).filter(|(_, p)| **p >= DOUBTING) {
            for (sum, share) in sums.iter_mut().zip(&w.doubts) {
                *sum += p * share;
            }
        }
        // A set-up that was another from the beginning was another at a later reading too.
        let covers = |all: &Blunder, some: &Blunder| match (all, some) {
            (Blunder::SetUp(all), Blunder::SetUp(some)) => all != some && some.iter().all(|i| all.contains(i)),
            _ => false,
        };
        let with_earlier = |l: &Latent, own: f64| {
            let earlier = self.latents.iter().zip(&sums).filter(|(other, _)| covers(&other.blunder, &l.blunder));
            own + earlier.map(|(_, sum)| sum).sum::<f64>()
        };
        let named = self.latents.iter().zip(&sums).map(|(l, sum)| (l.blunder.clone(), with_earlier(l, *sum)));
        let mut doubts: Vec<(Blunder, f64)> = named.filter(|(_, share)| *share > 0.0).collect();
        doubts.sort_by(|a, b| b.1.total_cmp(&a.1));
        doubts
    }
}

/// Nothing was observed, or nothing that tells severities apart.
fn even(track: &Track<'_>) -> Weighed {
    let points = track.points.len();
    Weighed { log: 0.0, shares: vec![1.0 / points as f64; points], ..Weighed::default() }
}
