//! Several readings as one joint Gaussian, and what is left of it when some of them are spoilt.
//!
//! With `K` the inverse of the covariance and `r` the residuals, the density of reading `i` given all others has
//! variance `1 / K_ii` and mean residual `(K r)_i / K_ii`; dividing by it takes the reading out (the conditional of a
//! Gaussian in terms of its precision, e.g. Rue and Held, "Gaussian Markov random fields", 2005, section 2.2).
//! Along a cell of the severity grid the residuals are `a - t d`, so that every density is a quadratic in `t`.

use std::borrow::Cow;

/// `ln(2 pi)`.
const LN_TAU: f64 = 1.837_877_066_409_345_3;

/// The log of a density along a cell: `log - (alpha - 2 beta t + gamma t^2) / 2`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Quadratic {
    pub(super) log: f64,
    pub(super) alpha: f64,
    pub(super) beta: f64,
    pub(super) gamma: f64,
}

impl Quadratic {
    /// The log density at `t`.
    pub(super) fn at(&self, t: f64) -> f64 {
        self.log - 0.5 * (self.alpha - t * (2.0 * self.beta - t * self.gamma)).max(0.0)
    }

    /// Where in the cell it is highest.
    pub(super) fn summit(&self) -> f64 {
        if self.gamma > 0.0 { (self.beta / self.gamma).clamp(0.0, 1.0) } else { 0.0 }
    }

    /// The highest log density in the cell.
    pub(super) fn peak(&self) -> f64 {
        self.at(self.summit())
    }

    /// Log of the integral over `t` from `low` to `high`, and the mean of `t` there.
    pub(super) fn integral(&self, low: f64, high: f64) -> (f64, f64) {
        let root = self.gamma.max(0.0).sqrt();
        let width = high - low;
        // So flat that the middle stands for all of it: the error is of the fourth order in `root * width`.
        if root * width < 0.05 {
            let middle = 0.5 * (low + high);
            return (self.at(middle) + width.ln(), middle);
        }
        let centre = self.beta / self.gamma;
        let (mut a, mut b) = ((low - centre) * root, (high - centre) * root);
        let mirrored = a + b < 0.0;
        if mirrored {
            (a, b) = (-b, -a);
        }
        let top = self.log - 0.5 * (self.alpha - self.beta * centre).max(0.0);
        let mass = 0.5 * (libm::erfc(a * HALF_ROOT) - libm::erfc(b * HALF_ROOT));
        let (log, mean) = if mass > 1e-280 {
            let slope = (density(a) - density(b)) / mass;
            (top + 0.5 * LN_TAU + mass.ln() - root.ln(), slope)
        } else {
            // Far down the flank the density falls off like an exponential from the nearer end.
            (top - 0.5 * a * a - (a * root).ln(), a + 1.0 / a)
        };
        let mean = if mirrored { -mean } else { mean };
        (log, (centre + mean / root).clamp(low, high))
    }
}

const HALF_ROOT: f64 = std::f64::consts::FRAC_1_SQRT_2;

fn density(x: f64) -> f64 {
    (-0.5 * (x * x + LN_TAU)).exp()
}

/// The lower triangle `L` with `C = L L'`, and the log of its determinant; `None` when `C` is no covariance. What lies above
/// the diagonal has no meaning.
pub(super) fn cholesky(covariance: &[f64], size: usize) -> Option<(Vec<f64>, f64)> {
    let mut lower = covariance.to_vec();
    let mut log = 0.0;
    for j in 0..size {
        for i in j..size {
            let (row, col) = (&lower[i * size..i * size + j], &lower[j * size..j * size + j]);
            let dot: f64 = row.iter().zip(col).map(|(x, y)| x * y).sum();
            let left = lower[i * size + j] - dot;
            if i == j {
                if left.is_nan() || left <= 0.0 {
                    return None;
                }
                log += 0.5 * left.ln();
                lower[j * size + j] = left.sqrt();
            } else {
                lower[i * size + j] = left / lower[j * size + j];
            }
        }
    }
    Some((lower, log))
}

/// The inverse of a covariance, and what goes with it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Precision {
    size: usize,
    /// Row by row.
    inverse: Vec<f64>,
    /// Log of the density at its summit.
    pub(super) summit: f64,
    /// `ln(2 pi C_ii) / 2` of each reading by itself.
    marginal: Vec<f64>,
}

impl Precision {
    /// Inverts a covariance, given row by row; `None` when it is none.
    pub(super) fn of(covariance: &[f64], size: usize) -> Option<Self> {
        let marginal = (0..size).map(|i| 0.5 * (LN_TAU + covariance[i * size + i].ln())).collect();
        let (lower, log) = cholesky(covariance, size)?;
        // The inverse of the triangle, transposed so that its columns lie in rows.
        let mut turned = vec![0.0; size * size];
        for c in 0..size {
            turned[c * size + c] = 1.0 / lower[c * size + c];
            for i in c + 1..size {
                let row = &lower[i * size + c..i * size + i];
                let known = &turned[c * size + c..c * size + i];
                let dot: f64 = row.iter().zip(known).map(|(x, y)| x * y).sum();
                turned[c * size + i] = -dot / lower[i * size + i];
            }
        }
        let mut inverse = vec![0.0; size * size];
        for i in 0..size {
            for j in i..size {
                let (x, y) = (&turned[i * size + j..i * size + size], &turned[j * size + j..j * size + size]);
                let value: f64 = x.iter().zip(y).map(|(x, y)| x * y).sum();
                inverse[i * size + j] = value;
                inverse[j * size + i] = value;
            }
        }
        Some(Self { size, inverse, summit: -log - 0.5 * LN_TAU * size as f64, marginal })
    }

    /// The inverse times a vector.
    pub(super) fn times(&self, x: &[f64]) -> Vec<f64> {
        if self.size == 0 {
            return Vec::new();
        }
        let row = |row: &[f64]| row.iter().zip(x).map(|(k, x)| k * x).sum();
        self.inverse.chunks_exact(self.size).map(row).collect()
    }

    /// The log of what spoiling these readings can gain at most, prior and flat densities left aside: half of the
    /// whole misfit, and each reading's own log spread.
    pub(super) fn most_gained(&self, places: &[usize], misfit: f64) -> f64 {
        0.5 * misfit + places.iter().map(|i| self.marginal[*i]).sum::<f64>()
    }
}

/// The readings that are left, with all that is needed to take out another.
#[derive(Clone, Debug)]
pub(super) struct Left<'p> {
    size: usize,
    inverse: Cow<'p, [f64]>,
    /// `K a` and `K d`.
    a: Vec<f64>,
    d: Vec<f64>,
    alive: Vec<bool>,
    pub(super) quadratic: Quadratic,
}

impl<'p> Left<'p> {
    /// All readings: `a` the residuals at one end of the cell, `d` what they lose towards the other; `k_d` is `K d`.
    pub(super) fn all(precision: &'p Precision, a: &[f64], d: &[f64], k_d: &[f64]) -> Self {
        let k_a = precision.times(a);
        let dot = |x: &[f64], y: &[f64]| -> f64 { x.iter().zip(y).map(|(x, y)| x * y).sum() };
        let quadratic =
            Quadratic { log: precision.summit, alpha: dot(a, &k_a), beta: dot(d, &k_a), gamma: dot(d, k_d).max(0.0) };
        Self {
            size: precision.size,
            inverse: Cow::Borrowed(&precision.inverse),
            a: k_a,
            d: k_d.to_vec(),
            alive: vec![true; precision.size],
            quadratic,
        }
    }

    /// Whether a reading has not been taken out.
    pub(super) fn has(&self, i: usize) -> bool {
        self.alive[i]
    }

    /// How many are left.
    pub(super) fn count(&self) -> usize {
        self.alive.iter().filter(|a| **a).count()
    }

    /// The density without one of the readings that are left.
    pub(super) fn without(&self, i: usize) -> Quadratic {
        let k = self.inverse[i * self.size + i];
        let Quadratic { log, alpha, beta, gamma } = self.quadratic;
        Quadratic {
            log: log + 0.5 * (LN_TAU - k.ln()),
            alpha: (alpha - self.a[i] * self.a[i] / k).max(0.0),
            beta: beta - self.a[i] * self.d[i] / k,
            gamma: (gamma - self.d[i] * self.d[i] / k).max(0.0),
        }
    }

    /// The density without two of the readings that are left.
    pub(super) fn without_two(&self, i: usize, j: usize) -> Quadratic {
        let first = self.without(i);
        let k = |x: usize, y: usize| self.inverse[x * self.size + y];
        // What taking out the first leaves for the second.
        let share = k(j, i) / k(i, i);
        let own = (k(j, j) - share * k(i, j)).max(f64::MIN_POSITIVE);
        let (a, d) = (self.a[j] - share * self.a[i], self.d[j] - share * self.d[i]);
        Quadratic {
            log: first.log + 0.5 * (LN_TAU - own.ln()),
            alpha: (first.alpha - a * a / own).max(0.0),
            beta: first.beta - a * d / own,
            gamma: (first.gamma - d * d / own).max(0.0),
        }
    }

    /// Takes one of them out.
    pub(super) fn remove(&mut self, i: usize) {
        self.quadratic = self.without(i);
        let n = self.size;
        let k = self.inverse[i * n + i];
        let row: Vec<f64> = self.inverse[i * n..i * n + n].to_vec();
        let (a, d) = (self.a[i] / k, self.d[i] / k);
        let inverse = self.inverse.to_mut();
        for j in (0..n).filter(|j| self.alive[*j]) {
            let share = row[j] / k;
            self.a[j] -= row[j] * a;
            self.d[j] -= row[j] * d;
            for (x, r) in inverse[j * n..j * n + n].iter_mut().zip(&row) {
                *x -= share * r;
            }
        }
        self.alive[i] = false;
    }

    /// Lets all of these that are left have been moved by the same unknown amount, with this standard deviation: the density with
    /// `C + sigma^2 1 1'` in the place of `C` (Sherman and Morrison; the determinant by the matrix determinant lemma).
    pub(super) fn shift(&mut self, places: &[usize], sigma: f64) {
        let n = self.size;
        let sum = |row: &[f64]| places.iter().filter(|i| self.alive[**i]).map(|i| row[*i]).sum::<f64>();
        let rows = self.inverse.chunks_exact(n.max(1)).zip(&self.alive);
        let by: Vec<f64> = rows.map(|(row, alive)| if *alive { sum(row) } else { 0.0 }).collect();
        let (own, a, d) = (sum(&by), sum(&self.a), sum(&self.d));
        let gain = 1.0 / (1.0 / (sigma * sigma) + own);
        let Quadratic { log, alpha, beta, gamma } = self.quadratic;
        self.quadratic = Quadratic {
            log: log - 0.5 * (sigma * sigma * own).ln_1p(),
            alpha: (alpha - gain * a * a).max(0.0),
            beta: beta - gain * a * d,
            gamma: (gamma - gain * d * d).max(0.0),
        };
        let inverse = self.inverse.to_mut();
        for j in (0..n).filter(|j| self.alive[*j]) {
            self.a[j] -= gain * by[j] * a;
            self.d[j] -= gain * by[j] * d;
            for (x, other) in inverse[j * n..j * n + n].iter_mut().zip(&by) {
                *x -= gain * by[j] * other;
            }
        }
    }

    /// `K r` at `t`, for the readings that are left; zero for the others.
    pub(super) fn pull(&self, t: f64) -> Vec<f64> {
        let at = |i: usize| if self.alive[i] { self.a[i] - t * self.d[i] } else { 0.0 };
        (0..self.size).map(at).collect()
    }

    /// The inverse for these readings alone, row by row.
    pub(super) fn among(&self, places: &[usize]) -> Vec<f64> {
        let row = |i: &usize| places.iter().map(|j| self.inverse[*i * self.size + *j]).collect::<Vec<f64>>();
        places.iter().flat_map(row).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::{Left, Precision, Quadratic};

    /// A covariance of three readings, and with the first two moved alike by 5 V and one of them lost.
    #[test]
    fn readings_moved_alike_have_the_density_of_the_wider_covariance() {
        let narrow = [0.04, 0.01, 0.0, 0.01, 0.05, 0.02, 0.0, 0.02, 0.09];
        let mut wide = narrow;
        for (row, column) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
            wide[row * 3 + column] += 25.0;
        }
        let (a, d) = ([3.1, 2.9, -0.2], [0.5, 0.0, 0.1]);
        let solved = |covariance: &[f64; 9]| Precision::of(covariance, 3).unwrap();
        let (narrow, wide) = (solved(&narrow), solved(&wide));
        let mut moved = Left::all(&narrow, &a, &d, &narrow.times(&d));
        let mut direct = Left::all(&wide, &a, &d, &wide.times(&d));
        moved.shift(&[0, 1], 5.0);
        let same = |x: Quadratic, y: Quadratic| {
            for t in [0.0, 0.4, 1.0] {
                assert!((x.at(t) - y.at(t)).abs() < 1e-9, "{} {}", x.at(t), y.at(t));
            }
        };
        same(moved.quadratic, direct.quadratic);
        same(moved.without(2), direct.without(2));
        moved.remove(1);
        direct.remove(1);
        same(moved.quadratic, direct.quadratic);
        assert!((moved.pull(0.3)[0] - direct.pull(0.3)[0]).abs() < 1e-9);
    }
}
