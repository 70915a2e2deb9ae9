//! What a test is expected to tell: the mutual information between the repair group and the outcome.
//!
//! `I = H(outcome) - sum over groups P(group) H(outcome | group)`, in bits (Shannon 1948), with outcome density
//! `(1 - b) predictive + b flat`; numbers fall into bins as wide as the reading's own uncertainty.

use crate::belief::{Noise, Predicted};
use crate::suspects::GroupId;
use std::collections::BTreeMap;

/// What one hypothesis predicts for the test.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Repair group of the hypothesis.
    pub group: GroupId,
    /// Its probability.
    pub weight: f64,
    /// The predicted answer.
    pub predicted: Predicted,
    /// Its standard deviation by unknowns that it shares with other readings; zero for words.
    pub strays: f64,
}

/// Width of a bin in standard deviations of the reading.
const BIN: f64 = 2.0;
/// Standard deviations that the spread of an open line is followed to.
const REACH: f64 = 4.0;

/// A share of the whole probability: bin, group, mass.
pub(super) type Mass = (i64, GroupId, f64);

/// Information in bits that the test gives about the repair group. `sigma` is the instrument's standard deviation at a
/// value, `blunder` the chance of an answer that says nothing, `unknown` the probability of something that is not modelled,
/// which gives any answer alike.
pub fn gain(outcomes: &[Outcome], sigma: impl Fn(f64) -> f64, blunder: f64, unknown: f64, noise: &Noise) -> f64 {
    let total: f64 = outcomes.iter().map(|o| o.weight).sum();
    if total <= 0.0 {
        return 0.0;
    }
    let scale = Scale::new(&sigma, strays(outcomes), noise);
    let mut masses: Vec<Mass> = Vec::with_capacity(outcomes.len() * 3);
    for outcome in outcomes {
        scale.spread(outcome, total, &mut masses);
    }
    merge(&mut masses);
    if unknown <= 0.0 {
        return information(&mut masses, blunder);
    }
    let answers = match outcomes.first().map(|o| &o.predicted) {
        Some(Predicted::Words(shares)) => shares.len(),
        _ => (scale.position(noise.span) - scale.position(-noise.span)).abs() as usize / 2,
    };
    let known = total / (total + unknown);
    known * information(&mut masses, blunder) + against_any(&masses, blunder, known, answers)
}

/// Sorts masses by bin and group, and adds up those of one bin and group.
pub(super) fn merge(masses: &mut Vec<Mass>) {
    masses.sort_unstable_by_key(|a| (a.0, a.1));
    masses.dedup_by(|next, kept| {
        let same = next.0 == kept.0 && next.1 == kept.1;
        if same {
            kept.2 += next.2;
        }
        same
    });
}

/// What the outcome tells about whether it is something not modelled at all: `known` is the probability that it is not, and
/// `answers` the number of bins that something not modelled fills alike.
fn against_any(masses: &[Mass], blunder: f64, known: f64, answers: usize) -> f64 {
    let mut bins: BTreeMap<i64, f64> = BTreeMap::new();
    for (bin, _, mass) in masses {
        *bins.entry(*bin).or_default() += mass;
    }
    let answers = answers.max(bins.len()).max(1) as f64;
    let any = (1.0 - known) / answers;
    let blurred = |mass: f64| known * ((1.0 - blunder) * mass + blunder / answers);
    let rest = answers - bins.len() as f64;
    // `H(outcome) - H(outcome | known or not)`.
    let all: f64 = bins.values().map(|m| plogp(blurred(*m) + any)).sum::<f64>() + rest * plogp(blurred(0.0) + any);
    let of_known = |mass: f64| plogp(blurred(mass) / known);
    let within = bins.values().map(|m| of_known(*m)).sum::<f64>() + rest * of_known(0.0);
    (all - known * within - (1.0 - known) * answers.log2()).max(0.0)
}

/// `H(outcome) - H(outcome | group)` of masses sorted by bin; the blunder's mass is spread over all bins alike.
pub(super) fn information(masses: &mut [Mass], blunder: f64) -> f64 {
    let bins = masses.chunk_by(|a, b| a.0 == b.0);
    let by_bin: Vec<f64> = bins.map(|bin| bin.iter().map(|m| m.2).sum()).collect();
    let count = by_bin.len() as f64;
    let flat = blunder / count.max(1.0);
    let blurred = |p: f64| plogp((1.0 - blunder) * p + flat);
    let all: f64 = by_bin.into_iter().map(blurred).sum();
    masses.sort_unstable_by_key(|m| m.1);
    let within: f64 = masses
        .chunk_by(|a, b| a.1 == b.1)
        .map(|group| {
            let weight: f64 = group.iter().map(|m| m.2).sum();
            let touched: f64 = group.iter().map(|m| blurred(m.2 / weight)).sum();
            weight * (touched + (count - group.len() as f64) * blurred(0.0))
        })
        .sum();
    (all - within).max(0.0)
}

/// The entropy of the repair groups in bits: the most that any test can tell.
pub(super) fn entropy(weights: impl Iterator<Item = (GroupId, f64)>) -> f64 {
    let mut by_group: BTreeMap<GroupId, f64> = BTreeMap::new();
    for (group, weight) in weights {
        *by_group.entry(group).or_default() += weight;
    }
    let total: f64 = by_group.values().sum();
    by_group.values().map(|w| plogp(w / total)).sum()
}

fn plogp(p: f64) -> f64 {
    if p > 0.0 { -p * p.log2() } else { 0.0 }
}

/// Bin of 'jumps': apart from every number.
const UNSTEADY: i64 = i64::MAX;

/// The share of a value by which shared unknowns make it uncertain, over all outcomes.
fn strays(outcomes: &[Outcome]) -> f64 {
    let (mut strays, mut values) = (0.0, 0.0);
    for outcome in outcomes {
        if let Predicted::Number { mean, .. } = outcome.predicted {
            strays += outcome.weight * outcome.strays;
            values += outcome.weight * mean.abs();
        }
    }
    if values > 0.0 { strays / values } else { 0.0 }
}

/// A scale of values on which one bin is `BIN` standard deviations wide everywhere: the integral of `dv / (BIN sigma(v))`
/// for `sigma(v) = floor + share |v|`.
struct Scale<'a> {
    floor: f64,
    share: f64,
    noise: &'a Noise,
}

impl<'a> Scale<'a> {
    fn new(sigma: &impl Fn(f64) -> f64, strays: f64, noise: &'a Noise) -> Self {
        let floor = noise.spread(sigma(0.0), false);
        let far = 10.0_f64;
        let share = ((noise.spread(sigma(far), false).hypot(strays * far) - floor) / far).max(1e-9);
        Self { floor, share, noise }
    }

    fn position(&self, value: f64) -> f64 {
        value.signum() * (1.0 + self.share * value.abs() / self.floor).ln() / self.share / BIN
    }

    /// Adds the masses of one outcome. A reading's own spread is narrower than a bin: its mass is shared between the two
    /// bins nearest to it, in proportion.
    fn spread(&self, outcome: &Outcome, total: f64, into: &mut Vec<Mass>) {
        let weight = outcome.weight / total;
        let mut add = |bin: i64, share: f64| {
            if share > 1e-6 {
                into.push((bin, outcome.group, weight * share));
            }
        };
        match &outcome.predicted {
            Predicted::Words(shares) => {
                for (word, share) in shares.iter().enumerate() {
                    add(i64::try_from(word).unwrap_or(0), *share);
                }
            }
            Predicted::Number { jumps, .. } if *jumps >= 1.0 => add(UNSTEADY, 1.0),
            // Tests are chosen for quiet open lines as long as most are: whether they leak is one fact of the whole job, which
            // many readings cannot tell better than a few.
            Predicted::Number { mean, floating: true, .. } if self.noise.leaky > 0.5 => {
                let wide = self.noise.spread(0.0, true);
                let (low, high) = (mean - REACH * wide, mean + REACH * wide);
                let (first, last) = (self.position(low).floor() as i64, self.position(high).floor() as i64);
                let even = 1.0 / (last - first + 1) as f64;
                for bin in first..=last {
                    add(bin, even);
                }
            }
            Predicted::Number { mean, jumps, .. } => {
                let stands = 1.0 - jumps;
                add(UNSTEADY, *jumps);
                let at = self.position(*mean) - 0.5;
                let share = at - at.floor();
                let bin = at.floor() as i64;
                add(bin, stands * (1.0 - share));
                add(bin + 1, stands * share);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Outcome, gain};
    use crate::belief::{Noise, Predicted};
    use crate::index::Id;
    use crate::suspects::GroupId;

    const NOISE: Noise = Noise {
        floating_sigma: 0.3,
        leaky: 0.1,
        model_floor: 0.01,
        lasting: 0.0,
        shifted: 0.0,
        untouched: 0.0,
        missed: 0.0,
        moved: 0.0,
        span: 30.0,
        unsteady_mistaken: 0.02,
    };

    #[track_caller]
    fn check(groups_and_volts: &[(usize, f64)], expected_bits: f64) {
        let weight = 1.0 / groups_and_volts.len() as f64;
        let outcomes: Vec<Outcome> = groups_and_volts
            .iter()
            .map(|(g, mean)| Outcome {
                group: GroupId::new(*g),
                weight,
                predicted: Predicted::Number { mean: *mean, floating: false, jumps: 0.0 },
                strays: 0.0,
            })
            .collect();
        let bits = gain(&outcomes, |_| 0.02, 0.0, 0.0, &NOISE);
        assert!((bits - expected_bits).abs() < 0.02, "{bits} bits, expected {expected_bits}");
    }

    // Shannon 1948: equal alternatives that the outcome tells apart give log2 of their number.
    #[test]
    fn readings_far_apart_tell_groups_apart() {
        check(&[(0, 0.0), (1, 12.0)], 1.0);
        check(&[(0, 0.0), (1, 4.0), (2, 8.0), (3, 12.0)], 2.0);
    }

    #[test]
    fn equal_readings_tell_nothing() {
        check(&[(0, 12.0), (1, 12.0)], 0.0);
    }

    // One modelled outcome against 2,000 equal ones: the outcome tells almost surely which it is, so the gain is the entropy of
    // the two shares, h(0.1) = 0.469 bits (Shannon 1948).
    #[test]
    fn any_reading_tells_what_is_modelled_from_what_is_not() {
        let predicted = Predicted::Number { mean: 12.0, floating: false, jumps: 0.0 };
        let outcome = Outcome { group: GroupId::new(0), weight: 0.9, predicted, strays: 0.0 };
        let bits = gain(&[outcome], |_| 0.01, 0.0, 0.1, &NOISE);
        assert!((bits - 0.469).abs() < 0.02, "{bits}");
    }

    #[test]
    fn differences_inside_a_group_tell_nothing_about_the_repair() {
        check(&[(0, 0.0), (0, 12.0)], 0.0);
    }
}
