//! A suspect's predictions as joint Gaussians: one for each cell of its severity grid.
//!
//! `cov = J S J' + R`: the shared unknowns `S` by the rows of the readings, the supplies' movements from stay to stay and
//! from reading to reading, and `R`, what each reading has for itself (meter, last digit, open line, bend of the cell).

use super::density::{Noise, is_value};
use super::integral::Weighed;
use super::joint::Precision;
use super::row::Row;
use super::strays::Supplies;
use super::track::{Path, Point, Predicted, Track};
use super::{Answer, Evidence, Probe, Strays};
use std::cell::OnceCell;
use std::rc::Rc;

/// All cells of one suspect.
pub(super) struct Fit {
    pub(super) cells: Vec<Cell>,
    /// Points of the grid.
    pub(super) points: usize,
    /// Observations that are in it.
    pub(super) observed: usize,
    steady: Supplies,
    sagging: Supplies,
    /// Prior probability of a job in which the supplies sag.
    sags: f64,
    /// The same of a job in which open lines leak.
    leaks: f64,
    /// Position in the evidence, and stay, of each observation that can be a number.
    places: Vec<(usize, usize)>,
    anchors: Vec<Anchor>,
    /// What all the answers together say, once it was worked out.
    whole: OnceCell<Weighed>,
}

/// Covariances of all numbers at one severity, row by row: by the unknowns of the whole job, and for each unit of
/// variance of the supplies' EMF.
struct Anchor {
    job: Vec<f64>,
    supply: Vec<f64>,
}

/// One cell (or one end of it, where something switches inside).
pub(super) struct Cell {
    /// Point and path at either end; the same twice for a single severity.
    pub(super) ends: [(usize, usize); 2],
    /// Log of its share of the prior.
    pub(super) log_weight: f64,
    /// The observations that are predicted as settled numbers (positions in the evidence).
    pub(super) numbers: Vec<usize>,
    /// What is predicted at the first end, and how much more at the second.
    pub(super) mean: Vec<f64>,
    pub(super) slope: Vec<f64>,
    /// Probability that each does not stand still.
    pub(super) jumps: Vec<f64>,
    /// All other observations.
    pub(super) others: Vec<usize>,
    /// Variance that each number has for itself.
    own: Vec<f64>,
    /// The same by leaks, on lines that nothing drives.
    open: Vec<f64>,
    /// By how much each moves with one standard deviation of the sizes at which faults are held: one unknown that all share.
    held: Vec<f64>,
    /// The anchors on either side, and how far the middle of the cell is on the way between them.
    between: Option<(usize, usize, f64)>,
    /// By [`Course::place`].
    solved: [OnceCell<Option<Solved>>; 4],
}

/// What the readings of a job have in common besides the faults.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Course {
    /// A supply runs down or is charged meanwhile.
    pub(super) sagging: bool,
    /// Lines that nothing drives leak.
    pub(super) leaking: bool,
}

impl Course {
    /// All of them, the commonest first.
    const ALL: [Self; 4] = [
        Self { sagging: false, leaking: false },
        Self { sagging: true, leaking: false },
        Self { sagging: false, leaking: true },
        Self { sagging: true, leaking: true },
    ];

    fn place(self) -> usize {
        usize::from(self.sagging) + 2 * usize::from(self.leaking)
    }
}

/// Share of its way by which a reading may be off that is followed beyond the last severity known to switch alike: on the coarse
/// grid a reading in proportion to `R / (R + r)` bends by up to a third from one cell to the next.
const BENDS_BY: f64 = 0.25;

/// Share of its way by which a reading may be off that moves with the size at which a fault is held, for each decade that this
/// stands for: a reading in proportion to `R / (R + r)` bends by `(r - R) / (r + R)` of half the way in `ln R`.
const HELD_BENDS_BY: f64 = 0.5;

/// The inverted covariance of a cell.
pub(super) struct Solved {
    pub(super) precision: Precision,
    /// Times the slope.
    pub(super) k_slope: Vec<f64>,
}

impl Fit {
    /// The cells of a track for the observations that it has predicted.
    pub(super) fn new(track: &Track<'_>, evidence: &Evidence, noise: &Noise, strays: &Strays) -> Self {
        let paths = track.points.iter().flat_map(|p| &p.paths);
        let observed = paths.map(|p| p.predicted.len()).min().unwrap_or(0).min(evidence.observations.len());
        let places: Vec<(usize, usize)> = evidence
            .observations
            .iter()
            .enumerate()
            .take(observed)
            .filter(|(_, o)| matches!(o.probe, Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. }))
            .map(|(i, o)| (i, o.stay))
            .collect();
        let mut fit = Self {
            cells: Vec::new(),
            points: track.points.len(),
            observed,
            steady: strays.steady,
            sagging: strays.sagging,
            sags: if strays.is_none() || places.is_empty() { 0.0 } else { strays.sags },
            leaks: noise.leaky,
            places,
            anchors: Vec::new(),
            whole: OnceCell::new(),
        };
        let count = track.points.len().saturating_sub(1).max(1) as f64;
        if let [only] = &track.points[..] {
            fit.ends(only, 0, None, 0.0, track, evidence, noise);
        }
        for k in 0..track.points.len().saturating_sub(1) {
            let (a, b) = (&track.points[k], &track.points[k + 1]);
            if let Some((pa, pb)) = Point::straight(a, b) {
                let ends = [(k, pa), (k + 1, pb)];
                fit.cell(
                    ends.map(|(k, p)| (k, 0, p)),
                    None,
                    -count.ln(),
                    &bends(&track.points, k),
                    track,
                    evidence,
                    noise,
                );
            } else {
                // The state changes somewhere inside the cell: half of it goes with either end.
                let half = (0.5 / count).ln();
                let before = k.checked_sub(1).and_then(|k| track.points.get(k));
                fit.ends(a, k, before, half, track, evidence, noise);
                fit.ends(b, k + 1, track.points.get(k + 2), half, track, evidence, noise);
            }
        }
        if !strays.is_none() {
            fit.anchor(track);
        }
        fit
    }

    /// Keeps what all the answers together say.
    pub(super) fn keep(&self, whole: Weighed) {
        // What was kept before is the same.
        let _ = self.whole.set(whole);
    }

    /// What was kept of it.
    pub(super) fn whole(&self) -> Option<&Weighed> {
        self.whole.get()
    }

    /// Cells that begin at one point and reach no other. Where its neighbour away from the cell has switched alike, readings run
    /// on in the cell as they came from there.
    #[expect(clippy::too_many_arguments, reason = "as many things make a cell")]
    fn ends<'n>(
        &mut self,
        point: &Point<'n>,
        k: usize,
        neighbour: Option<&Point<'n>>,
        log: f64,
        track: &Track<'_>,
        evidence: &Evidence,
        noise: &Noise,
    ) {
        let beyond = neighbour.and_then(|other| Point::straight(point, other)).map(|(_, other)| other);
        for (p, path) in point.paths.iter().enumerate() {
            let ends = [(k, p, path), (k, p, path)];
            self.cell(ends, beyond, log + path.weight.ln(), &[], track, evidence, noise);
        }
    }

    #[expect(clippy::too_many_arguments, reason = "as many things make a cell")]
    fn cell(
        &mut self,
        ends: [(usize, usize, &Path<'_>); 2],
        beyond: Option<&Path<'_>>,
        log_weight: f64,
        bends: &[f64],
        track: &Track<'_>,
        evidence: &Evidence,
        noise: &Noise,
    ) {
        let [(ka, pa, a), (kb, pb, b)] = ends;
        let mut cell = Cell {
            ends: [(ka, pa), (kb, pb)],
            log_weight,
            numbers: Vec::new(),
            mean: Vec::new(),
            slope: Vec::new(),
            jumps: Vec::new(),
            others: Vec::new(),
            own: Vec::new(),
            open: Vec::new(),
            held: Vec::new(),
            between: None,
            solved: Default::default(),
        };
        for (i, observation) in evidence.observations.iter().enumerate().take(self.observed) {
            let (Some(x), Some(y)) = (a.predicted.get(i), b.predicted.get(i)) else { continue };
            match (x, y) {
                (
                    Predicted::Number { mean: x, floating: fx, jumps: jx },
                    Predicted::Number { mean: y, floating: fy, jumps: jy },
                ) if *jx < 1.0 && *jy < 1.0 && !is_interval(&observation.answer, noise) => {
                    let open = if *fx || *fy { noise.floating_sigma } else { 0.0 };
                    let came = beyond.and_then(|path| path.predicted.get(i)?.steady()).map(|from| x - from);
                    // What runs on beyond what is known may bend: by a quarter of its way (one standard deviation).
                    let bend = came.map_or_else(|| bends.get(i).copied().unwrap_or(0.0), |way| BENDS_BY * way);
                    let rest = row(track, ka, pa, i).map_or(0.0, Row::rest);
                    let meter = meter(&observation.answer, noise);
                    let blur = track.blur(ka, pa, i);
                    let own = noise.model_floor * noise.model_floor + meter * meter;
                    cell.numbers.push(i);
                    cell.mean.push(*x);
                    cell.slope.push(came.unwrap_or(y - x));
                    cell.jumps.push(0.5 * (jx + jy));
                    let bent = HELD_BENDS_BY * track.held_over * blur;
                    cell.own.push((own / f64::from(observation.times) + bend * bend + bent * bent + rest).max(1e-24));
                    cell.held.push(blur);
                    cell.open.push(open * open);
                }
                _ => cell.others.push(i),
            }
        }
        self.cells.push(cell);
    }

    /// Works out the covariances by shared unknowns at every anchor, and places each cell between two of them.
    fn anchor(&mut self, track: &Track<'_>) {
        let mut known: Vec<((usize, usize), usize)> = Vec::new();
        for c in 0..self.cells.len() {
            let [(ka, pa), (kb, pb)] = self.cells[c].ends;
            let (low, high) = around(track, ka, kb);
            let mut at = |k: usize, p: usize| match known.iter().rev().find(|(key, _)| *key == (k, p)) {
                Some((_, place)) => *place,
                None => {
                    let place = self.anchors.len();
                    self.anchors.push(Anchor::new(track, (k, p), &self.places));
                    known.push(((k, p), place));
                    place
                }
            };
            let middle = 0.5 * (ka + kb) as f64;
            let t = if high > low { (middle - low as f64) / (high - low) as f64 } else { 0.0 };
            self.cells[c].between = Some((at(low, pa), at(high, pb), t));
        }
    }

    /// The covariance of a cell's numbers, row by row.
    pub(super) fn covariance(&self, c: usize, course: Course) -> Vec<f64> {
        let cell = &self.cells[c];
        let n = cell.numbers.len();
        let mut covariance = vec![0.0; n * n];
        for (i, (own, open)) in cell.own.iter().zip(&cell.open).enumerate() {
            covariance[i * n + i] = if course.leaking { own + open } else { *own };
        }
        if cell.held.iter().any(|by| *by != 0.0) {
            for (i, x) in cell.held.iter().enumerate() {
                for (j, y) in cell.held.iter().enumerate() {
                    covariance[i * n + j] += x * y;
                }
            }
        }
        let Some((low, high, t)) = cell.between else { return covariance };
        let supplies = self.supplies(course);
        let all = self.places.len();
        let (low, high) = (&self.anchors[low], &self.anchors[high]);
        let place = |i: &usize| self.places.binary_search_by_key(i, |p| p.0).ok();
        let at: Vec<usize> = cell.numbers.iter().filter_map(place).collect();
        for (i, x) in at.iter().enumerate() {
            for (j, y) in at.iter().enumerate() {
                let mix = |a: &[f64], b: &[f64]| (1.0 - t) * a[x * all + y] + t * b[x * all + y];
                let moved = supplies.shared(self.places[*x], self.places[*y]);
                covariance[i * n + j] += mix(&low.job, &high.job) + moved * mix(&low.supply, &high.supply);
            }
        }
        covariance
    }

    /// The inverted covariance of a cell.
    pub(super) fn solved(&self, c: usize, course: Course) -> Option<&Solved> {
        let cell = &self.cells[c];
        let kept = &cell.solved[course.place()];
        let make = || {
            let precision = Precision::of(&self.covariance(c, course), cell.numbers.len())?;
            let k_slope = precision.times(&cell.slope);
            Some(Solved { precision, k_slope })
        };
        kept.get_or_init(make).as_ref()
    }

    /// The courses that a job can take, as far as they make a difference to a cell, with their prior probabilities.
    pub(super) fn courses(&self, c: usize) -> impl Iterator<Item = (Course, f64)> {
        let leaks = if self.cells[c].open.iter().any(|v| *v > 0.0) { self.leaks } else { 0.0 };
        let chance = |course: &Course| {
            let sags = if course.sagging { self.sags } else { 1.0 - self.sags };
            (*course, sags * if course.leaking { leaks } else { 1.0 - leaks })
        };
        Course::ALL.map(|course| chance(&course)).into_iter().filter(|(_, chance)| *chance > 0.0)
    }

    /// How the supplies move, in a job in which they sag or in a common one.
    pub(super) fn supplies(&self, course: Course) -> Supplies {
        if course.sagging { self.sagging } else { self.steady }
    }
}

impl Anchor {
    fn new(track: &Track<'_>, (k, p): (usize, usize), places: &[(usize, usize)]) -> Self {
        let n = places.len();
        let none = Row::default();
        let rows: Vec<&Row> = places.iter().map(|(i, _)| row(track, k, p, *i).unwrap_or(&none)).collect();
        let (mut job, mut supply) = (vec![0.0; n * n], vec![0.0; n * n]);
        for i in 0..n {
            for j in i..n {
                let (by_job, by_supply) = (rows[i].shared(rows[j]), rows[i].by_supply(rows[j]));
                (job[i * n + j], job[j * n + i]) = (by_job, by_job);
                (supply[i * n + j], supply[j * n + i]) = (by_supply, by_supply);
            }
        }
        Self { job, supply }
    }
}

/// Whether an answer is a wide interval: it is held against the spread of its own reading alone.
fn is_interval(answer: &Answer, noise: &Noise) -> bool {
    matches!(answer, Answer::Between(..)) && !is_value(answer, noise)
}

/// Standard deviation of the instrument.
pub(super) fn meter(answer: &Answer, noise: &Noise) -> f64 {
    match answer {
        Answer::Number { sigma, .. } => *sigma,
        // Anywhere between two values alike.
        Answer::Between(low, high) => (high - low).abs() / 12_f64.sqrt(),
        Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => noise.model_floor,
    }
}

/// The row of an observation at a point of the grid; of the nearest anchor where it is none itself.
pub(super) fn row<'a>(track: &'a Track<'_>, k: usize, p: usize, observation: usize) -> Option<&'a Row> {
    let at = |k: usize| track.points.get(k)?.paths.get(p)?.rows.get(observation)?.as_deref();
    at(k).or_else(|| {
        let (low, high) = around(track, k, k);
        at(low).or_else(|| at(high))
    })
}

/// The row of an observation at a point of the grid, between those of the anchors on either side.
pub(super) fn row_at(track: &Track<'_>, k: usize, p: usize, observation: usize) -> Rc<Row> {
    let at = |k: usize| track.points.get(k)?.paths.get(p)?.rows.get(observation)?.clone();
    let (low, high) = around(track, k, k);
    match (at(low), at(high)) {
        (Some(a), Some(b)) if high > low => Rc::new(Row::between(&a, &b, (k - low) as f64 / (high - low) as f64)),
        (Some(a), _) | (None, Some(a)) => a,
        (None, None) => Rc::default(),
    }
}

/// The anchors on either side of the points `a <= b`.
fn around(track: &Track<'_>, a: usize, b: usize) -> (usize, usize) {
    let low = (0..=a).rev().find(|k| track.is_anchor(*k)).unwrap_or(a);
    let high = (b..track.points.len()).find(|k| track.is_anchor(*k)).unwrap_or(b);
    (low, high)
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
        if Point::straight(p, q).is_none() {
            return 0.0;
        }
        match (mean(before, o), mean(i, o), mean(i + 1, o)) {
            (Some(a), Some(b), Some(c)) => (a - 2.0 * b + c).abs() / 8.0,
            _ => 0.0,
        }
    };
    (0..count).map(|o| second(k, o).max(second(k + 1, o))).collect()
}
