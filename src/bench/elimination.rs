//! Linear equations: Gaussian elimination with row pivoting (Golub and Van Loan, Matrix Computations, algorithm 3.4.1) that keeps
//! only what is not zero, as circuits are mostly zeros. Columns are taken in the order of their number of entries, and of the rows
//! whose entry is large enough the shortest is the pivot, so that few new entries arise (threshold pivoting: Duff, Erisman and
//! Reid, Direct Methods for Sparse Matrices, chapter 5; from memory).

/// A pivot is at least this share of the largest entry of its column.
const LARGE: f64 = 0.1;

/// A row: column and value, ascending by column.
type Row = Vec<(usize, f64)>;

/// A square matrix; what is added twice to one place counts together.
pub(super) struct Matrix {
    rows: Vec<Row>,
}

/// A matrix taken apart, in the order of its columns.
pub(super) struct Factored {
    steps: Vec<Step>,
}

/// One column made zero in all rows but that of the pivot.
struct Step {
    column: usize,
    row: usize,
    pivot: f64,
    /// The rest of the row of the pivot.
    rest: Row,
    /// How often that row is taken from which others.
    others: Vec<(usize, f64)>,
}

impl Matrix {
    pub(super) fn zero(size: usize) -> Self {
        Self { rows: vec![Vec::new(); size] }
    }

    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        match self.rows[row].iter_mut().find(|(c, _)| *c == column) {
            Some((_, sum)) => *sum += value,
            None => self.rows[row].push((column, value)),
        }
    }

    /// Takes it apart; `None` when a column has no pivot.
    pub(super) fn factor(self) -> Option<Factored> {
        let Self { mut rows } = self;
        let size = rows.len();
        // The rows that have (or had) an entry in each column.
        let mut within: Vec<Vec<usize>> = vec![Vec::new(); size];
        for (number, row) in rows.iter_mut().enumerate() {
            row.sort_unstable_by_key(|(column, _)| *column);
            for (column, _) in row.iter() {
                within[*column].push(number);
            }
        }
        let mut columns: Vec<usize> = (0..size).collect();
        columns.sort_by_key(|column| within[*column].len());
        let mut used = vec![false; size];
        let mut steps = Vec::with_capacity(size);
        for column in columns {
            let entry = |row: usize| {
                let place = rows[row].binary_search_by_key(&column, |(c, _)| *c).ok()?;
                Some((row, rows[row][place].1)).filter(|(_, value)| *value != 0.0)
            };
            let entries: Vec<(usize, f64)> =
                within[column].iter().filter(|row| !used[**row]).filter_map(|row| entry(*row)).collect();
            let largest = entries.iter().map(|(_, value)| value.abs()).fold(0.0, f64::max);
            let large = entries.iter().filter(|(_, value)| value.abs() >= LARGE * largest);
            let (row, pivot) = *large.min_by_key(|(row, _)| (rows[*row].len(), *row))?;
            if !pivot.is_finite() {
                return None;
            }
            used[row] = true;
            let mut rest = std::mem::take(&mut rows[row]);
            rest.retain(|(c, _)| *c != column);
            let others: Vec<(usize, f64)> =
                entries.into_iter().filter(|(r, _)| *r != row).map(|(r, value)| (r, value / pivot)).collect();
            for (other, factor) in &others {
                rows[*other] = less(&rows[*other], &rest, *factor, column, |c| within[c].push(*other));
            }
            steps.push(Step { column, row, pivot, rest, others });
        }
        Some(Factored { steps })
    }
}

/// `row - factor * rest` without `column`; `new` is told of each column in which an entry arises.
fn less(row: &Row, rest: &Row, factor: f64, column: usize, mut new: impl FnMut(usize)) -> Row {
    let mut left = Vec::with_capacity(row.len() + rest.len());
    let mut taken = rest.iter().peekable();
    for (c, value) in row.iter().filter(|(c, _)| *c != column) {
        while let Some((t, by)) = taken.next_if(|(t, _)| t < c) {
            new(*t);
            left.push((*t, -factor * by));
        }
        let by = taken.next_if(|(t, _)| t == c).map_or(0.0, |(_, by)| *by);
        left.push((*c, value - factor * by));
    }
    for (t, by) in taken {
        new(*t);
        left.push((*t, -factor * by));
    }
    left
}

impl Factored {
    /// The `x` of `A x = right`.
    pub(super) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut right = right.to_vec();
        for step in &self.steps {
            let own = right[step.row];
            for (other, factor) in &step.others {
                right[*other] -= factor * own;
            }
        }
        let mut x = vec![0.0; right.len()];
        for step in self.steps.iter().rev() {
            let known: f64 = step.rest.iter().map(|(column, value)| value * x[*column]).sum();
            x[step.column] = (right[step.row] - known) / step.pivot;
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

    // Multiplying back: `A x` is the right side again.
    #[test]
    fn what_is_solved_multiplies_back() {
        let mut rng = fastrand::Rng::with_seed(5);
        for size in 1..40 {
            let mut full = vec![vec![0.0; size]; size];
            let mut matrix = Matrix::zero(size);
            for r in 0..size {
                for _ in 0..4 {
                    let (c, value) = (rng.usize(0..size), rng.f64() - 0.5);
                    full[r][c] += value;
                    matrix.add(r, c, value);
                }
                let value = 1.0 + rng.f64();
                full[r][(r + 1) % size] += value;
                matrix.add(r, (r + 1) % size, value);
            }
            let right: Vec<f64> = (0..size).map(|_| rng.f64()).collect();
            let Some(factored) = matrix.factor() else { continue };
            let x = factored.solve(&right);
            let largest = x.iter().fold(1.0_f64, |l, v| l.max(v.abs()));
            for (row, right) in full.iter().zip(&right) {
                let back: f64 = row.iter().zip(&x).map(|(a, x)| a * x).sum();
                assert!((back - right).abs() < 1e-10 * largest, "{size}: {back} for {right}");
            }
        }
    }
}
