//! What a suspect does to each observation, roughly: by decades of its severity, for estimating what several would do
//! together.

use super::density::{Noise, normal, of_answer, spread};
use super::fit::meter;
use super::track::Track;
use super::{Observation, Predicted};
use crate::suspects::Severity;

/// Share of a reading by which the tolerances of parts move it beside one supply. Common practice, no source; it decides only
/// in which order sets are looked at.
const STRAYS: f64 = 0.015;

/// An observation as the estimate takes it.
pub(super) struct Noted {
    observation: Observation,
    /// Its value and standard deviation, if it is a number.
    number: Option<(f64, f64)>,
    /// What the healthy circuit would show, with the supplies as described.
    healthy: f64,
    /// Log density at its own value, and where it is spoilt.
    peak: f64,
    spoilt: f64,
    /// The most that it and all behind it can come to.
    most: f64,
    noise: Noise,
}

/// All observations, and how the supplies may stand.
pub(super) struct Notes {
    readings: Vec<Noted>,
    /// The supplies as they may be over the supplies as described.
    ratios: Vec<f64>,
}

/// What a suspect shows in part of its range.
#[derive(Clone, Debug, PartialEq)]
enum Shown {
    /// Anything between two values.
    Number(f64, f64),
    /// The log of the probability of what was seen.
    Log(f64),
}

/// What a suspect shows, by parts of its range and by observations.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Effect {
    cells: Vec<Vec<Shown>>,
    /// The parts of the range; none of a hard suspect.
    ranges: Vec<Severity>,
}

impl Noted {
    pub(super) fn new(observation: &Observation, healthy: f64, noise: &Noise) -> Self {
        let sigma = meter(&observation.answer, noise);
        let number = observation.answer.value().map(|v| (v, spread(sigma, STRAYS * v.abs(), false, noise)));
        Self {
            observation: observation.clone(),
            number,
            healthy,
            peak: number.map_or(0.0, |(_, sigma)| normal(0.0, sigma).ln()),
            spoilt: (observation.blunder / noise.span).max(f64::MIN_POSITIVE).ln(),
            most: 0.0,
            noise: *noise,
        }
    }

    /// Log density of the reading where anything between two values is predicted; at least that of a spoilt one.
    fn within(&self, low: f64, high: f64) -> f64 {
        let Some((value, sigma)) = self.number else { return 0.0 };
        let off = (low - value).max(value - high).max(0.0) / sigma;
        (self.peak - 0.5 * off * off).max(self.spoilt)
    }

    /// What is shown with supplies that stand at `ratio` of their description.
    fn of(&self, shown: &Shown, ratio: f64) -> f64 {
        match shown {
            Shown::Number(low, high) => self.within(low * ratio, high * ratio),
            Shown::Log(log) => *log,
        }
    }

    /// The best that two parts of a set can do for it: either by itself, or both added up.
    fn of_both(&self, a: &Shown, b: &Shown, ratio: f64) -> f64 {
        let best = self.of(a, ratio).max(self.of(b, ratio));
        match (a, b) {
            (Shown::Number(l, h), Shown::Number(m, i)) => {
                best.max(self.within((l + m - self.healthy) * ratio, (h + i - self.healthy) * ratio))
            }
            _ => best,
        }
    }
}

impl Notes {
    pub(super) fn new(readings: Vec<Noted>, ratios: Vec<f64>) -> Self {
        let mut notes = Self { readings, ratios };
        let mut most = 0.0;
        for reading in notes.readings.iter_mut().rev() {
            most += reading.peak.max(reading.spoilt).max(0.0);
            reading.most = most;
        }
        notes
    }
}

impl Effect {
    /// What a track shows; `None` where it cannot be solved, or was not taken through all observations.
    pub(super) fn of(track: &Track<'_>, notes: &Notes) -> Option<Self> {
        let readings = &notes.readings;
        let stride = track.cells_per_decade.max(1);
        let last = track.points.len().checked_sub(1)?;
        let count = last.div_ceil(stride).max(1);
        let shown = |from: usize, to: usize, i: usize, reading: &Noted| {
            let at = |k: usize| track.points.get(k)?.paths.first()?.predicted.get(i);
            let log = |p: &Predicted| {
                let o = &reading.observation;
                f64::from(o.times) * of_answer(&o.answer, p, 0.0, o.blunder, &reading.noise).ln()
            };
            let mean = |p: &Predicted| reading.number.and_then(|_| p.steady());
            let all: Option<Vec<&Predicted>> = (from..=to).map(at).collect();
            let all = all?;
            let numbers: Vec<f64> = all.iter().filter_map(|p| mean(p)).collect();
            if numbers.len() == all.len() {
                let low = numbers.iter().copied().fold(f64::INFINITY, f64::min);
                return Some(Shown::Number(low, numbers.iter().copied().fold(f64::NEG_INFINITY, f64::max)));
            }
            Some(Shown::Log(all.into_iter().map(log).fold(f64::NEG_INFINITY, f64::max)))
        };
        let cell = |c: usize| {
            let (from, to) = (c * stride, ((c + 1) * stride).min(last));
            readings.iter().enumerate().map(|(i, r)| shown(from, to, i, r)).collect::<Option<Vec<Shown>>>()
        };
        let ohms = |k: usize| track.points.get(k.min(last)).map(|p| p.ohms);
        let range = |c: usize| Some(Severity { low: ohms(c * stride)?, high: ohms((c + 1) * stride)? });
        let ranges = if last == 0 { Vec::new() } else { (0..count).filter_map(range).collect() };
        Some(Self { cells: (0..count).map(cell).collect::<Option<_>>()?, ranges })
    }

    /// How many parts its range has.
    pub(super) fn cells(&self) -> usize {
        self.cells.len()
    }

    /// A part of the range; `None` of a hard suspect.
    pub(super) fn range(&self, cell: usize) -> Option<Severity> {
        self.ranges.get(cell).copied()
    }

    /// The log-likelihood of all readings where they fit best.
    pub(super) fn best(&self, notes: &Notes) -> f64 {
        let of = |(cell, ratio): (&Vec<Shown>, f64)| -> f64 {
            notes.readings.iter().zip(cell).map(|(r, s)| r.of(s, ratio)).sum()
        };
        let all = self.cells.iter().flat_map(|cell| notes.ratios.iter().map(move |ratio| (cell, *ratio)));
        all.map(of).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// The same for two effects together, each in one part of its range; `None` where it is less than `least`.
pub(super) fn add_up(a: (&Effect, usize), b: (&Effect, usize), notes: &Notes, least: f64) -> Option<f64> {
    let (first, second) = (a.0.cells.get(a.1)?, b.0.cells.get(b.1)?);
    let with = |ratio: &f64| {
        let mut sum = 0.0;
        for ((reading, x), y) in notes.readings.iter().zip(first).zip(second) {
            if sum + reading.most < least {
                return None;
            }
            sum += reading.of_both(x, y, *ratio);
        }
        (sum >= least).then_some(sum)
    };
    notes.ratios.iter().filter_map(with).max_by(f64::total_cmp)
}
