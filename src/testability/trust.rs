//! How far what is announced can be relied on: calibration, and the price of being surer.
//!
//! * A *reliability table* holds announced against true shares (Murphy and Winkler 1977, Applied Statistics 26, 41-47), in
//!   bins of the doubt `1 - announced`.
//! * The *curve* says what would have come of stopping as soon as the leading repair holds a share `P`.
//! * The upper limit of a share is that of Clopper and Pearson (1934, Biometrika 26, 404-413).

use super::trial::Trial;

/// Upper ends of the bins of doubt; each holds what lies below it and not below the one before.
const DOUBTS: [f64; 12] = [0.001, 0.01, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];
/// Stopping figures of the curve.
const STOPS: [f64; 8] = [0.9, 0.95, 0.98, 0.99, 0.995, 0.998, 0.999, 0.9995];
/// Steps of bisection: each halves the interval, so that these reach the last bit.
const HALVINGS: usize = 60;

/// What leads after a test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Minutes spent so far.
    pub minutes: f64,
    /// Probability of the leading repair.
    pub announced: f64,
    /// It is one of what is hidden.
    pub right: bool,
}

/// Verdicts announced with about the same doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reliability {
    /// The doubt: from this on,
    pub from: f64,
    /// and up to this.
    pub to: f64,
    /// Mean of what was announced.
    pub announced: f64,
    /// Share of them that were right.
    pub right: f64,
    /// How many.
    pub trials: usize,
}

/// What stopping at a figure would have come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// The figure.
    pub at: f64,
    /// Share of the trials that ever reach it.
    pub reached: f64,
    /// Share of these in which what led then is not hidden.
    pub wrong: f64,
    /// Mean minutes to that moment.
    pub minutes: f64,
}

/// The reliability table of the trials that ended with a name: what led at their end. Empty bins are left out.
pub(super) fn calibration(trials: &[Trial]) -> Vec<Reliability> {
    let ends: Vec<(f64, &Step)> =
        trials.iter().filter(|t| t.named_by_verdict()).filter_map(|t| Some((t.weight, t.steps.last()?))).collect();
    let mut from = 0.0;
    let mut table = Vec::new();
    for to in DOUBTS {
        let last = to >= 1.0;
        let inside = |step: &Step| {
            let doubt = (1.0 - step.announced).max(0.0);
            doubt >= from && (doubt < to || last)
        };
        let bin: Vec<&(f64, &Step)> = ends.iter().filter(|(_, step)| inside(step)).collect();
        let weight: f64 = bin.iter().map(|(weight, _)| weight).sum();
        let mean = |value: &dyn Fn(&Step) -> f64| bin.iter().map(|(w, step)| w * value(step)).sum::<f64>() / weight;
        if weight > 0.0 {
            table.push(Reliability {
                from,
                to,
                announced: mean(&|step| step.announced),
                right: mean(&|step| f64::from(u8::from(step.right))),
                trials: bin.len(),
            });
        }
        from = to;
    }
    table
}

/// What stopping at each figure would have come to.
pub(super) fn curve(trials: &[Trial]) -> Vec<Stop> {
    let total: f64 = trials.iter().map(|t| t.weight).sum();
    let stop = |at: f64| {
        let first = |t: &Trial| t.steps.iter().find(|step| step.announced >= at).map(|step| (t.weight, *step));
        let passed: Vec<(f64, Step)> = trials.iter().filter_map(first).collect();
        let weight: f64 = passed.iter().map(|(weight, _)| weight).sum();
        let mean = |value: &dyn Fn(&Step) -> f64| {
            let sum: f64 = passed.iter().map(|(w, step)| w * value(step)).sum();
            if weight > 0.0 { sum / weight } else { 0.0 }
        };
        Stop {
            at,
            reached: if total > 0.0 { weight / total } else { 0.0 },
            wrong: mean(&|step| f64::from(u8::from(!step.right))),
            minutes: mean(&|step| step.minutes),
        }
    };
    STOPS.map(stop).to_vec()
}

/// The upper end of the one-sided interval that holds a share with this `confidence`, when `hits` of `trials` were seen:
/// the `p` at which as few hits, `sum over i <= hits of C(n, i) p^i (1 - p)^(n - i)`, have the chance `1 - confidence`.
pub(super) fn upper_limit(hits: usize, trials: usize, confidence: f64) -> f64 {
    if hits >= trials {
        return 1.0;
    }
    let (mut low, mut high) = (hits as f64 / trials as f64, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if at_most(hits, trials, middle) > 1.0 - confidence { low = middle } else { high = middle }
    }
    high
}

/// The chance of at most `hits` of `trials` at a share of `p`, above 0 and below 1; terms as logarithms, since most are tiny.
fn at_most(hits: usize, trials: usize, p: f64) -> f64 {
    let odds = p.ln() - (-p).ln_1p();
    let mut term = trials as f64 * (-p).ln_1p();
    let mut sum = term.exp();
    for i in 1..=hits {
        term += ((trials - i + 1) as f64 / i as f64).ln() + odds;
        sum += term.exp();
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::upper_limit;

    #[track_caller]
    fn check(hits: usize, trials: usize, confidence: f64, expected: f64) {
        let got = upper_limit(hits, trials, confidence);
        assert!((got - expected).abs() < 1e-6, "{got} {expected}");
    }

    #[test]
    fn the_upper_limit_is_that_of_clopper_and_pearson() {
        // With no hit the sum is (1 - p)^n: p = 1 - 0.01^(1 / n).
        check(0, 500, 0.99, 1.0 - 0.01_f64.powf(1.0 / 500.0));
        // With all but one of n it is 1 - p^n: p = 0.99^(1 / n).
        check(4, 5, 0.99, 0.99_f64.powf(0.2));
        // One of two: 1 - p^2 = 0.05.
        check(1, 2, 0.95, 0.95_f64.sqrt());
        check(3, 3, 0.99, 1.0);
        check(0, 0, 0.99, 1.0);
    }

    #[test]
    fn ten_of_ten_thousand_are_told_from_two_in_a_thousand() {
        // Beta quantile 0.99 of (11, 9990): about the Poisson limit 20.14 / 2 / 10,000 (chi-square 0.99 at 22 degrees of
        // freedom is 40.289, tables of Pearson and Hartley), a little less.
        let got = upper_limit(10, 10_000, 0.99);
        assert!((got - 40.289 / 2.0 / 10_000.0).abs() < 4e-6, "{got}");
    }
}
