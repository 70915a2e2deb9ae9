//! Whether the best suspect explains the readings at all.
//!
//! `T` is minus the log of the joint predictive density of the readings under the suspect, blunders included. Its `p` is
//! the share of draws, simulated from that suspect and these very tests, whose `T` is at least as large (a predictive
//! check in the sense of Box 1980, "Sampling and Bayes' inference in scientific modelling and robustness").

use super::density::Noise;
use super::elsewhere::strays_elsewhere;
use super::fit::{Cell, Course, Fit};
use super::integral::{Scene, interpolate};
use super::joint::cholesky;
use super::spoilt::Spoilt;
use super::track::{Predicted, Track};
use super::{Answer, Blunder, Evidence};
use fastrand::Rng;
use std::collections::BTreeMap;

/// Draws from which `p` is taken.
pub(super) const DRAWS: usize = 2000;

/// Result of the misfit test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Misfit {
    /// Share of simulated jobs that fit no better than the real one, or a lower limit of it.
    pub p: f64,
}

/// Simulates the job `DRAWS` times under the suspect of `track`, or until `p` cannot come out below `enough` any more: `p` is
/// then the least that it can be.
pub(super) fn test(track: &Track<'_>, fit: &Fit, scene: Scene<'_>, enough: f64, seed: u64) -> Misfit {
    let actual = scene.weigh(track, fit).log;
    let mut rng = Rng::with_seed(seed);
    let mut simulated = scene.evidence.clone();
    let mut as_bad = 0_usize;
    let mut draws = Draws::new(track, fit, scene);
    for _ in 0..DRAWS {
        draws.draw(&mut rng, &mut simulated);
        let spoilt = Spoilt::new(&simulated, scene.latents, scene.noise);
        let log = Scene { evidence: &simulated, spoilt: &spoilt, ..scene }.weigh(track, fit).log;
        // Equal values are ties of the same discrete answers, not of rounding.
        if log <= actual + 1e-9 {
            as_bad += 1;
            if as_bad as f64 >= enough * DRAWS as f64 {
                break;
            }
        }
    }
    Misfit { p: as_bad as f64 / DRAWS as f64 }
}

/// What is needed to simulate a job under one suspect.
struct Draws<'a, 'n> {
    track: &'a Track<'n>,
    fit: &'a Fit,
    scene: Scene<'a>,
    /// Prior weight of each cell, summed up.
    until: Vec<f64>,
    /// Cholesky factors of the cells' covariances, as far as they were needed.
    factors: BTreeMap<(usize, Course), Vec<f64>>,
}

impl<'a, 'n> Draws<'a, 'n> {
    fn new(track: &'a Track<'n>, fit: &'a Fit, scene: Scene<'a>) -> Self {
        let mut sum = 0.0;
        let add = |c: &Cell| {
            sum += c.log_weight.exp();
            sum
        };
        Self { track, fit, scene, until: fit.cells.iter().map(add).collect(), factors: BTreeMap::new() }
    }

    /// Draws severity, supplies, tolerances, blunders and answers anew.
    fn draw(&mut self, rng: &mut Rng, into: &mut Evidence) {
        let at = rng.f64() * self.until.last().copied().unwrap_or(0.0);
        let c = self.until.partition_point(|u| *u < at);
        let Some(cell) = self.fit.cells.get(c) else { return };
        let mut mark = rng.f64();
        let drawn = self.fit.courses(c).find(|(_, chance)| {
            mark -= chance;
            mark <= 0.0
        });
        let course = drawn.map_or_else(Course::default, |(course, _)| course);
        let t = rng.f64();
        let n = cell.numbers.len();
        let fit = self.fit;
        let lower = self.factors.entry((c, course)).or_insert_with(|| {
            let covariance = fit.covariance(c, course);
            cholesky(&covariance, n).map_or_else(Vec::new, |(lower, _)| lower)
        });
        let normals: Vec<f64> = (0..n).map(|_| gauss(rng)).collect();
        let mut spoilt: Vec<Option<Shown<'_>>> = vec![None; into.observations.len()];
        let mut moved = vec![0.0; into.observations.len()];
        for latent in self.scene.latents {
            if rng.f64() < latent.chance {
                let noise = self.scene.noise;
                let black = matches!(latent.blunder, Blunder::BlackLead(_));
                if black && rng.f64() < noise.shifted {
                    let by = noise.shift() * gauss(rng);
                    latent.blunder.spoils().iter().for_each(|i| moved[*i] += by);
                    continue;
                }
                let none = match latent.blunder {
                    Blunder::BlackLead(_) => noise.untouched,
                    Blunder::Reading(_) => noise.missed,
                    Blunder::SetUp(_) => 0.0,
                };
                let none = rng.f64() < none;
                let mut mark = rng.f64();
                let elsewhere = latent.elsewhere.iter().find(|other| {
                    mark -= other.share;
                    mark <= 0.0
                });
                for i in latent.blunder.spoils() {
                    let shown = elsewhere.and_then(|other| other.shows(*i)).map(Shown::Elsewhere);
                    spoilt[*i] = Some(shown.unwrap_or(if none { Shown::Nothing } else { Shown::Anything }));
                }
            }
        }
        let noise = self.scene.noise;
        for (row, i) in cell.numbers.iter().enumerate() {
            let strayed: f64 = lower.iter().skip(row * n).take(row + 1).zip(&normals).map(|(l, z)| l * z).sum();
            let value = match spoilt[*i] {
                Some(Shown::Nothing) => noise.spread(0.0, false) * gauss(rng),
                Some(Shown::Elsewhere(predicted)) => elsewhere(predicted, noise, rng),
                Some(Shown::Anything) => anything(noise, rng),
                None => cell.mean[row] + t * cell.slope[row] + strayed + moved[*i],
            };
            let jumps = cell.jumps[row];
            into.observations[*i].answer =
                as_read(&self.scene.evidence.observations[*i].answer, value, jumps, noise, rng);
        }
        let path = |(k, p): (usize, usize)| self.track.points.get(k)?.paths.get(p);
        let [Some(a), Some(b)] = cell.ends.map(path) else { return };
        for i in &cell.others {
            let (Some(x), Some(y)) = (a.predicted.get(*i), b.predicted.get(*i)) else { continue };
            let real = &self.scene.evidence.observations[*i];
            into.observations[*i].answer = match interpolate(x, y, t) {
                _ if real.answer == Answer::NotTaken => Answer::NotTaken,
                Predicted::Words(shares) => match spoilt[*i] {
                    Some(Shown::Elsewhere(Predicted::Words(there))) => {
                        said(there, rng.f64() < strays_elsewhere(&Predicted::Words(shares), noise).1, rng)
                    }
                    _ => said(&shares, rng.f64() < real.blunder, rng),
                },
                Predicted::Number { mean, jumps, .. } if jumps < 1.0 => {
                    let spoilt = rng.f64() < real.blunder;
                    let value =
                        if spoilt { anything(noise, rng) } else { mean + noise.spread(0.0, false) * gauss(rng) };
                    as_read(&real.answer, value, jumps, noise, rng)
                }
                Predicted::Number { .. } if rng.f64() >= noise.unsteady_mistaken => Answer::Unsteady,
                Predicted::Number { .. } => as_read(&real.answer, anything(noise, rng), 0.0, noise, rng),
            };
        }
    }
}

/// What a spoilt observation shows.
#[derive(Clone, Copy)]
enum Shown<'a> {
    Nothing,
    Anything,
    /// What a good circuit shows in another set-up.
    Elsewhere(&'a Predicted),
}

/// What is read in another set-up.
fn elsewhere(predicted: &Predicted, noise: &Noise, rng: &mut Rng) -> f64 {
    let (sigma, changed) = strays_elsewhere(predicted, noise);
    match predicted {
        Predicted::Number { mean, .. } if rng.f64() >= changed => mean + sigma * gauss(rng),
        Predicted::Number { .. } | Predicted::Words(_) => anything(noise, rng),
    }
}

/// What a spoilt reading shows.
fn anything(noise: &Noise, rng: &mut Rng) -> f64 {
    (rng.f64() - 0.5) * noise.span
}

/// A value noted in the form in which the real one was; `jumps`: the probability that it does not stand still.
fn as_read(real: &Answer, value: f64, jumps: f64, noise: &Noise, rng: &mut Rng) -> Answer {
    match real {
        Answer::NotTaken => Answer::NotTaken,
        Answer::Number { sigma, .. } => Answer::Number { value, sigma: *sigma },
        Answer::Between(low, high) => {
            let half = (high - low) / 2.0;
            Answer::Between(value - half, value + half)
        }
        Answer::Unsteady | Answer::Word(_) if rng.f64() < noise.called_jumping(jumps) => Answer::Unsteady,
        Answer::Unsteady | Answer::Word(_) => Answer::Number { value, sigma: noise.model_floor },
    }
}

fn said(shares: &[f64], wrong: bool, rng: &mut Rng) -> Answer {
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

/// A standard normal variable (Box and Muller 1958).
fn gauss(rng: &mut Rng) -> f64 {
    let u = 1.0 - rng.f64();
    (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * rng.f64()).cos()
}
