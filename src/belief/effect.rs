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
/// Narrower parts of a decade of severity.
const PARTS: usize = 4;

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

/// What a suspect shows, by decades of its range and by observations.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Effect {
    cells: Vec<Vec<Shown>>,
    /// Each of these in narrower parts.
    parts: Vec<Vec<Vec<Shown>>>,
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

    /// How far apart two effects are, as a log-likelihood.
    fn apart(&self, a: &Shown, b: &Shown) -> f64 {
        let most = self.peak - self.spoilt;
        match (a, b) {
            (Shown::Number(l, h), Shown::Number(m, i)) => {
                let gap = (l - i).max(m - h).max(0.0) / self.number.map_or(1.0, |(_, sigma)| sigma);
                -(0.5 * gap * gap).min(most)
            }
            (Shown::Log(a), Shown::Log(b)) => -(a - b).abs().min(most),
            (Shown::Number(..), Shown::Log(_)) | (Shown::Log(_), Shown::Number(..)) => -most,
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

    /// The log-likelihood of all readings by two effects together; `None` where it is less than `least`.
    fn of_both(&self, first: &[Shown], second: &[Shown], least: f64) -> Option<f64> {
        let with = |ratio: &f64| {
            let mut sum = 0.0;
            for ((reading, a), b) in self.readings.iter().zip(first).zip(second) {
                if sum + reading.most < least {
                    return None;
                }
                sum += reading.of_both(a, b, *ratio);
            }
            (sum >= least).then_some(sum)
        };
        self.ratios.iter().filter_map(with).max_by(f64::total_cmp)
    }
}

impl Shown {
    /// What is shown in one of the parts of a decade of which the two ends are known. A number runs about straight in the
    /// logarithm of the severity; what dies away with it, as far out on a voltage divider, is off by 0.27 of its way at most.
    fn part(&self, low: &Self, high: &Self, k: usize) -> Self {
        let (Self::Number(..), Self::Number(a, _), Self::Number(b, _)) = (self, low, high) else { return self.clone() };
        let at = |k: f64| a + (b - a) * k / PARTS as f64;
        if !(a.is_finite() && b.is_finite()) {
            return self.clone();
        }
        let (from, to, spare) = (at(k as f64), at(k as f64 + 1.0), 0.27 * (b - a).abs());
        Self::Number(from.min(to) - spare, from.max(to) + spare)
    }
}

impl Effect {
    /// What a track shows; `None` where it cannot be solved at any severity.
    pub(super) fn of(track: &Track<'_>, notes: &Notes) -> Option<Self> {
        let readings = &notes.readings;
        let stride = track.cells_per_decade.max(1);
        let last = track.points.len().checked_sub(1)?;
        let count = last.div_ceil(stride).max(1);
        let shown = |from: usize, to: usize, i: usize, reading: &Noted| {
            let solved = |k: usize| track.points.get(k).is_some_and(|point| !point.paths.is_empty());
            let log = |p: &Predicted| {
                let o = &reading.observation;
                f64::from(o.times) * of_answer(&o.answer, p, 0.0, o.blunder, &reading.noise).ln()
            };
            let mean = |p: &Predicted| reading.number.and_then(|_| p.steady());
            let paths = track.points.iter().take(to + 1).skip(from).flat_map(|point| &point.paths);
            let all: Vec<&Predicted> = paths.filter_map(|path| path.predicted.get(i)).collect();
            // What cannot be solved at one severity may show anything there.
            if all.is_empty() || !(from..=to).all(solved) {
                return reading.number.map_or(Shown::Log(0.0), |_| Shown::Number(f64::NEG_INFINITY, f64::INFINITY));
            }
            let numbers: Vec<f64> = all.iter().filter_map(|p| mean(p)).collect();
            if numbers.len() == all.len() {
                let low = numbers.iter().copied().fold(f64::INFINITY, f64::min);
                return Shown::Number(low, numbers.iter().copied().fold(f64::NEG_INFINITY, f64::max));
            }
            Shown::Log(all.into_iter().map(log).fold(f64::NEG_INFINITY, f64::max))
        };
        let all = |(from, to): (usize, usize)| {
            readings.iter().enumerate().map(|(i, r)| shown(from, to, i, r)).collect::<Vec<Shown>>()
        };
        let ends = |c: usize| (c * stride, ((c + 1) * stride).min(last));
        let cells: Vec<Vec<Shown>> = (0..count).map(|c| all(ends(c))).collect();
        track.points.iter().any(|point| !point.paths.is_empty()).then_some(())?;
        let parts = |c: usize| -> Vec<Vec<Shown>> {
            let (from, to) = ends(c);
            if to - from < PARTS {
                let (low, high) = (all((from, from)), all((to, to)));
                let part = |k: usize| {
                    let ends = low.iter().zip(&high).zip(&cells[c]);
                    ends.map(|((low, high), whole)| whole.part(low, high, k)).collect::<Vec<Shown>>()
                };
                return if from == to { vec![low] } else { (0..PARTS).map(part).collect() };
            }
            let step = stride.div_ceil(PARTS);
            (from..to).step_by(step).map(|k| all((k, (k + step).min(to)))).collect()
        };
        let ohms = |k: usize| track.points.get(k.min(last)).map(|p| p.ohms);
        let range = |c: usize| Some(Severity { low: ohms(c * stride)?, high: ohms((c + 1) * stride)? });
        let ranges = if last == 0 { Vec::new() } else { (0..count).filter_map(range).collect() };
        Some(Self { parts: (0..count).map(parts).collect(), cells, ranges })
    }

    /// How many decades its range has.
    pub(super) fn cells(&self) -> usize {
        self.cells.len()
    }

    /// In how many narrower parts all of them are.
    pub(super) fn parts(&self) -> usize {
        self.parts.iter().map(Vec::len).sum()
    }

    /// The decade in which a size lies, in ohms.
    pub(super) fn cell_at(&self, ohms: f64) -> usize {
        let last = self.cells.len().saturating_sub(1);
        self.ranges.iter().position(|range| ohms <= range.high.get()).unwrap_or(last)
    }

    /// A decade of the range; `None` of a hard suspect.
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

/// The same for two effects together, each in one decade of its range; `None` where it is less than `least`.
pub(super) fn add_up(a: (&Effect, usize), b: (&Effect, usize), notes: &Notes, least: f64) -> Option<f64> {
    notes.of_both(a.0.cells.get(a.1)?, b.0.cells.get(b.1)?, least)
}

/// The same with the first in any narrow part of its range, and the other in any of one decade.
pub(super) fn add_up_closely(a: &Effect, b: (&Effect, usize), notes: &Notes, least: f64) -> Option<f64> {
    let (mut best, mut least) = (None, least);
    for first in a.parts.iter().flatten() {
        for second in b.0.parts.get(b.1)? {
            if let Some(sum) = notes.of_both(first, second, least) {
                (best, least) = (Some(sum), sum);
            }
        }
    }
    best
}

/// How nearly two effects show the same, each in one decade of its range, but for some observations: zero or less, as the
/// logarithm of a likelihood, no observation counting for more than a spoilt one.
pub(super) fn alike(a: (&Effect, usize), b: (&Effect, usize), notes: &Notes, but: &[usize]) -> f64 {
    let (Some(first), Some(second)) = (a.0.cells.get(a.1), b.0.cells.get(b.1)) else { return f64::NEG_INFINITY };
    let all = notes.readings.iter().zip(first).zip(second).enumerate().filter(|(i, _)| !but.contains(i));
    all.map(|(_, ((reading, a), b))| reading.apart(a, b)).sum()
}

#[cfg(test)]
mod tests {
    use super::{Effect, Noted, Notes, PARTS, Shown, alike};
    use crate::belief::density::Noise;
    use crate::belief::{Answer, Observation, Probe};

    const NOISE: Noise = Noise {
        floating_sigma: 0.3,
        leaky: 0.1,
        model_floor: 0.005,
        lasting: 0.5,
        shifted: 0.5,
        untouched: 0.5,
        missed: 0.0,
        moved: 0.0,
        span: 30.0,
        unsteady_mistaken: 0.02,
    };

    fn read(value: f64) -> Noted {
        let answer = Answer::Number { value, sigma: 0.02 };
        let observation = Observation { probe: Probe::Look(0), answer, stay: 0, blunder: 0.02, times: 1 };
        Noted::new(&observation, 12.0, &NOISE)
    }

    /// 12 V over a load of 6 ohm behind a joint of any size: by Ohm's law the load has 12 V times 6 over 6 and the joint's ohms. In
    /// each quarter of any decade what it has lies in what is taken for that quarter.
    #[test]
    fn parts_of_a_decade_hold_what_a_voltage_divider_shows() {
        let volts = |ohms: f64| 12.0 * 6.0 / (6.0 + ohms);
        for tenths in -20..30 {
            let from = 10_f64.powf(f64::from(tenths) / 10.0);
            let [low, high] = [from, 10.0 * from].map(|ohms| Shown::Number(volts(ohms), volts(ohms)));
            let whole = Shown::Number(volts(10.0 * from), volts(from));
            for k in 0..PARTS {
                let Shown::Number(least, most) = whole.part(&low, &high, k) else { panic!("a number") };
                for step in 0..=10 {
                    let at = from * 10_f64.powf((k as f64 + f64::from(step) / 10.0) / PARTS as f64);
                    let shown = volts(at);
                    assert!((least - 1e-9..=most + 1e-9).contains(&shown), "{at} ohm: {shown} V in {least} to {most}");
                }
            }
        }
    }

    #[test]
    fn neighbours_show_the_same_but_for_what_tells_them_apart() {
        let notes = Notes::new(vec![read(8.0), read(3.0)], vec![1.0]);
        let effect = |a: f64, b: f64| Effect {
            cells: vec![vec![Shown::Number(a - 1.0, a + 1.0), Shown::Number(b - 1.0, b + 1.0)]],
            parts: Vec::new(),
            ranges: Vec::new(),
        };
        let (joint, holder) = (effect(8.5, 11.9), effect(7.8, 3.4));
        assert!(alike((&joint, 0), (&joint, 0), &notes, &[]).abs() < 1e-12);
        assert!(alike((&joint, 0), (&holder, 0), &notes, &[1]).abs() < 1e-12, "alike at the load");
        // The second reading counts for no more than one that is spoilt: ln of a peak of some 8 per volt over 0.02 / 30 V.
        let apart = alike((&joint, 0), (&holder, 0), &notes, &[]);
        assert!((-11.0..-8.0).contains(&apart), "{apart}");
    }
}
