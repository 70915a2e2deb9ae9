//! The probability of every suspect given all readings.

use super::Blunder;
use crate::index::IdVec;
use crate::suspects::{GroupId, SuspectId};

/// Probabilities of all suspects; with the unknown they sum to 1.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// Log of the likelihood of all readings, integrated over severity.
    pub log_likelihood: IdVec<SuspectId, f64>,
    /// Probability.
    pub probability: IdVec<SuspectId, f64>,
    /// Share of each severity point (by position in the suspect's grid), summing to 1.
    pub severities: IdVec<SuspectId, Vec<f64>>,
    /// Log-likelihood of something that is not modelled.
    pub log_unknown: f64,
    /// Its probability.
    pub unknown: f64,
    /// Single repairs (and 'nothing wrong') with the probability that they are needed, likeliest first; equal ones in order of
    /// their id. Where several faults may be there together these sum to more than 1.
    pub groups: Vec<(GroupId, f64)>,
    /// The repairs that are needed together, with the probability that just these are.
    pub sets: Vec<(Vec<GroupId>, f64)>,
    /// What may have gone wrong in taking the readings, with its probability, likeliest first.
    pub doubts: Vec<(Blunder, f64)>,
}

/// Sets of faults that the evidence no longer asks for are not compared: they are listed, and count for nothing.
impl PartialEq for Posterior {
    fn eq(&self, other: &Self) -> bool {
        let counted = |p: &Self| p.log_likelihood.iter().rposition(|log| log.is_finite()).map_or(0, |last| last + 1);
        let count = counted(self);
        let same = |a: &IdVec<SuspectId, f64>, b: &IdVec<SuspectId, f64>| a.iter().take(count).eq(b.iter().take(count));
        count == counted(other)
            && same(&self.log_likelihood, &other.log_likelihood)
            && same(&self.probability, &other.probability)
            && self.severities.iter().take(count).eq(other.severities.iter().take(count))
            && (self.log_unknown, self.unknown) == (other.log_unknown, other.unknown)
            && (&self.groups, &self.sets, &self.doubts) == (&other.groups, &other.sets, &other.doubts)
    }
}

impl Posterior {
    /// Halfway between this one and another of the same suspects.
    #[must_use]
    pub fn halfway(&self, other: &Self) -> Self {
        let mix = |a: f64, b: f64| 0.5 * (a + b);
        let mut groups = self.groups.clone();
        for (group, share) in &mut groups {
            *share = mix(*share, other.groups.iter().find(|(g, _)| g == group).map_or(0.0, |(_, s)| *s));
        }
        let mut sets = self.sets.clone();
        for (set, share) in &mut sets {
            *share = mix(*share, other.sets.iter().find(|(s, _)| s == set).map_or(0.0, |(_, s)| *s));
        }
        groups.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let severities = self.severities.enumerate().map(|(id, own)| {
            let (p, q) = (self.probability[id], other.probability[id]);
            let share = if p + q > 0.0 { p / (p + q) } else { 0.5 };
            own.iter().zip(&other.severities[id]).map(|(x, y)| share * x + (1.0 - share) * y).collect()
        });
        Self {
            probability: self.probability.enumerate().map(|(id, p)| mix(*p, other.probability[id])).collect(),
            severities: severities.collect(),
            unknown: mix(self.unknown, other.unknown),
            groups,
            sets,
            ..self.clone()
        }
    }

    /// The likeliest point of a suspect's severity grid; the first of equals.
    pub fn likeliest_point(&self, suspect: SuspectId) -> usize {
        let shares = self.severities.get(suspect).map_or(&[][..], Vec::as_slice);
        (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]).then(b.cmp(a))).unwrap_or(0)
    }

    /// Probability that at least one of these single repairs is needed.
    pub fn any_of(&self, groups: &[GroupId]) -> f64 {
        let sets = self.sets.iter().filter(|(set, _)| set.iter().any(|g| groups.contains(g)));
        sets.map(|(_, share)| share).sum()
    }

    /// Probability that all of these single repairs are needed, and no other.
    pub fn just(&self, groups: &[GroupId]) -> f64 {
        let same = |set: &[GroupId]| set.len() == groups.len() && set.iter().all(|g| groups.contains(g));
        self.sets.iter().filter(|(set, _)| same(set)).map(|(_, share)| share).sum()
    }

    /// Probability that a single repair is needed.
    pub fn share(&self, group: GroupId) -> f64 {
        self.groups.iter().find(|(g, _)| *g == group).map_or(0.0, |(_, share)| *share)
    }

    /// Log-likelihood of the suspect that explains the readings best, 'something not modelled' left aside.
    pub fn best_log_likelihood(&self) -> f64 {
        self.log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// Whether the likelihood of all readings is below 1/100 of the best suspect's.
    pub fn ruled_out(&self, suspect: SuspectId) -> bool {
        self.log_likelihood[suspect] < self.ruled_out_below()
    }

    /// The log-likelihood below which a suspect is ruled out.
    pub fn ruled_out_below(&self) -> f64 {
        self.best_log_likelihood() - 100_f64.ln()
    }
}
