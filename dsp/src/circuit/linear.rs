//! Small linear networks in state-space form, stepped by the trapezoidal rule.

/// `x' = A x + B u` with `N` states and `U` inputs.
#[derive(Clone, Copy, Debug)]
pub(super) struct StateSpace<const N: usize, const U: usize> {
    pub(super) a: [[f64; N]; N],
    pub(super) b: [[f64; U]; N],
}

/// One step of a [`StateSpace`]: `x <- M x + P (u_before + u_now)`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step<const N: usize, const U: usize> {
    m: [[f64; N]; N],
    p: [[f64; U]; N],
}

impl<const N: usize, const U: usize> StateSpace<N, U> {
    /// The trapezoidal step of `1 / rate_hz` seconds.
    pub(super) fn trapezoidal(&self, rate_hz: f64) -> Step<N, U> {
        let half = 0.5 / rate_hz;
        let mut implicit = [[0.0; N]; N];
        let mut m = [[0.0; N]; N];
        let mut p = [[0.0; U]; N];
        for row in 0..N {
            for column in 0..N {
                let one = f64::from(u8::from(row == column));
                implicit[row][column] = one - half * self.a[row][column];
                m[row][column] = one + half * self.a[row][column];
            }
            p[row] = self.b[row].map(|value| half * value);
        }
        solve(implicit, &mut m, &mut p);
        Step { m, p }
    }

    /// The state that stands still under constant inputs.
    pub(super) fn at_rest(&self, u: [f64; U]) -> [f64; N] {
        let mut right = [[0.0; 1]; N];
        for (row, out) in right.iter_mut().enumerate() {
            out[0] = -(0..U)
                .map(|column| self.b[row][column] * u[column])
                .sum::<f64>();
        }
        solve(self.a, &mut right, &mut [[0.0; 0]; N]);
        right.map(|row| row[0])
    }
}

impl<const N: usize, const U: usize> Step<N, U> {
    /// The next state, from the present one and the inputs before and now.
    #[inline]
    pub(super) fn next(&self, x: &[f64; N], before: &[f64; U], now: &[f64; U]) -> [f64; N] {
        let mut next = [0.0; N];
        for (row, out) in next.iter_mut().enumerate() {
            let free: f64 = (0..N).map(|column| self.m[row][column] * x[column]).sum();
            let forced: f64 = (0..U)
                .map(|column| self.p[row][column] * (before[column] + now[column]))
                .sum();
            *out = free + forced;
        }
        next
    }

    /// How far the present input `u` moves state `n` within its own step.
    pub(super) fn immediate(&self, n: usize, u: usize) -> f64 {
        self.p[n][u]
    }
}

/// Gauss-Jordan with pivoting: replaces two right sides by the solutions of `A X = right`.
fn solve<const N: usize, const P: usize, const Q: usize>(
    mut a: [[f64; N]; N],
    first: &mut [[f64; P]; N],
    second: &mut [[f64; Q]; N],
) {
    for column in 0..N {
        let pivot = (column..N)
            .max_by(|i, j| a[*i][column].abs().total_cmp(&a[*j][column].abs()))
            .unwrap_or(column);
        a.swap(column, pivot);
        first.swap(column, pivot);
        second.swap(column, pivot);
        let scale = 1.0 / a[column][column];
        a[column].iter_mut().for_each(|v| *v *= scale);
        first[column].iter_mut().for_each(|v| *v *= scale);
        second[column].iter_mut().for_each(|v| *v *= scale);
        for row in (0..N).filter(|row| *row != column) {
            let factor = a[row][column];
            let subtract = |from: f64, v: &mut f64| *v -= factor * from;
            let (pivot_a, pivot_1, pivot_2) = (a[column], first[column], second[column]);
            a[row]
                .iter_mut()
                .zip(pivot_a)
                .for_each(|(v, from)| subtract(from, v));
            first[row]
                .iter_mut()
                .zip(pivot_1)
                .for_each(|(v, from)| subtract(from, v));
            second[row]
                .iter_mut()
                .zip(pivot_2)
                .for_each(|(v, from)| subtract(from, v));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_rc_charges_along_its_exponential() {
        // 1 second time constant, 1000 steps a second: the trapezoidal error is 1/12 (h/tau)^2.
        let rc = StateSpace {
            a: [[-1.0]],
            b: [[1.0]],
        };
        let step = rc.trapezoidal(1000.0);
        let mut x = [0.0];
        for _ in 0..1000 {
            x = step.next(&x, &[1.0], &[1.0]);
        }
        assert!((x[0] - (1.0 - (-1.0_f64).exp())).abs() < 1e-7);
        assert_eq!(rc.at_rest([3.0]), [3.0]);
    }
}
