//! Dense square matrices, factored once and solved often.

/// A square matrix, row by row.
#[derive(Clone, Debug)]
pub(super) struct Square {
    size: usize,
    values: Vec<f64>,
}

/// A matrix as the product of two triangles, its rows exchanged and scaled (Golub and Van Loan,
/// Matrix Computations, ch. 3).
#[derive(Clone, Debug)]
pub(super) struct Factored {
    both: Square,
    order: Vec<usize>,
    scale: Vec<f64>,
}

impl Square {
    pub(super) fn zero(size: usize) -> Self {
        Self {
            size,
            values: vec![0.0; size * size],
        }
    }

    pub(super) fn row(&self, row: usize) -> &[f64] {
        &self.values[row * self.size..(row + 1) * self.size]
    }

    pub(super) fn row_mut(&mut self, row: usize) -> &mut [f64] {
        &mut self.values[row * self.size..(row + 1) * self.size]
    }

    /// A row times a column.
    pub(super) fn times(&self, row: usize, x: &[f64]) -> f64 {
        self.row(row).iter().zip(x).map(|(a, x)| a * x).sum()
    }

    /// Splits it into triangles.
    ///
    /// # Panics
    /// When it is singular: the circuit is not one.
    pub(super) fn factored(mut self) -> Factored {
        let size = self.size;
        let largest = |row: &[f64]| row.iter().fold(0.0_f64, |most, a| most.max(a.abs()));
        let scale: Vec<f64> = (0..size).map(|row| 1.0 / largest(self.row(row))).collect();
        for (row, scale) in scale.iter().enumerate() {
            self.row_mut(row).iter_mut().for_each(|a| *a *= scale);
        }
        let mut order: Vec<usize> = (0..size).collect();
        for k in 0..size {
            let at = |row: usize| self.values[order[row] * size + k].abs();
            let pivot = (k..size)
                .max_by(|a, b| at(*a).total_cmp(&at(*b)))
                .unwrap_or(k);
            assert!(at(pivot) > 1e-30, "a singular matrix at column {k}");
            order.swap(k, pivot);
            let pivot = self.row(order[k]).to_vec();
            for row in &order[k + 1..] {
                let row = self.row_mut(*row);
                let share = row[k] / pivot[k];
                row[k] = share;
                for (a, pivot) in row[k + 1..].iter_mut().zip(&pivot[k + 1..]) {
                    *a -= share * pivot;
                }
            }
        }
        Factored {
            both: self,
            order,
            scale,
        }
    }
}

impl Factored {
    /// Solves for one right side.
    pub(super) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let size = right.len();
        let mut x = vec![0.0; size];
        for k in 0..size {
            let row = self.order[k];
            let known: f64 = self.both.row(row)[..k]
                .iter()
                .zip(&x)
                .map(|(a, x)| a * x)
                .sum();
            x[k] = right[row] * self.scale[row] - known;
        }
        for k in (0..size).rev() {
            let row = self.both.row(self.order[k]);
            let known: f64 = row[k + 1..]
                .iter()
                .zip(&x[k + 1..])
                .map(|(a, x)| a * x)
                .sum();
            x[k] = (x[k] - known) / row[k];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solution_solves() {
        let rows = [[0.0, 2e-6, 1e-6], [1e3, -1e3, 0.0], [1.0, 1.0, 3.0]];
        let mut square = Square::zero(3);
        for (n, row) in rows.iter().enumerate() {
            square.row_mut(n).copy_from_slice(row);
        }
        let want = [1.0, 3.0, -1.0];
        let right: Vec<f64> = (0..3).map(|n| square.times(n, &want)).collect();
        let got = square.factored().solve(&right);
        for (got, want) in got.iter().zip(want) {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
    }
}
