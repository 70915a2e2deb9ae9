//! Whether the best suspect explains the readings at all.
//!
//! `T` is minus the log of the joint predictive density of the readings under the suspect, blunders included. Its `p` is
//! the share of draws, simulated from that suspect and these very tests, whose `T` is at least as large (a predictive
//! check in the sense of Box 1980, "Sampling and Bayes' inference in scientific modelling and robustness").

use super::density::{Noise, spread};
use super::integral::{interpolate, likelihood};
use super::track::{Path, Predicted, Track};
use super::{Answer, Evidence};
use fastrand::Rng;

/// Draws from which `p` is taken.
pub(super) const DRAWS: usize = 2000;

/// Result of the misfit test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Misfit {
    /// Share of simulated jobs that fit no better than the real one.
    pub p: f64,
}

/// Simulates the job `DRAWS` times under the suspect of `track`.
pub(super) fn test(track: &Track<'_>, evidence: &Evidence, noise: &Noise, seed: u64) -> Misfit {
    let (actual, _) = likelihood(track, evidence, None, noise);
    let mut rng = Rng::with_seed(seed);
    let mut simulated = evidence.clone();
    let mut as_bad = 0_usize;
    for _ in 0..DRAWS {
        draw(track, evidence, noise, &mut rng, &mut simulated);
        let (log, _) = likelihood(track, &simulated, None, noise);
        // Equal values are ties of the same discrete answers, not of rounding.
        if log <= actual + 1e-9 {
            as_bad += 1;
        }
    }
    Misfit { p: as_bad as f64 / DRAWS as f64 }
}

fn draw(track: &Track<'_>, evidence: &Evidence, noise: &Noise, rng: &mut Rng, into: &mut Evidence) {
    let cells = track.points.len().saturating_sub(1);
    let at = rng.f64() * cells.max(1) as f64;
    let k = (at as usize).min(cells.saturating_sub(1));
    let t = if cells == 0 { 0.0 } else { at - k as f64 };
    let Some(a) = track.points.get(k).and_then(|p| pick(&p.paths, rng)) else { return };
    let b = track.points.get(k + 1).and_then(|p| p.paths.first()).unwrap_or(a);
    for (i, observation) in evidence.observations.iter().enumerate() {
        let (Some(x), Some(y)) = (a.predicted.get(i), b.predicted.get(i)) else { continue };
        let predicted = interpolate(x, y, t);
        into.observations[i].answer = answer(&observation.answer, &predicted, observation.blunder, noise, rng);
    }
}

fn pick<'a, 'n>(paths: &'a [Path<'n>], rng: &mut Rng) -> Option<&'a Path<'n>> {
    let mut left = rng.f64() * paths.iter().map(|p| p.weight).sum::<f64>();
    for path in paths {
        left -= path.weight;
        if left <= 0.0 {
            return Some(path);
        }
    }
    paths.last()
}

fn answer(real: &Answer, predicted: &Predicted, blunder: f64, noise: &Noise, rng: &mut Rng) -> Answer {
    let wrong = rng.f64() < blunder;
    match predicted {
        Predicted::Words(shares) => {
            if matches!(real, Answer::NotTaken) {
                return Answer::NotTaken;
            }
            if wrong {
                return Answer::Word(rng.usize(0..shares.len().max(1)));
            }
            let mut left = rng.f64();
            let said = shares.iter().position(|share| {
                left -= share;
                left <= 0.0
            });
            Answer::Word(said.unwrap_or(shares.len().saturating_sub(1)))
        }
        Predicted::Number { mean, floating, unsteady } => {
            let value = |sigma: f64, rng: &mut Rng| {
                if wrong || *unsteady {
                    (rng.f64() - 0.5) * noise.span
                } else {
                    mean + spread(*mean, sigma, 0.0, *floating, noise) * gauss(rng)
                }
            };
            match real {
                Answer::NotTaken => Answer::NotTaken,
                Answer::Number { .. } | Answer::Between(..) if *unsteady && rng.f64() >= noise.unsteady_mistaken => {
                    Answer::Unsteady
                }
                Answer::Number { sigma, .. } => Answer::Number { value: value(*sigma, rng), sigma: *sigma },
                Answer::Between(low, high) => {
                    let half = (high - low) / 2.0;
                    let middle = value(half / 2.0, rng);
                    Answer::Between(middle - half, middle + half)
                }
                Answer::Unsteady | Answer::Word(_) => {
                    let jumps = if *unsteady { 1.0 - noise.unsteady_mistaken } else { noise.unsteady_mistaken };
                    if rng.f64() < jumps {
                        Answer::Unsteady
                    } else {
                        Answer::Number { value: value(0.0, rng), sigma: noise.model_floor }
                    }
                }
            }
        }
    }
}

/// A standard normal variable (Box and Muller 1958).
fn gauss(rng: &mut Rng) -> f64 {
    let u = 1.0 - rng.f64();
    (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * rng.f64()).cos()
}
