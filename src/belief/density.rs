//! How probable an answer is, given what a suspect predicts.

use super::{Answer, Observation, Predicted, Probe};

/// Errors of instruments and persons.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Standard deviation in volts of what a meter shows on a line that nothing drives, where insulation leaks.
    pub floating_sigma: f64,
    /// Share of jobs in which such lines are not quiet: damp, dirt, long cables beside live ones. In all others a meter shows
    /// nothing on them, so that several zeros say no more than one about whether a line is open or earthed.
    pub leaky: f64,
    /// What a reading strays by for itself, in volts or amps (one standard deviation): what neither the meter's accuracy nor
    /// the tolerances of parts account for.
    pub model_floor: f64,
    /// Of the blunders, the share that lasts: half of these as long as the black lead stays, half as long as the set-up does.
    pub lasting: f64,
    /// Of the blunders of the black lead, the share in which it lies on metal at some other potential: all readings of a stay are off
    /// by the same.
    pub shifted: f64,
    /// Of the others, the share in which it touches nothing, so that a meter shows nothing.
    pub untouched: f64,
    /// Of the blunders of a single reading, the share in which a lead touches nothing, so that a meter shows nothing.
    pub missed: f64,
    /// Of the blunders of the set-up, the share in which readings are those of another set-up that the job knows: a control at
    /// rest or as in another stay, or all as in the stay before.
    pub moved: f64,
    /// A blunder can show any value over a span this wide (volts or amps).
    pub span: f64,
    /// Probability that a settled line is called jumping, and a jumping one steady.
    pub unsteady_mistaken: f64,
}

impl Noise {
    /// Standard deviation of a reading around its predicted mean, in volts or amps, `sigma` being the instrument's; shared
    /// unknowns left aside.
    pub fn spread(&self, sigma: f64, floating: bool) -> f64 {
        spread(sigma, 0.0, floating, self)
    }
    /// Standard deviation of what a black lead on other metal moves readings by: anywhere over the span alike.
    pub(super) fn shift(&self) -> f64 {
        self.span / 12_f64.sqrt()
    }

    /// Probability that a reading which jumps with this probability is called jumping.
    pub(super) fn called_jumping(&self, jumps: f64) -> f64 {
        jumps * (1.0 - self.unsteady_mistaken) + (1.0 - jumps) * self.unsteady_mistaken
    }
    /// Probability of a standard normal variable between two values.
    pub fn between(low: f64, high: f64) -> f64 {
        cumulative(high) - cumulative(low)
    }
}

/// Whether an answer is a number that can stand in a joint Gaussian: a value, or an interval that is narrow.
pub(super) fn is_value(answer: &Answer, noise: &Noise) -> bool {
    match answer {
        Answer::Number { .. } => true,
        Answer::Between(low, high) => (high - low).abs() <= NARROW * noise.span,
        Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => false,
    }
}

/// Share of the span up to which an interval counts as a value with an even spread (half a volt of 30 V).
const NARROW: f64 = 1.0 / 60.0;

/// Density (per volt or amp) of a number, or probability of a word, blunders included.
///
/// `sigma_extra` is the standard deviation of the prediction itself (interpolation between severities).
pub(super) fn of_answer(answer: &Answer, predicted: &Predicted, sigma_extra: f64, blunder: f64, noise: &Noise) -> f64 {
    let flat = 1.0 / noise.span;
    match (answer, predicted) {
        (Answer::NotTaken, _) => 1.0,
        (Answer::Number { value, sigma }, Predicted::Number { mean, floating, jumps }) => {
            let stands =
                either(*floating, noise, |open| normal(value - mean, spread(*sigma, sigma_extra, open, noise)));
            let clear = (1.0 - jumps) * stands + jumps * noise.unsteady_mistaken * flat;
            (1.0 - blunder) * clear + blunder * flat
        }
        (Answer::Between(low, high), Predicted::Number { mean, floating, jumps }) => {
            let width = (high - low).abs().max(1e-9);
            let stands = either(*floating, noise, |open| {
                let s = spread(0.0, sigma_extra, open, noise);
                (cumulative((high - mean) / s) - cumulative((low - mean) / s)) / width
            });
            let clear = (1.0 - jumps) * stands + jumps * noise.unsteady_mistaken * flat;
            (1.0 - blunder) * clear + blunder * flat
        }
        (Answer::Unsteady, Predicted::Number { jumps, .. }) => noise.called_jumping(*jumps),
        (Answer::Word(word), Predicted::Words(shares)) => {
            let words = shares.len().max(1) as f64;
            let clear = shares.get(*word).copied().unwrap_or(0.0);
            (1.0 - blunder) * clear + blunder / words
        }
        // An answer of the wrong sort cannot be entered; it would say nothing.
        (Answer::Number { .. } | Answer::Between(..) | Answer::Unsteady, Predicted::Words(_))
        | (Answer::Word(_), Predicted::Number { .. }) => 1.0,
    }
}

/// Log of the density (per volt or amp) of a number that was spoilt by itself: any value, or, where a lead touched nothing, none.
/// Of ohms always any value: a lead that touches nothing shows an open line, and that is one of the values.
pub(super) fn spoilt(observation: &Observation, noise: &Noise) -> f64 {
    let missed = if matches!(observation.probe, Probe::Ohms { .. }) { 0.0 } else { noise.missed };
    let none = if missed > 0.0 { nothing(&observation.answer, noise) } else { 0.0 };
    ((1.0 - missed) / noise.span + missed * none).ln()
}

/// Density (per volt or amp) of a number where one of the leads touches nothing: that of a line that nothing drives.
pub(super) fn nothing(answer: &Answer, noise: &Noise) -> f64 {
    let predicted = Predicted::Number { mean: 0.0, floating: true, jumps: 0.0 };
    of_answer(answer, &predicted, 0.0, 0.0, noise)
}

/// The log of the largest density or probability that any prediction can give an answer.
pub(super) fn most_of_answer(answer: &Answer, noise: &Noise) -> f64 {
    match answer {
        Answer::Number { sigma, .. } => {
            let narrowest = spread(*sigma, 0.0, false, noise);
            (normal(0.0, narrowest) + 1.0 / noise.span).ln()
        }
        Answer::Between(low, high) => (1.0 / (high - low).abs().max(1e-9) + 1.0 / noise.span).ln(),
        Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => 0.0,
    }
}

/// What something that is not modelled would give: any value, any word.
pub(super) fn of_unknown(answer: &Answer, predicted: &Predicted, noise: &Noise) -> f64 {
    match (answer, predicted) {
        (Answer::NotTaken, _) => 1.0,
        (Answer::Number { .. } | Answer::Between(..), _) => 1.0 / noise.span,
        (Answer::Unsteady, _) => 0.1,
        (Answer::Word(_), Predicted::Words(shares)) => 1.0 / shares.len().max(1) as f64,
        (Answer::Word(_), Predicted::Number { .. }) => 1.0,
    }
}

/// A density for a driven line, or the mixture of a quiet and of a leaky one.
fn either(floating: bool, noise: &Noise, density: impl Fn(bool) -> f64) -> f64 {
    if floating { (1.0 - noise.leaky) * density(false) + noise.leaky * density(true) } else { density(false) }
}

/// Standard deviation of a reading around its predicted mean; `floating`: on a line that nothing drives and that leaks.
pub(super) fn spread(sigma: f64, extra: f64, floating: bool, noise: &Noise) -> f64 {
    let model = noise.model_floor;
    let floating = if floating { noise.floating_sigma } else { 0.0 };
    (sigma * sigma + extra * extra + model * model + floating * floating).sqrt().max(1e-12)
}

/// Density of a centred normal variable.
pub(super) fn normal(x: f64, sigma: f64) -> f64 {
    let z = x / sigma;
    (-0.5 * z * z).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt())
}

/// Cumulative distribution of the standard normal.
pub(super) fn cumulative(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}
