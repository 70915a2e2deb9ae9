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
}

/// Width of a bin in standard deviations of the reading.
const BIN: f64 = 2.0;
/// Bins on either side of the mean that a reading's spread reaches.
const REACH: i64 = 2;

/// Information in bits that the test gives about the repair group. `sigma` is the instrument's standard deviation at a
/// value, `blunder` the chance of an answer that says nothing.
pub fn gain(outcomes: &[Outcome], sigma: impl Fn(f64) -> f64, blunder: f64, noise: &Noise) -> f64 {
    let total: f64 = outcomes.iter().map(|o| o.weight).sum();
    if total <= 0.0 {
        return 0.0;
    }
    let mut by_group: BTreeMap<GroupId, (f64, BTreeMap<i64, f64>)> = BTreeMap::new();
    let mut all: BTreeMap<i64, f64> = BTreeMap::new();
    for outcome in outcomes {
        let weight = outcome.weight / total;
        let group = by_group.entry(outcome.group).or_default();
        group.0 += weight;
        for (bin, share) in bins(&outcome.predicted, &sigma, noise) {
            *group.1.entry(bin).or_default() += weight * share;
            *all.entry(bin).or_default() += weight * share;
        }
    }
    // The blunder's mass is spread over all bins alike.
    let flat = blunder / all.len().max(1) as f64;
    let blurred = |p: f64| (1.0 - blunder) * p + flat;
    let entropy_all: f64 = all.values().map(|p| plogp(blurred(*p))).sum();
    let entropy_within: f64 = by_group
        .values()
        .filter(|(weight, _)| *weight > 0.0)
        .map(|(weight, bins)| {
            let inside: f64 = all
                .keys()
                .map(|bin| plogp(blurred(bins.get(bin).copied().unwrap_or(0.0) / weight)))
                .sum();
            weight * inside
        })
        .sum();
    (entropy_all - entropy_within).max(0.0)
}

fn plogp(p: f64) -> f64 {
    if p > 0.0 { -p * p.log2() } else { 0.0 }
}

/// Bin of 'jumps': apart from every number.
const UNSTEADY: i64 = i64::MAX;

/// Where a predicted answer falls: bin numbers and shares.
fn bins(predicted: &Predicted, sigma: &impl Fn(f64) -> f64, noise: &Noise) -> Vec<(i64, f64)> {
    match predicted {
        Predicted::Words(shares) => shares.iter().enumerate().map(|(w, s)| (w as i64, *s)).collect(),
        Predicted::Number { unsteady: true, .. } => vec![(UNSTEADY, 1.0)],
        Predicted::Number { mean, floating, .. } => {
            let spread = noise.spread(*mean, sigma(*mean), *floating);
            let at = position(*mean, sigma, noise);
            // In bins; a wide spread (a floating line) reaches further.
            let deviation = spread / (BIN * noise.spread(*mean, sigma(*mean), false));
            let reach = (REACH as f64 * (BIN * deviation).max(1.0)).ceil() as i64;
            let centre = at.floor() as i64;
            (centre - reach..=centre + reach)
                .map(|bin| {
                    let low = (bin as f64 - at) / deviation;
                    let high = (bin as f64 + 1.0 - at) / deviation;
                    (bin, Noise::between(low, high))
                })
                .filter(|(_, share)| *share > 1e-6)
                .collect()
        }
    }
}

/// A value on a scale where one bin is `BIN` standard deviations wide everywhere: the integral of `dv / (BIN sigma(v))`
/// for `sigma(v) = floor + share |v|`.
fn position(value: f64, sigma: &impl Fn(f64) -> f64, noise: &Noise) -> f64 {
    let floor = noise.spread(0.0, sigma(0.0), false);
    let far = 10.0_f64;
    let share = ((noise.spread(far, sigma(far), false) - floor) / far).max(1e-9);
    value.signum() * (1.0 + share * value.abs() / floor).ln() / share / BIN
}

#[cfg(test)]
mod tests {
    use super::{Outcome, gain};
    use crate::belief::{Noise, Predicted};
    use crate::index::Id;
    use crate::suspects::GroupId;

    const NOISE: Noise = Noise {
        floating_sigma: 0.3,
        model_share: 0.0,
        model_floor: 0.01,
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
                predicted: Predicted::Number { mean: *mean, floating: false, unsteady: false },
            })
            .collect();
        let bits = gain(&outcomes, |_| 0.02, 0.0, &NOISE);
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

    #[test]
    fn differences_inside_a_group_tell_nothing_about_the_repair() {
        check(&[(0, 0.0), (0, 12.0)], 0.0);
    }
}
