//! Small dense matrices on the stack: all that the circuit's equations need, and nothing else.

/// R rows of C numbers.
pub(crate) type Matrix<const R: usize, const C: usize> = [[f64; C]; R];

/// All zeros.
pub(super) const fn zero<const R: usize, const C: usize>() -> Matrix<R, C> {
    [[0.0; C]; R]
}

/// The identity.
pub(super) fn identity<const N: usize>() -> Matrix<N, N> {
    let mut one = zero();
    for (n, row) in one.iter_mut().enumerate() {
        row[n] = 1.0;
    }
    one
}

/// a b.
pub(super) fn product<const R: usize, const M: usize, const C: usize>(
    a: &Matrix<R, M>,
    b: &Matrix<M, C>,
) -> Matrix<R, C> {
    let mut out = zero();
    for (out, a) in out.iter_mut().zip(a) {
        for (a, b) in a.iter().zip(b) {
            for (out, b) in out.iter_mut().zip(b) {
                *out += a * b;
            }
        }
    }
    out
}

/// Rows for columns.
pub(super) fn transposed<const R: usize, const C: usize>(a: &Matrix<R, C>) -> Matrix<C, R> {
    let mut out = zero();
    for (r, row) in a.iter().enumerate() {
        for (c, value) in row.iter().enumerate() {
            out[c][r] = *value;
        }
    }
    out
}

/// a + share b, in place.
pub(super) fn add<const R: usize, const C: usize>(
    a: &mut Matrix<R, C>,
    share: f64,
    b: &Matrix<R, C>,
) {
    for (a, b) in a.iter_mut().zip(b) {
        for (a, b) in a.iter_mut().zip(b) {
            *a += share * b;
        }
    }
}

/// Solves a x = b; b becomes x. Rows are scaled by their largest number first, so that amperes and
/// volts compare. A singular matrix gives numbers that are not finite.
pub(crate) fn solve<const N: usize, const C: usize>(a: &mut Matrix<N, N>, b: &mut Matrix<N, C>) {
    for (a, b) in a.iter_mut().zip(b.iter_mut()) {
        let most = a.iter().fold(0.0, |most: f64, a| most.max(a.abs()));
        if most > 0.0 {
            a.iter_mut().for_each(|a| *a /= most);
            b.iter_mut().for_each(|b| *b /= most);
        }
    }
    eliminate(a, b);
}

/// Solves a x = b whose rows are of like size, by elimination with row exchange.
pub(super) fn eliminate<const N: usize, const C: usize>(
    a: &mut Matrix<N, N>,
    b: &mut Matrix<N, C>,
) {
    for k in 0..N {
        let pivot = (k..N).fold(k, |best, row| {
            if a[row][k].abs() > a[best][k].abs() {
                row
            } else {
                best
            }
        });
        a.swap(k, pivot);
        b.swap(k, pivot);
        let (row_a, row_b) = (a[k], b[k]);
        for row in k + 1..N {
            let share = a[row][k] / row_a[k];
            if share != 0.0 {
                for column in k..N {
                    a[row][column] -= share * row_a[column];
                }
                for (b, row_b) in b[row].iter_mut().zip(&row_b) {
                    *b -= share * row_b;
                }
            }
        }
    }
    for k in (0..N).rev() {
        let (row, own) = (a[k], a[k][k]);
        let (above, below) = b.split_at_mut(k + 1);
        let to = &mut above[k];
        for (share, from) in row[k + 1..].iter().zip(below.iter()) {
            for (to, from) in to.iter_mut().zip(from) {
                *to -= share * from;
            }
        }
        to.iter_mut().for_each(|to| *to /= own);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solution_solves() {
        let a = [[0.0, 2e-6, 1e-6], [1e3, -1e3, 0.0], [1.0, 1.0, 3.0]];
        let x = [[1.0, -2.0], [3.0, 0.5], [-1.0, 4.0]];
        let mut b = product(&a, &x);
        solve(&mut a.clone(), &mut b);
        for (got, want) in b.iter().flatten().zip(x.iter().flatten()) {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
    }
}
