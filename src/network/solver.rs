//! Linear algebra on indices and numbers alone: a sparse Cholesky factor and low-rank changes of it.

use rsparse::data::{Nmrc, Sprs, Symb};

/// No node: the second end of a port that is a pin.
pub(super) const NOWHERE: u32 = u32::MAX;

/// A pair of nodes (or a node and [`NOWHERE`]) at which the matrix is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Port {
    pub(super) plus: u32,
    pub(super) minus: u32,
}

impl Port {
    /// The difference of `x` over the port.
    pub(super) fn across(self, x: &[f64]) -> f64 {
        let minus = if self.minus == NOWHERE { 0.0 } else { x[self.minus as usize] };
        x[self.plus as usize] - minus
    }
}

/// The Cholesky factor of a symmetric positive definite matrix.
pub(super) struct Factor {
    l: Sprs<f64>,
    /// Position of each node in the order of elimination.
    order: Vec<usize>,
}

/// The matrix has a pivot that is not positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NotDefinite;

/// Order of elimination and fill of a matrix, found once for all matrices with entries at the same places: most of the work
/// of a factor of a few hundred nodes.
pub(super) struct Plan(Symb);

impl Plan {
    /// The plan for `n` nodes and branches between these; what is not there in a certain matrix is given to it as 0 S.
    pub(super) fn new(n: usize, branches: &[(u32, u32, f64)]) -> Self {
        if n == 0 {
            return Self(Symb::new());
        }
        // The ordering of this version of the package fails below three nodes.
        Self(rsparse::schol(&assemble(n, branches, &[]), if n < 3 { -1 } else { 0 }))
    }
}

impl Factor {
    /// Factors the matrix of `n` nodes with conductances between them and 1 S at each pinned node, by a plan that was made for
    /// branches between the same nodes.
    pub(super) fn new(plan: &Plan, n: usize, branches: &[(u32, u32, f64)], pins: &[u32]) -> Result<Self, NotDefinite> {
        if n == 0 {
            return Ok(Self { l: Sprs::zeros(0, 0, 0), order: Vec::new() });
        }
        let mut symbolic = plan.0.clone();
        let Nmrc { l, .. } =
            rsparse::chol(&assemble(n, branches, pins), &mut symbolic).map_err(|_not_positive| NotDefinite)?;
        let order = match symbolic.pinv {
            Some(order) => order.iter().map(|p| p.unsigned_abs()).collect(),
            None => (0..n).collect(),
        };
        Ok(Self { l, order })
    }

    /// Replaces `x` by the solution of `A y = x`.
    pub(super) fn solve(&self, x: &mut [f64], scratch: &mut Vec<f64>) {
        scratch.clear();
        scratch.resize(x.len(), 0.0);
        for (value, position) in x.iter().zip(&self.order) {
            scratch[*position] = *value;
        }
        rsparse::lsolve(&self.l, scratch);
        rsparse::ltsolve(&self.l, scratch);
        for (value, position) in x.iter_mut().zip(&self.order) {
            *value = scratch[*position];
        }
    }

    /// The column of the inverse that belongs to a port.
    pub(super) fn column(&self, port: Port, scratch: &mut Vec<f64>) -> Vec<f64> {
        let mut x = vec![0.0; self.order.len()];
        x[port.plus as usize] += 1.0;
        if port.minus != NOWHERE {
            x[port.minus as usize] -= 1.0;
        }
        self.solve(&mut x, scratch);
        x
    }
}

/// The matrix in compressed columns, both triangles, equal places summed.
fn assemble(n: usize, branches: &[(u32, u32, f64)], pins: &[u32]) -> Sprs<f64> {
    let mut entries: Vec<(u32, u32, f64)> = Vec::with_capacity(branches.len() * 2 + n);
    let mut diagonal = vec![0.0; n];
    for (a, b, g) in branches {
        if a != b {
            entries.push((*a, *b, -g));
            entries.push((*b, *a, -g));
            diagonal[*a as usize] += g;
            diagonal[*b as usize] += g;
        }
    }
    for pin in pins {
        diagonal[*pin as usize] += 1.0;
    }
    for (node, g) in diagonal.iter().enumerate() {
        let node = u32::try_from(node).unwrap_or(u32::MAX);
        entries.push((node, node, *g));
    }
    entries.sort_unstable_by_key(|(column, row, _)| (*column, *row));
    let mut matrix = Sprs::zeros(n, n, 0);
    let mut last = None;
    for (column, row, g) in entries {
        if last == Some((column, row)) {
            if let Some(x) = matrix.x.last_mut() {
                *x += g;
            }
            continue;
        }
        last = Some((column, row));
        matrix.i.push(row as usize);
        matrix.x.push(g);
        matrix.p[column as usize + 1] = isize::try_from(matrix.i.len()).unwrap_or(isize::MAX);
    }
    matrix.nzmax = matrix.x.len();
    matrix
}

/// A change `P C Pᵀ` of a factored matrix: ports, their columns of the inverse, and the coefficients
/// `(row port, column port, siemens)`, not necessarily symmetric.
#[derive(Default)]
pub(super) struct Change {
    pub(super) ports: Vec<(Port, std::sync::Arc<[f64]>)>,
    pub(super) coefficients: Vec<(usize, usize, f64)>,
}

impl Change {
    /// With one diagonal coefficient a port: turns the extra currents of the ports' branches at the old
    /// potentials into those at the new, so that `-Σ column amps` is the change of all potentials; `false`
    /// when the small system is singular.
    pub(super) fn injections(&self, amps: &mut [f64]) -> bool {
        // (I + C Z) y = amps.
        let k = self.ports.len();
        let width = k + 1;
        let mut small = vec![0.0; k * width];
        for (row, _, c) in &self.coefficients {
            let port = self.ports[*row].0;
            for (j, (_, inverse)) in self.ports.iter().enumerate() {
                small[row * width + j] += c * port.across(inverse);
            }
            small[row * width + row] += 1.0;
            small[row * width + k] = amps[*row];
        }
        if !eliminate(&mut small, k) {
            return false;
        }
        for (row, amps) in amps.iter_mut().enumerate() {
            *amps = small[row * width + k];
        }
        true
    }

    /// Turns `x = A⁻¹ b` into `(A + P C Pᵀ)⁻¹ b` (Woodbury); `false` when the small system is singular.
    pub(super) fn correct(&self, x: &mut [f64]) -> bool {
        let k = self.ports.len();
        if k == 0 {
            return true;
        }
        // (I + C Z) y = C Pᵀx with Z = Pᵀ A⁻¹ P; then x - A⁻¹P y.
        let mut small = vec![0.0; k * (k + 1)];
        let width = k + 1;
        for (row, column, c) in &self.coefficients {
            let port = self.ports[*column].0;
            for (j, (_, inverse)) in self.ports.iter().enumerate() {
                small[row * width + j] += c * port.across(inverse);
            }
            small[row * width + k] += c * port.across(x);
        }
        for i in 0..k {
            small[i * width + i] += 1.0;
        }
        if !eliminate(&mut small, k) {
            return false;
        }
        for (i, (_, inverse)) in self.ports.iter().enumerate() {
            let y = small[i * width + k];
            if y != 0.0 {
                for (x, z) in x.iter_mut().zip(inverse.iter()) {
                    *x -= y * z;
                }
            }
        }
        true
    }
}

/// Gaussian elimination with row pivoting on a `k` by `k + 1` array whose last column is the right-hand
/// side and becomes the solution.
fn eliminate(a: &mut [f64], k: usize) -> bool {
    let width = k + 1;
    for step in 0..k {
        let mut pivot = step;
        for row in step + 1..k {
            if a[row * width + step].abs() > a[pivot * width + step].abs() {
                pivot = row;
            }
        }
        let size = a[pivot * width + step];
        if !size.is_finite() || size == 0.0 {
            return false;
        }
        if pivot != step {
            for column in step..width {
                a.swap(pivot * width + column, step * width + column);
            }
        }
        for row in step + 1..k {
            let share = a[row * width + step] / size;
            if share != 0.0 {
                for column in step + 1..width {
                    a[row * width + column] -= share * a[step * width + column];
                }
            }
        }
    }
    for step in (0..k).rev() {
        let mut sum = a[step * width + k];
        for column in step + 1..k {
            sum -= a[step * width + column] * a[column * width + k];
        }
        a[step * width + k] = sum / a[step * width + step];
    }
    true
}
