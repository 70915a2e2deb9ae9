//! The likelihood of all readings under one suspect, integrated over the severity of its fault.
//!
//! Inside a cell of the severity grid a reading runs straight in the logarithm of the severity; the likelihood is summed over
//! points that are as close as the reading's own spread asks for, so that a cell is integrated and not sampled.

use super::density::{Noise, of_answer, spread};
use super::track::{Path, Point, Predicted, Track};
use super::{Answer, Evidence};

/// Largest number of points inside one cell at which the likelihood is taken.
const POINTS_PER_CELL: usize = 48;

/// Log-likelihood of all readings under a track, integrated over its severity, and the share of each grid point.
pub(super) fn likelihood(
    track: &Track<'_>,
    evidence: &Evidence,
    left_out: Option<usize>,
    noise: &Noise,
) -> (f64, Vec<f64>) {
    let points = &track.points;
    let mut sums = vec![LogSum::default(); points.len()];
    let cells = points.len().saturating_sub(1).max(1) as f64;
    if let [only] = &points[..] {
        sums[0].add(of_point(only, evidence, left_out, noise));
    }
    for k in 0..points.len().saturating_sub(1) {
        let (a, b) = (&points[k], &points[k + 1]);
        match straight(a, b) {
            Some((pa, pb)) => {
                let bend = bends(points, k);
                let n = points_in_cell(pa, pb, evidence, noise);
                for i in 0..n {
                    let t = (i as f64 + 0.5) / n as f64;
                    let log = of_mixture(pa, pb, t, &bend, evidence, left_out, noise);
                    let log = log - (n as f64 * cells).ln();
                    sums[k].add(log + (1.0 - t).ln());
                    sums[k + 1].add(log + t.ln());
                }
            }
            // The state changes inside the cell: half of it goes with either end.
            None => {
                let half = (0.5 / cells).ln();
                sums[k].add(half + of_point(a, evidence, left_out, noise));
                sums[k + 1].add(half + of_point(b, evidence, left_out, noise));
            }
        }
    }
    let mut total = LogSum::default();
    for sum in &sums {
        total.add(sum.value());
    }
    let total = total.value();
    let shares = sums.iter().map(|s| if total.is_finite() { (s.value() - total).exp() } else { 0.0 });
    (total, shares.collect())
}

/// Whether a soft suspect predicts the same at both ends of its range, well within the reading's own spread.
pub(super) fn alike<'n>(a: &Point<'n>, b: &Point<'n>, noise: &Noise) -> bool {
    let Some((pa, pb)) = straight(a, b) else { return false };
    pa.predicted.iter().zip(&pb.predicted).all(|(x, y)| match (x, y) {
        (
            Predicted::Number { mean: x, floating: fx, unsteady: ux },
            Predicted::Number { mean: y, floating: fy, unsteady: uy },
        ) => fx == fy && ux == uy && (x - y).abs() <= 0.1 * spread(*x, 0.0, 0.0, false, noise),
        (Predicted::Words(x), Predicted::Words(y)) => x.iter().zip(y).all(|(p, q)| (p - q).abs() <= 0.01),
        (Predicted::Number { .. }, Predicted::Words(_)) | (Predicted::Words(_), Predicted::Number { .. }) => false,
    })
}

/// Both ends of a cell when nothing switches between them: the reading is then linear in the log of the severity.
fn straight<'a, 'n>(a: &'a Point<'n>, b: &'a Point<'n>) -> Option<(&'a Path<'n>, &'a Path<'n>)> {
    match (&a.paths[..], &b.paths[..]) {
        ([pa], [pb]) if pa.same_regime(pb) => Some((pa, pb)),
        _ => None,
    }
}

/// Error of the straight line inside cell `k`, by observation: an eighth of the second difference.
fn bends(points: &[Point<'_>], k: usize) -> Vec<f64> {
    let mean = |i: usize, o: usize| -> Option<f64> {
        match points.get(i)?.paths.first()?.predicted.get(o)? {
            Predicted::Number { mean, .. } => Some(*mean),
            Predicted::Words(_) => None,
        }
    };
    let count = points[k].paths.first().map_or(0, |p| p.predicted.len());
    let second = |i: usize, o: usize| -> f64 {
        let Some(before) = i.checked_sub(1) else { return 0.0 };
        let (Some(p), Some(q)) = (points.get(before), points.get(i + 1)) else { return 0.0 };
        if straight(p, q).is_none() {
            return 0.0;
        }
        match (mean(before, o), mean(i, o), mean(i + 1, o)) {
            (Some(a), Some(b), Some(c)) => (a - 2.0 * b + c).abs() / 8.0,
            _ => 0.0,
        }
    };
    (0..count).map(|o| second(k, o).max(second(k + 1, o))).collect()
}

fn points_in_cell(a: &Path<'_>, b: &Path<'_>, evidence: &Evidence, noise: &Noise) -> usize {
    let mut most = 1.0_f64;
    for (i, observation) in evidence.observations.iter().enumerate() {
        let (Some(Predicted::Number { mean: x, .. }), Some(Predicted::Number { mean: y, .. })) =
            (a.predicted.get(i), b.predicted.get(i))
        else {
            continue;
        };
        let sigma = match observation.answer {
            Answer::Number { sigma, .. } => sigma,
            Answer::Between(low, high) => (high - low).abs(),
            Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => continue,
        };
        most = most.max((x - y).abs() / spread(x.abs().min(y.abs()), sigma, 0.0, false, noise));
    }
    ((1.5 * most).ceil() as usize).clamp(1, POINTS_PER_CELL)
}

fn of_point(point: &Point<'_>, evidence: &Evidence, left_out: Option<usize>, noise: &Noise) -> f64 {
    let mut sum = LogSum::default();
    for path in &point.paths {
        sum.add(path.weight.ln() + of_path(path, evidence, left_out, noise));
    }
    sum.value()
}

fn of_path(path: &Path<'_>, evidence: &Evidence, left_out: Option<usize>, noise: &Noise) -> f64 {
    evidence
        .observations
        .iter()
        .zip(&path.predicted)
        .enumerate()
        .filter(|(i, _)| Some(*i) != left_out)
        .map(|(_, (o, p))| f64::from(o.times) * of_answer(&o.answer, p, 0.0, o.blunder, noise).ln())
        .sum()
}

fn of_mixture(
    a: &Path<'_>,
    b: &Path<'_>,
    t: f64,
    bend: &[f64],
    evidence: &Evidence,
    left_out: Option<usize>,
    noise: &Noise,
) -> f64 {
    evidence
        .observations
        .iter()
        .zip(a.predicted.iter().zip(&b.predicted))
        .enumerate()
        .filter(|(i, _)| Some(*i) != left_out)
        .map(|(i, (o, (x, y)))| {
            let between = interpolate(x, y, t);
            let extra = bend.get(i).copied().unwrap_or(0.0);
            f64::from(o.times) * of_answer(&o.answer, &between, extra, o.blunder, noise).ln()
        })
        .sum()
}

/// A prediction between two severities.
pub(super) fn interpolate(a: &Predicted, b: &Predicted, t: f64) -> Predicted {
    match (a, b) {
        (
            Predicted::Number { mean: x, floating: fx, unsteady: ux },
            Predicted::Number { mean: y, floating: fy, unsteady: uy },
        ) => Predicted::Number {
            mean: x + t * (y - x),
            floating: if t < 0.5 { *fx } else { *fy },
            unsteady: if t < 0.5 { *ux } else { *uy },
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
