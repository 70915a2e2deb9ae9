//! The likelihood of all readings under one suspect: blunders summed, severity integrated.
//!
//! Inside a cell of the severity grid readings run straight in the logarithm of the severity, so that every joint density
//! is a Gaussian in the place inside the cell too: it is integrated in closed form, the place being one more unknown that
//! all readings share.

use super::Evidence;
use super::blunders::Latent;
use super::density::{Noise, of_answer};
use super::fit::{Course, Fit, Solved, row};
use super::spared::Spared;
use super::spoilt::{How, Spoilt};
use super::track::{Point, Predicted, Track};
use super::ways::{HARDLY, Made, Ways};
use std::borrow::Cow;

/// What lies this far below the best, in log-likelihood, adds nothing (`e^-25`).
pub(super) const NOTHING: f64 = 25.0;
/// Parts of a cell in which words are taken to be as likely as in its middle.
const WORD_PARTS: usize = 4;

/// What a suspect makes of the answers.
#[derive(Clone, Debug, Default)]
pub(super) struct Weighed {
    /// Log-likelihood of all answers.
    pub(super) log: f64,
    /// Share of each point of the severity grid.
    pub(super) shares: Vec<f64>,
    /// Probability of each blunder, in the order of the latents, if this suspect is present.
    pub(super) doubts: Vec<f64>,
    /// Of each observation, roughly the log-likelihood of all the others, if that was asked for; not a number where it is not known.
    pub(super) spared: Vec<f64>,
}

/// What is said in one part of a cell: the log of the probability of all words together, and of each (position in the evidence).
#[derive(Clone)]
pub(super) struct Said {
    all: f64,
    each: Vec<(usize, f64)>,
}

/// The answers, and what is fixed while suspects are weighed.
#[derive(Clone, Copy)]
pub(super) struct Scene<'a> {
    pub(super) evidence: &'a Evidence,
    pub(super) latents: &'a [Latent],
    /// What the answers come to where these have spoilt them.
    pub(super) spoilt: &'a Spoilt,
    pub(super) noise: &'a Noise,
    /// Observations that do not count.
    pub(super) left_out: &'a [usize],
}

impl Scene<'_> {
    /// Log-likelihood of all answers under a track, and what goes with it.
    pub(super) fn weigh(&self, track: &Track<'_>, fit: &Fit) -> Weighed {
        self.summed(track, fit, None)
    }

    /// The same with what each single observation's absence would leave.
    pub(super) fn weigh_sparing(&self, track: &Track<'_>, fit: &Fit) -> Weighed {
        self.summed(track, fit, Some(Spared::new(self)))
    }

    fn summed(&self, track: &Track<'_>, fit: &Fit, mut spared: Option<Spared<'_>>) -> Weighed {
        let mut ways = Ways::default();
        let mut top = f64::NEG_INFINITY;
        let words: Vec<Vec<Said>> = (0..fit.cells.len()).map(|c| self.words(track, fit, c)).collect();
        let said = |c: usize| words[c].iter().map(|part| part.all).fold(f64::NEG_INFINITY, f64::max);
        let all = (0..fit.cells.len()).flat_map(|c| fit.courses(c).map(move |(course, chance)| (course, chance, c)));
        let mut all: Vec<(Course, f64, usize)> = all.collect();
        all.sort_by_key(|(course, ..)| *course);
        let narrowest = Course::default();
        for (course, chance, c) in all {
            let log = fit.cells[c].log_weight + chance.ln();
            let hope = |s: &Solved| log + s.precision.summit + said(c);
            // Wider spreads have lower summits: where the readings fit the narrowest nothing is gained by a wider one.
            let wider = course != narrowest;
            if wider && fit.solved(c, narrowest).is_none_or(|s| hope(s) < top - HARDLY) {
                continue;
            }
            let Some(solved) = fit.solved(c, course) else { continue };
            if wider && hope(solved) < top - HARDLY {
                continue;
            }
            let regained = self.regained(&words[c]);
            top = top.max(said(c) + self.ways(fit, c, solved, (log, regained), &mut ways).0);
        }
        let mut sums = vec![LogSum::default(); fit.points];
        let mut doubts = vec![LogSum::default(); self.latents.len()];
        for way in ways.all.iter().filter(|w| w.density.peak() + w.words + said(w.cell) > top - NOTHING) {
            let factors = &words[way.cell];
            let [(low, _), (high, _)] = fit.cells[way.cell].ends;
            let parts = factors.len();
            for (part, said) in factors.iter().enumerate() {
                let (from, to) = (part as f64 / parts as f64, (part + 1) as f64 / parts as f64);
                let (log, t) = way.density.integral(from, to);
                let said = self.said(said, ways.blunders(way));
                let log = log + said.all;
                sums[low].add(log + (1.0 - t).ln());
                sums[high].add(log + t.ln());
                for made in ways.blunders(way) {
                    doubts[made.latent].add(log);
                    if let Some(spared) = spared.as_mut() {
                        spared.spoilt(made, log);
                    }
                }
                if let Some(spared) = &mut spared {
                    spared.said(&said.each, log);
                }
            }
        }
        let mut total = LogSum::default();
        for sum in &sums {
            total.add(sum.value());
        }
        let total = total.value();
        let share = |s: &LogSum| if total.is_finite() { (s.value() - total).exp() } else { 0.0 };
        Weighed {
            log: total,
            shares: sums.iter().map(share).collect(),
            doubts: doubts.iter().map(share).collect(),
            spared: spared.map_or_else(Vec::new, |spared| spared.logs(total)),
        }
    }

    /// What is said in a way, in which some of it may be another set-up's.
    fn said<'s>(&self, said: &'s Said, made: impl Iterator<Item = Made>) -> Cow<'s, Said> {
        let mut said = Cow::Borrowed(said);
        for made in made {
            if self.spoilt.set_ups(made.latent) == 0 || made.how == How::Shifted {
                continue;
            }
            let Said { all, each } = said.to_mut();
            for (i, own) in each {
                if let Some(log) = self.spoilt.log(made.latent, made.how, *i) {
                    *all += log - *own;
                    *own = log;
                }
            }
        }
        said
    }

    /// The most that words can become likelier by each way of each latent.
    fn regained(&self, parts: &[Said]) -> Vec<Vec<f64>> {
        let by = |latent: usize, how: How| {
            let gained = |part: &Said| -> f64 {
                let each = part.each.iter();
                each.filter_map(|(i, own)| Some((self.spoilt.log(latent, how, *i)? - own).max(0.0))).sum()
            };
            parts.iter().map(gained).fold(0.0, f64::max)
        };
        let of = |latent: usize| match self.spoilt.set_ups(latent) {
            0 => Vec::new(),
            many => {
                std::iter::once(How::Lost).chain((0..many).map(How::Elsewhere)).map(|how| by(latent, how)).collect()
            }
        };
        (0..self.latents.len()).map(of).collect()
    }

    /// The probability of all that is no settled number, in equal parts of a cell.
    fn words(&self, track: &Track<'_>, fit: &Fit, c: usize) -> Vec<Said> {
        let cell = &fit.cells[c];
        let path = |(k, p): (usize, usize)| track.points.get(k)?.paths.get(p);
        let [Some(a), Some(b)] = cell.ends.map(path) else {
            return vec![Said { all: f64::NEG_INFINITY, each: Vec::new() }];
        };
        let seen: Vec<usize> = cell.others.iter().copied().filter(|i| !self.left_out.contains(i)).collect();
        let moves = seen.iter().any(|i| match (a.predicted.get(*i), b.predicted.get(*i)) {
            (Some(Predicted::Words(x)), Some(Predicted::Words(y))) => {
                x.iter().zip(y).any(|(p, q)| (p - q).abs() > 0.05)
            }
            (x, y) => x != y,
        });
        let parts = if moves { WORD_PARTS } else { 1 };
        let factor = |part: usize| {
            let t = (part as f64 + 0.5) / parts as f64;
            let mut otherwise = Otherwise::default();
            let of = |i: &usize| {
                let o = &self.evidence.observations[*i];
                let predicted = interpolate(a.predicted.get(*i)?, b.predicted.get(*i)?, t);
                let (k, p) = cell.ends[0];
                let strays = row(track, k, p, *i).map_or(0.0, |r| (r.shared(r) + r.rest()).sqrt());
                let chance = of_answer(&o.answer, &predicted, strays, o.blunder, self.noise);
                // What should jump and stands still all the same may show anything.
                let anything =
                    matches!(predicted, Predicted::Number { jumps, .. } if jumps >= 1.0) && o.answer.value().is_some();
                let flat = 1.0 / self.noise.span;
                let chance = if anything { flat * otherwise.chance(o.stay, chance / flat) } else { chance };
                Some((*i, f64::from(o.times) * chance.ln()))
            };
            let each: Vec<(usize, f64)> = seen.iter().filter_map(of).collect();
            Said { all: each.iter().map(|(_, log)| log).sum(), each }
        };
        (0..parts).map(factor).collect()
    }
}

/// The stays in which the circuit rests where it should chatter, or the other way round: which of the two hangs on figures of
/// coils that nobody knows well, and is one fact of the whole stay. The first reading that says so costs what such a reading
/// costs, all others of that stay little.
#[derive(Default)]
pub(super) struct Otherwise {
    stays: Vec<usize>,
}

/// What a further reading of such a stay costs: whether it shows what the others show.
const SHOWS_TOO: f64 = 0.5;

impl Otherwise {
    /// The probability of a reading that has this one by itself.
    pub(super) fn chance(&mut self, stay: usize, alone: f64) -> f64 {
        if alone >= SHOWS_TOO {
            return alone;
        }
        if self.stays.contains(&stay) {
            return SHOWS_TOO;
        }
        self.stays.push(stay);
        alone
    }
}

/// Whether a soft suspect predicts the same at both ends of its range, well within the reading's own spread.
pub(super) fn alike<'n>(a: &Point<'n>, b: &Point<'n>, noise: &Noise) -> bool {
    let Some((pa, pb)) = Point::straight(a, b) else { return false };
    pa.predicted.iter().zip(&pb.predicted).all(|(x, y)| match (x, y) {
        (
            Predicted::Number { mean: x, floating: fx, jumps: jx },
            Predicted::Number { mean: y, floating: fy, jumps: jy },
        ) => fx == fy && (jx - jy).abs() <= 0.01 && (x - y).abs() <= (noise.model_floor).min(ALIKE),
        (Predicted::Words(x), Predicted::Words(y)) => x.iter().zip(y).all(|(p, q)| (p - q).abs() <= 0.01),
        (Predicted::Number { .. }, Predicted::Words(_)) | (Predicted::Words(_), Predicted::Number { .. }) => false,
    })
}

/// Volts below which two predictions are the same to any meter.
const ALIKE: f64 = 2e-3;

/// A prediction between two severities.
pub(super) fn interpolate(a: &Predicted, b: &Predicted, t: f64) -> Predicted {
    match (a, b) {
        (
            Predicted::Number { mean: x, floating: fx, jumps: jx },
            Predicted::Number { mean: y, floating: fy, jumps: jy },
        ) => Predicted::Number {
            mean: x + t * (y - x),
            floating: if t < 0.5 { *fx } else { *fy },
            jumps: jx + t * (jy - jx),
        },
        (Predicted::Words(x), Predicted::Words(y)) => {
            Predicted::Words(x.iter().zip(y).map(|(p, q)| p + t * (q - p)).collect())
        }
        (Predicted::Number { .. }, Predicted::Words(_)) | (Predicted::Words(_), Predicted::Number { .. }) => a.clone(),
    }
}

/// A sum of numbers given by their logarithms.
#[derive(Clone, Copy)]
pub(super) struct LogSum {
    top: f64,
    sum: f64,
}

impl Default for LogSum {
    fn default() -> Self {
        Self { top: f64::NEG_INFINITY, sum: 0.0 }
    }
}

impl LogSum {
    /// Adds `exp(log)`.
    pub(super) fn add(&mut self, log: f64) {
        if log == f64::NEG_INFINITY || log.is_nan() {
            return;
        }
        if log > self.top {
            self.sum = self.sum * (self.top - log).exp() + 1.0;
            self.top = log;
        } else {
            self.sum += (log - self.top).exp();
        }
    }
    /// The logarithm of the sum.
    pub(super) fn value(&self) -> f64 {
        if self.sum > 0.0 { self.top + self.sum.ln() } else { f64::NEG_INFINITY }
    }
}

#[cfg(test)]
mod tests {
    use super::{Otherwise, SHOWS_TOO};

    #[test]
    fn a_stay_that_chatters_after_all_is_paid_for_once() {
        let mut otherwise = Otherwise::default();
        let mut is = |stay, alone, chance: f64| (otherwise.chance(stay, alone) - chance).abs() < 1e-12;
        assert!(is(3, 0.02, 0.02), "the first reading that says so");
        assert!(is(3, 0.02, SHOWS_TOO), "another of the same stay");
        assert!(is(4, 0.02, 0.02), "another stay");
        assert!(is(4, 0.98, 0.98), "what is as it should be");
    }
}
