//! Linear equations: Gaussian elimination with row pivoting (Golub and Van Loan, Matrix Computations, algorithm 3.4.1) that keeps
//! only what is not zero, as circuits are mostly zeros. Columns are taken in the order of their number of entries, and of the rows
//! whose entry is large enough the shortest is the pivot, so that few new entries arise (threshold pivoting: Duff, Erisman and
//! Reid, Direct Methods for Sparse Matrices, chapter 5; from memory).
//!
//! Newton's method meets the same places with other values again and again: which entries take part in which step is found once
//! (a [`Plan`]), and repeated as long as its pivots stay large enough.

/// A pivot is at least this share of the largest entry of its column.
const LARGE: f64 = 0.1;
/// A repeated pivot may be this small a share of the largest entry of its column.
const STILL_LARGE: f64 = 1e-3;

/// The places of a square matrix that may be other than zero.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Places {
    size: usize,
    /// The place that each entry goes to, in the order of the entries.
    of: Vec<usize>,
    /// Row and column of each place, ascending.
    at: Vec<(usize, usize)>,
}

impl Places {
    /// The places of entries that come in a certain order; entries at one place count together.
    pub(super) fn new(size: usize, entries: &[(usize, usize)]) -> Self {
        let mut at = entries.to_vec();
        at.sort_unstable();
        at.dedup();
        let of = entries.iter().map(|entry| at.binary_search(entry).unwrap_or_default()).collect();
        Self { size, of, at }
    }

    /// The value at each place, from those of the entries.
    pub(super) fn gather(&self, values: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.at.len()];
        for (place, value) in self.of.iter().zip(values) {
            sums[*place] += value;
        }
        sums
    }

    /// Which entries take part in which step, with pivots that suit `values` (by place); `None` when a column has no pivot.
    pub(super) fn plan(&self, values: &[f64]) -> Option<Plan> {
        let mut values = values.to_vec();
        let mut rows: Vec<Vec<(usize, usize)>> = vec![Vec::new(); self.size];
        // The rows that have (or had) an entry in each column.
        let mut within: Vec<Vec<usize>> = vec![Vec::new(); self.size];
        for (place, (row, column)) in self.at.iter().enumerate() {
            rows[*row].push((*column, place));
            within[*column].push(*row);
        }
        let mut columns: Vec<usize> = (0..self.size).collect();
        columns.sort_by_key(|column| within[*column].len());
        let mut used = vec![false; self.size];
        let mut steps = Vec::with_capacity(self.size);
        for column in columns {
            let entry = |row: usize| {
                let place = rows[row].binary_search_by_key(&column, |(c, _)| *c).ok()?;
                Some((row, rows[row][place].1))
            };
            let entries: Vec<(usize, usize)> =
                within[column].iter().filter(|row| !used[**row]).filter_map(|row| entry(*row)).collect();
            let largest = entries.iter().map(|(_, place)| values[*place].abs()).fold(0.0, f64::max);
            let large = entries.iter().filter(|(_, place)| values[*place].abs() >= LARGE * largest && largest > 0.0);
            let (row, pivot) = *large.min_by_key(|(row, _)| (rows[*row].len(), *row))?;
            if !values[pivot].is_finite() {
                return None;
            }
            used[row] = true;
            let mut rest = std::mem::take(&mut rows[row]);
            rest.retain(|(c, _)| *c != column);
            let mut others = Vec::with_capacity(entries.len());
            for (other, place) in entries.into_iter().filter(|(r, _)| *r != row) {
                let factor = values[place] / values[pivot];
                let mut targets = Vec::with_capacity(rest.len());
                for (c, from) in &rest {
                    let target = match rows[other].binary_search_by_key(c, |(c, _)| *c) {
                        Ok(found) => rows[other][found].1,
                        Err(gap) => {
                            rows[other].insert(gap, (*c, values.len()));
                            within[*c].push(other);
                            values.push(0.0);
                            values.len() - 1
                        }
                    };
                    values[target] -= factor * values[*from];
                    targets.push(target);
                }
                others.push(Other { row: other, place, targets });
            }
            steps.push(Step { column, row, pivot, rest, others });
        }
        Some(Plan { steps, places: values.len() })
    }
}

/// The steps of an elimination.
pub(super) struct Plan {
    steps: Vec<Step>,
    /// How many places there are with those that arise on the way.
    places: usize,
}

/// One column made zero in all rows but that of the pivot.
struct Step {
    column: usize,
    row: usize,
    pivot: usize,
    /// Column and place of the rest of the row of the pivot.
    rest: Vec<(usize, usize)>,
    others: Vec<Other>,
}

/// A row from which that of the pivot is taken.
struct Other {
    row: usize,
    /// Its entry in the column.
    place: usize,
    /// Where each of the rest of the row of the pivot is taken from.
    targets: Vec<usize>,
}

impl Plan {
    /// The `x` of `A x = right`, `A` by its values at the places that the plan was made for; `None` when one of the pivots has
    /// become too small.
    pub(super) fn solve(&self, values: &[f64], right: &[f64]) -> Option<Vec<f64>> {
        let mut values = values.to_vec();
        values.resize(self.places, 0.0);
        let mut right = right.to_vec();
        for step in &self.steps {
            let pivot = values[step.pivot];
            let largest = step.others.iter().fold(0.0_f64, |l, other| l.max(values[other.place].abs()));
            // What is no number is not large enough either.
            if !(pivot.is_finite() && pivot != 0.0 && pivot.abs() >= STILL_LARGE * largest) {
                return None;
            }
            let own = right[step.row];
            for other in &step.others {
                let factor = values[other.place] / pivot;
                if factor != 0.0 {
                    for ((_, from), target) in step.rest.iter().zip(&other.targets) {
                        values[*target] -= factor * values[*from];
                    }
                    right[other.row] -= factor * own;
                }
            }
        }
        let mut x = vec![0.0; right.len()];
        for step in self.steps.iter().rev() {
            let known: f64 = step.rest.iter().map(|(column, place)| values[*place] * x[*column]).sum();
            x[step.column] = (right[step.row] - known) / values[step.pivot];
        }
        Some(x)
    }
}

#[cfg(test)]
mod tests {
    use super::Places;

    fn solved(rows: &[&[f64]], right: &[f64]) -> Option<Vec<f64>> {
        let (mut entries, mut values) = (Vec::new(), Vec::new());
        for (r, row) in rows.iter().enumerate() {
            for (c, value) in row.iter().enumerate() {
                entries.push((r, c));
                values.push(*value);
            }
        }
        let places = Places::new(rows.len(), &entries);
        let values = places.gather(&values);
        places.plan(&values)?.solve(&values, right)
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

    #[test]
    fn a_pivot_that_has_become_zero_is_told() {
        let places = Places::new(2, &[(0, 0), (0, 1), (1, 0), (1, 1)]);
        let plan = places.plan(&[4.0, 1.0, 1.0, 3.0]).unwrap();
        // By hand: 4x + y = 6, x + 3y = 7 has x = 1, y = 2; with 2 instead of 4, x = 2.2, y = 1.6.
        assert_eq!(plan.solve(&[4.0, 1.0, 1.0, 3.0], &[6.0, 7.0]), Some(vec![1.0, 2.0]));
        let x = plan.solve(&[2.0, 1.0, 1.0, 3.0], &[6.0, 7.0]).unwrap();
        assert!((x[0] - 2.2).abs() < 1e-14 && (x[1] - 1.6).abs() < 1e-14, "{x:?}");
        assert!(plan.solve(&[0.0, 1.0, 1.0, 3.0], &[6.0, 7.0]).is_none());
    }

    // Multiplying back: `A x` is the right side again, for the values of the plan and for others at the same places.
    #[test]
    fn what_is_solved_multiplies_back() {
        let mut rng = fastrand::Rng::with_seed(5);
        for size in 1..40 {
            let mut entries = Vec::new();
            for r in 0..size {
                entries.extend((0..4).map(|_| (r, rng.usize(0..size))));
                entries.push((r, (r + 1) % size));
            }
            let places = Places::new(size, &entries);
            let mut plan = None;
            for _ in 0..3 {
                let drawn: Vec<f64> =
                    (0..entries.len()).map(|k| if k % 5 == 4 { 1.0 + rng.f64() } else { rng.f64() - 0.5 }).collect();
                let values = places.gather(&drawn);
                let right: Vec<f64> = (0..size).map(|_| rng.f64()).collect();
                if plan.is_none() {
                    plan = places.plan(&values);
                }
                let Some(x) = plan.as_ref().and_then(|plan| plan.solve(&values, &right)) else { continue };
                let largest = x.iter().fold(1.0_f64, |l, v| l.max(v.abs()));
                let mut back = vec![0.0; size];
                for ((r, c), value) in entries.iter().zip(&drawn) {
                    back[*r] += value * x[*c];
                }
                for (back, right) in back.iter().zip(&right) {
                    assert!((back - right).abs() < 1e-9 * largest, "{size}: {back} for {right}");
                }
            }
        }
    }
}
