//! What a workshop's own jobs say of how often each thing fails: counts by kind of part and mode, and the weights that follow.
//!
//! The share of a class of faults (a mode of a kind of part, over all such parts of the install) among all faults is not
//! known for certain. The knowledge base's weights are taken as pseudo-counts of a Dirichlet distribution: with
//! `share = weight of the class / weight of all` and a strength of `S` jobs, `alpha = S share`. After `n` jobs of the class
//! among `N` the expected share is
//!
//! ```text
//! (S share + n) / (S + N)
//! ```
//!
//! so that each weight of the class is multiplied by `(1 + n / (S share)) / (1 + N / S)`; the sum of all weights stays.
//! Source of the formula: A. Gelman and others, "Bayesian Data Analysis", 3rd edition, section 3.4 (multinomial model with its
//! conjugate prior), from memory. `N` counts faults of classes that the install has; jobs on other kinds say nothing here.

use super::{Fault, FaultId};
use crate::index::IdVec;
use std::collections::BTreeMap;

/// How often each mode of each kind of part was what had failed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts(BTreeMap<(String, String), usize>);

impl Counts {
    /// Counts `times` more of one mode of a kind.
    pub fn add(&mut self, kind: &str, mode: &str, times: usize) {
        let count = self.0.entry((kind.to_owned(), mode.to_owned())).or_insert(0);
        *count = count.saturating_add(times);
    }

    /// How often this mode of this kind.
    pub fn of(&self, kind: &str, mode: &str) -> usize {
        self.0.get(&(kind.to_owned(), mode.to_owned())).copied().unwrap_or(0)
    }

    /// Kind, mode and count, in the order of their names.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str, usize)> {
        self.0.iter().map(|((kind, mode), count)| (kind.as_str(), mode.as_str(), *count))
    }

    /// All faults that were counted.
    pub fn total(&self) -> usize {
        self.0.values().fold(0, |sum, count| sum.saturating_add(*count))
    }
}

/// What was counted, and how much it counts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learnt {
    /// Jobs that were looked at.
    pub jobs: usize,
    /// The strength of the knowledge base's weights, in jobs; above zero.
    pub strength: f64,
    /// The faults that were found in them.
    pub counts: Counts,
}

impl Learnt {
    /// Gives faults the weights that follow from the counts. `class` names kind and mode of each fault that is meant; the
    /// others, for which it gives `None`, keep their weights. The sum over those that are meant stays the same.
    pub fn weigh<'a>(&self, faults: &mut IdVec<FaultId, Fault>, class: impl Fn(FaultId) -> Option<(&'a str, &'a str)>) {
        let mut weights: BTreeMap<(&str, &str), f64> = BTreeMap::new();
        for (id, fault) in faults.enumerate() {
            if let Some(class) = class(id) {
                *weights.entry(class).or_insert(0.0) += fault.weight;
            }
        }
        let total: f64 = weights.values().sum();
        // What is no strength, as in a file that was edited by hand, teaches nothing.
        if !(self.strength.is_finite() && self.strength > 0.0 && total > 0.0) {
            return;
        }
        let counted: usize = weights.keys().map(|(kind, mode)| self.counts.of(kind, mode)).sum();
        let common = (counted as f64 / self.strength).ln_1p();
        let logs: BTreeMap<(&str, &str), f64> = weights
            .iter()
            .map(|((kind, mode), weight)| {
                let share = weight / total;
                let log = (self.counts.of(kind, mode) as f64 / (self.strength * share)).ln_1p() - common;
                ((*kind, *mode), log)
            })
            .collect();
        let ids: Vec<FaultId> = faults.ids().collect();
        for id in ids {
            if let Some(log) = class(id).and_then(|class| logs.get(&class)) {
                faults[id].weight = (faults[id].weight.ln() + log).exp();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Counts, Fault, FaultId, Learnt};
    use crate::circuit::Effect;
    use crate::index::{Id, IdVec};

    /// Weights of two relays' coils, a fuse and a mistake.
    const FAULTS: [(&str, &str, f64); 4] =
        [("relay", "coil", 0.1), ("relay", "coil", 0.1), ("fuse", "blown", 0.6), ("lamp", "out", 0.2)];

    fn weights(learnt: &Learnt) -> Vec<f64> {
        let fault = |(_, mode, weight): &(&str, &str, f64)| Fault {
            part: String::new(),
            mode: (*mode).to_owned(),
            effect: Effect::Open(Vec::new()),
            severity: None,
            weight: *weight,
            repair: String::new(),
        };
        let mut faults: IdVec<FaultId, Fault> = FAULTS.iter().map(fault).collect();
        learnt.weigh(&mut faults, |id| FAULTS.get(id.position()).map(|(kind, mode, _)| (*kind, *mode)));
        faults.iter().map(|f| f.weight).collect()
    }

    fn learnt(strength: f64, counts: &[(&str, &str, usize)]) -> Learnt {
        let mut all = Counts::default();
        for (kind, mode, times) in counts {
            all.add(kind, mode, *times);
        }
        Learnt { jobs: all.total(), strength, counts: all }
    }

    /// By hand: shares 0.2, 0.6, 0.2, strength 10, so pseudo-counts 2, 6, 2; with 3 coils and 1 fuse among 4 the expected
    /// shares are 5/14, 7/14, 2/14. The two relays share theirs. The horn is not in this install and does not count.
    #[test]
    fn counts_are_added_to_pseudo_counts() {
        let learnt = learnt(10.0, &[("relay", "coil", 3), ("fuse", "blown", 1), ("horn", "dead", 50)]);
        let expected = [5.0 / 28.0, 5.0 / 28.0, 7.0 / 14.0, 2.0 / 14.0];
        for (found, expected) in weights(&learnt).iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{found} {expected}");
        }
    }

    #[test]
    fn nothing_counted_changes_nothing_and_nor_does_a_strength_that_is_none() {
        let known = FAULTS.map(|(_, _, weight)| weight);
        for learnt in
            [learnt(10.0, &[]), learnt(0.0, &[("fuse", "blown", 9)]), learnt(f64::NAN, &[("fuse", "blown", 9)])]
        {
            for (found, known) in weights(&learnt).iter().zip(known) {
                assert!((found - known).abs() < 1e-12, "{found} {known}");
            }
        }
    }

    /// The stronger the knowledge base, the less one job moves it; many jobs win in the end.
    #[test]
    fn the_strength_says_how_much_a_job_moves() {
        let weak = weights(&learnt(10.0, &[("lamp", "out", 1)]))[3];
        let strong = weights(&learnt(1000.0, &[("lamp", "out", 1)]))[3];
        assert!(0.2 < strong && strong < weak, "{strong} {weak}");
        let many = weights(&learnt(1000.0, &[("lamp", "out", 1_000_000)]))[3];
        assert!(many > 0.99, "{many}");
    }
}
