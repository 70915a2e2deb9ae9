//! Linear equations: Gaussian elimination of a full matrix with row pivoting (Golub and Van Loan, Matrix Computations,
//! algorithm 3.4.1). Rows that are zero in the column at hand are passed over, which is most of them in a circuit.

/// A square matrix, row by row.
pub(super) struct Matrix {
    size: usize,
    cells: Vec<f64>,
}

/// A matrix taken apart into `P A = L U`.
pub(super) struct Factored {
    size: usize,
    cells: Vec<f64>,
    /// Which row went to each place.
    rows: Vec<usize>,
}

impl Matrix {
    pub(super) fn zero(size: usize) -> Self {
        Self { size, cells: vec![0.0; size * size] }
    }

    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.cells[row * self.size + column] += value;
    }

    /// Takes it apart; `None` when a column has no pivot.
    pub(super) fn factor(self) -> Option<Factored> {
        let Self { size, mut cells } = self;
        let mut rows: Vec<usize> = (0..size).collect();
        for column in 0..size {
            let largest = |row: &usize| cells[row * size + column].abs();
            let pivot = (column..size).max_by(|a, b| largest(a).total_cmp(&largest(b)).then(b.cmp(a)))?;
            let head = cells[pivot * size + column];
            if head == 0.0 || !head.is_finite() {
                return None;
            }
            if pivot != column {
                for k in 0..size {
                    cells.swap(pivot * size + k, column * size + k);
                }
                rows.swap(pivot, column);
            }
            let (above, below) = cells.split_at_mut((column + 1) * size);
            let top = &above[column * size + column..];
            for row in below.chunks_exact_mut(size) {
                let factor = row[column] / head;
                if factor != 0.0 {
                    for (cell, above) in row[column + 1..].iter_mut().zip(&top[1..]) {
                        *cell -= factor * above;
                    }
                }
                row[column] = factor;
            }
        }
        Some(Factored { size, cells, rows })
    }
}

impl Factored {
    /// The `x` of `A x = right`.
    pub(super) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = self.rows.iter().map(|row| right[*row]).collect();
        for row in 0..self.size {
            let cells = &self.cells[row * self.size..row * self.size + row];
            let sum: f64 = cells.iter().zip(&x).map(|(a, x)| a * x).sum();
            x[row] -= sum;
        }
        for row in (0..self.size).rev() {
            let cells = &self.cells[row * self.size..(row + 1) * self.size];
            let sum: f64 = cells[row + 1..].iter().zip(&x[row + 1..]).map(|(a, x)| a * x).sum();
            x[row] = (x[row] - sum) / cells[row];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::Matrix;

    fn solved(rows: &[&[f64]], right: &[f64]) -> Option<Vec<f64>> {
        let mut matrix = Matrix::zero(rows.len());
        for (r, row) in rows.iter().enumerate() {
            for (c, value) in row.iter().enumerate() {
                matrix.add(r, c, *value);
            }
        }
        Some(matrix.factor()?.solve(right))
    }

    #[test]
    fn a_zero_on_the_diagonal_is_pivoted_away() {
        // By hand: 2y + z = 8, x + y = 3, 3x - z = -1 has x = 1, y = 2, z = 4.
        let x = solved(&[&[0.0, 2.0, 1.0], &[1.0, 1.0, 0.0], &[3.0, 0.0, -1.0]], &[8.0, 3.0, -1.0]).unwrap();
        assert!(x.iter().zip([1.0, 2.0, 4.0]).all(|(got, want)| (got - want).abs() < 1e-14), "{x:?}");
    }

    #[test]
    fn rows_that_repeat_have_no_solution() {
        assert!(solved(&[&[1.0, 2.0], &[2.0, 4.0]], &[1.0, 2.0]).is_none());
    }
}
