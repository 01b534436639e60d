//! The equations around the operating point, and one step of them in time.
//!
//! In deviation from rest `x' = A x + b emf + N g(v)`, `v = C x + d emf + F g`: the slopes of the
//! laws at rest are part of A, g is what is left of the currents. Over one step the linear part is
//! exact (variation of constants); the EMF is a polynomial of fifth degree through six samples, two
//! of them in the future, and g one of second degree through its last two values and the new one,
//! which is solved for:
//!
//! `x1 = e^(Ah) x0 + sum of B_k emf_k + G_-1 g_-1 + G_0 g_0 + G_1 g_1`.
//!
//! Exponential integrators: Hochbruck and Ostermann, Acta Numerica 19 (2010). The functions phi_k
//! are found by scaling and squaring (Higham, Functions of Matrices, 2008, ch. 10).

use super::elements::Node;
use super::equations::{CONTROLS, Equations, PORTS, STATES, UNKNOWNS, row};
use super::matrix::{Matrix, add, identity, product, solve, transposed, zero};

/// Samples of the EMF in one step.
pub(super) const EMF_SAMPLES: usize = 6;
/// How many of them lie beyond the step's end.
pub(super) const LOOK_AHEAD: usize = 2;
/// Which of them is that of the step's end.
pub(super) const NOW: usize = EMF_SAMPLES - 1 - LOOK_AHEAD;
/// phi_0 to phi_6.
const PHIS: usize = 7;

/// `x' = A x + b emf + N g`, with what follows at once.
#[derive(Clone, Copy, Debug)]
pub(super) struct StateSpace {
    pub(super) a: Matrix<STATES, STATES>,
    pub(super) b: Matrix<STATES, 1>,
    pub(super) n: Matrix<STATES, PORTS>,
    pub(super) controls: Output<CONTROLS>,
    /// The unknowns without a derivative.
    pub(super) rest: Output<{ UNKNOWNS - STATES }>,
}

/// `y = C x + d emf + F g`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Output<const R: usize> {
    pub(super) by_state: Matrix<R, STATES>,
    pub(super) by_emf: Matrix<R, 1>,
    pub(super) by_ports: Matrix<R, PORTS>,
}

impl StateSpace {
    /// Eliminates what has no derivative. The slopes are those that become part of A.
    pub(super) fn of(equations: &Equations, slopes: &Matrix<PORTS, CONTROLS>) -> Self {
        const REST: usize = UNKNOWNS - STATES;
        let matrix = equations.linearised(slopes);
        // Columns: states, EMF, ports. First what follows at once: its own block solved.
        let mut own = zero::<REST, REST>();
        let mut rest = zero::<REST, { STATES + 1 + PORTS }>();
        for n in 0..REST {
            let row = STATES + n;
            own[n].copy_from_slice(&matrix[row][STATES..]);
            rest[n] = right_side(equations, &matrix, row);
        }
        solve(&mut own, &mut rest);
        let mut storage = zero::<STATES, STATES>();
        let mut states = zero::<STATES, { STATES + 1 + PORTS }>();
        for n in 0..STATES {
            storage[n].copy_from_slice(&equations.storage[n][..STATES]);
            states[n] = right_side(equations, &matrix, n);
            for (k, row) in rest.iter().enumerate() {
                let share = -matrix[n][STATES + k];
                for (to, from) in states[n].iter_mut().zip(row) {
                    *to += share * from;
                }
            }
        }
        solve(&mut storage, &mut states);
        let mut controls = zero::<CONTROLS, { STATES + 1 + PORTS }>();
        for (to, row) in controls.iter_mut().zip(&equations.controls) {
            to[..STATES].copy_from_slice(&row[..STATES]);
            for (share, from) in row[STATES..].iter().zip(&rest) {
                for (to, from) in to.iter_mut().zip(from) {
                    *to += share * from;
                }
            }
        }
        let states = split(&states);
        Self {
            a: states.by_state,
            b: states.by_emf,
            n: states.by_ports,
            controls: split(&controls),
            rest: split(&rest),
        }
    }
}

/// A row of `E x' = -M x + S emf + N g` without what the rest adds.
fn right_side(
    equations: &Equations,
    matrix: &Matrix<UNKNOWNS, UNKNOWNS>,
    row: usize,
) -> [f64; STATES + 1 + PORTS] {
    let mut side = [0.0; STATES + 1 + PORTS];
    for (to, from) in side.iter_mut().zip(&matrix[row][..STATES]) {
        *to = -from;
    }
    side[STATES] = equations.source[row];
    side[STATES + 1..].copy_from_slice(&equations.ports[row]);
    side
}

fn split<const R: usize>(whole: &Matrix<R, { STATES + 1 + PORTS }>) -> Output<R> {
    let mut output = Output {
        by_state: zero(),
        by_emf: zero(),
        by_ports: zero(),
    };
    for (n, row) in whole.iter().enumerate() {
        output.by_state[n].copy_from_slice(&row[..STATES]);
        output.by_emf[n][0] = row[STATES];
        output.by_ports[n].copy_from_slice(&row[STATES + 1..]);
    }
    output
}

/// One step: what the new state takes of everything before.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    /// e^(Ah), by columns.
    pub(super) by_state: Matrix<STATES, STATES>,
    /// By the EMF of samples -2 to 3, the step going from 0 to 1.
    pub(super) by_emf: Matrix<EMF_SAMPLES, STATES>,
    /// By g of the samples -1, 0 and 1.
    pub(super) by_ports: [Matrix<PORTS, STATES>; 3],
}

impl Step {
    /// Of `seconds`.
    pub(super) fn of(space: &StateSpace, seconds: f64) -> Self {
        let phi = phis(&space.a, seconds);
        let mut by_emf = zero::<EMF_SAMPLES, STATES>();
        let weights = interpolation();
        let mut factorial = 1.0;
        for k in 0..EMF_SAMPLES {
            factorial *= (k as f64).max(1.0);
            let moved = product(&phi[k + 1], &space.b);
            for (by_emf, weights) in by_emf.iter_mut().zip(&weights) {
                for (to, from) in by_emf.iter_mut().zip(&moved) {
                    *to += seconds * factorial * weights[k] * from[0];
                }
            }
        }
        let moved = [1, 2, 3].map(|k| product(&phi[k], &space.n));
        // The parabola through three values: its coefficients times k! by the values.
        const SHARES: [[f64; 3]; 3] = [[0.0, -0.5, 1.0], [1.0, 0.0, -2.0], [0.0, 0.5, 1.0]];
        let by_ports = SHARES.map(|shares| {
            let mut sum = zero::<STATES, PORTS>();
            for (share, moved) in shares.iter().zip(&moved) {
                add(&mut sum, seconds * share, moved);
            }
            sum
        });
        Self::from(&phi[0], by_emf, &by_ports)
    }

    /// Of `seconds`, implicit Euler: of first order only, but a passive circuit loses energy in every
    /// such step, however long and whatever its currents do, so that nothing swings up (Hairer and
    /// Wanner, Solving Ordinary Differential Equations II, 1996, IV.12: B-stability).
    pub(super) fn damped(space: &StateSpace, seconds: f64) -> Self {
        let mut matrix = identity::<STATES>();
        add(&mut matrix, -seconds, &space.a);
        let mut by_state = identity::<STATES>();
        solve(&mut matrix, &mut by_state);
        let mut by_emf = zero::<EMF_SAMPLES, STATES>();
        for (to, from) in by_emf[NOW].iter_mut().zip(product(&by_state, &space.b)) {
            *to = seconds * from[0];
        }
        let mut by_ports = [zero::<STATES, PORTS>(); 3];
        add(&mut by_ports[2], seconds, &product(&by_state, &space.n));
        Self::from(&by_state, by_emf, &by_ports)
    }

    fn from(
        by_state: &Matrix<STATES, STATES>,
        by_emf: Matrix<EMF_SAMPLES, STATES>,
        by_ports: &[Matrix<STATES, PORTS>; 3],
    ) -> Self {
        Self {
            by_state: transposed(by_state),
            by_emf,
            by_ports: by_ports.map(|by_ports| transposed(&by_ports)),
        }
    }
}

/// Coefficients, ascending, of the polynomials that are 1 at one of the samples -2 to 3 and 0 at the
/// others (Lagrange).
fn interpolation() -> Matrix<EMF_SAMPLES, EMF_SAMPLES> {
    let mut all = zero();
    for (n, row) in all.iter_mut().enumerate() {
        let own = n as f64 - 2.0;
        row[0] = 1.0;
        for other in (0..EMF_SAMPLES).filter(|other| *other != n) {
            let other = other as f64 - 2.0;
            // Times (t - other)/(own - other).
            for k in (0..EMF_SAMPLES).rev() {
                let lower = if k > 0 { row[k - 1] } else { 0.0 };
                row[k] = (lower - other * row[k]) / (own - other);
            }
        }
    }
    all
}

/// What a current into any node's row does.
#[derive(Clone, Copy, Debug)]
pub(super) struct Injection {
    /// The matrix A.
    pub(super) a: Matrix<STATES, STATES>,
    /// How it moves every state.
    pub(super) states: Matrix<STATES, UNKNOWNS>,
    /// The voltage it makes at T1's primary at once.
    pub(super) primary: [f64; UNKNOWNS],
}

/// With these slopes.
pub(super) fn injection(equations: &Equations, slopes: &Matrix<PORTS, CONTROLS>) -> Injection {
    const REST: usize = UNKNOWNS - STATES;
    let matrix = equations.linearised(slopes);
    let mut own = zero::<REST, REST>();
    let mut rest = zero::<REST, { UNKNOWNS - STATES }>();
    for n in 0..REST {
        own[n].copy_from_slice(&matrix[STATES + n][STATES..]);
        rest[n][n] = 1.0;
    }
    solve(&mut own, &mut rest);
    let mut storage = zero::<STATES, STATES>();
    let mut enters = zero::<STATES, UNKNOWNS>();
    for n in 0..STATES {
        storage[n].copy_from_slice(&equations.storage[n][..STATES]);
        enters[n][n] = 1.0;
        for (k, row) in rest.iter().enumerate() {
            for (to, from) in enters[n][STATES..].iter_mut().zip(row) {
                *to -= matrix[n][STATES + k] * from;
            }
        }
    }
    solve(&mut storage, &mut enters);
    let mut primary = [0.0; UNKNOWNS];
    if let Some(row) = row(Node::Primary1) {
        primary[STATES..].copy_from_slice(&rest[row - STATES]);
    }
    Injection {
        a: StateSpace::of(equations, slopes).a,
        states: enters,
        primary,
    }
}

/// phi_0 (the exponential) to phi_6 of `a` times `seconds`.
pub(super) fn phis(a: &Matrix<STATES, STATES>, seconds: f64) -> [Matrix<STATES, STATES>; PHIS] {
    let norm = a
        .iter()
        .map(|row| row.iter().map(|a| a.abs()).sum::<f64>())
        .fold(0.0, f64::max);
    let doublings = ((norm * seconds).max(1e-9).log2().ceil() as i32 + 2).clamp(0, 60);
    let mut z = zero();
    add(&mut z, seconds * 0.5_f64.powi(doublings), a);
    let one = identity::<STATES>();
    let mut phi = [one; PHIS];
    // The series of the last, sum of z^j/(j + 6)!, then each from the one above it.
    let last = PHIS - 1;
    let inverse_factorial = |n: usize| 1.0 / (1..=n).map(|n| n as f64).product::<f64>();
    phi[last] = zero();
    for j in (0..=12).rev() {
        phi[last] = product(&z, &phi[last]);
        add(&mut phi[last], inverse_factorial(j + last), &one);
    }
    for k in (0..last).rev() {
        phi[k] = product(&z, &phi[k + 1]);
        add(&mut phi[k], inverse_factorial(k), &one);
    }
    for _ in 0..doublings {
        let before = phi;
        phi[0] = product(&before[0], &before[0]);
        for k in 1..PHIS {
            phi[k] = product(&before[0], &before[k]);
            for (j, before) in before.iter().enumerate().take(k + 1).skip(1) {
                add(&mut phi[k], inverse_factorial(k - j), before);
            }
            let scale = 0.5_f64.powi(k as i32);
            phi[k]
                .iter_mut()
                .flatten()
                .for_each(|value| *value *= scale);
        }
    }
    // The slow modes differ from 1 by little: through phi_1 that little is exact.
    let mut whole = zero();
    add(&mut whole, seconds, a);
    phi[0] = product(&whole, &phi[1]);
    add(&mut phi[0], 1.0, &one);
    phi
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_polynomials_reproduce_a_polynomial() {
        let weights = interpolation();
        for power in 0..EMF_SAMPLES as i32 {
            let mut coefficients = [0.0; EMF_SAMPLES];
            for (n, row) in weights.iter().enumerate() {
                for (to, from) in coefficients.iter_mut().zip(row) {
                    *to += from * (n as f64 - 2.0).powi(power);
                }
            }
            for (k, coefficient) in coefficients.iter().enumerate() {
                let want = f64::from(u8::from(k as i32 == power));
                assert!(
                    (coefficient - want).abs() < 1e-12,
                    "{power} {k} {coefficient}"
                );
            }
        }
    }

    /// On a diagonal matrix phi_k is known: phi_k(z) = (phi_(k-1)(z) - 1/(k-1)!)/z.
    #[test]
    fn phis_of_slow_and_fast_modes() {
        let mut a = zero::<STATES, STATES>();
        let rates = [-1.0, -300.0, -1e6, -1e9];
        for n in 0..STATES {
            a[n][n] = rates[n % rates.len()];
        }
        let h = 2.6e-6;
        let phi = phis(&a, h);
        for (n, rate) in rates.iter().enumerate() {
            let z: f64 = rate * h;
            let mut want = z.exp();
            // Fourteen doublings, each doubling the rounding before it: 2^14 * 2^-52.
            assert!((phi[0][n][n] - want).abs() <= 1e-11, "{rate}");
            for (k, phi) in phi.iter().enumerate().skip(1) {
                // The recurrence loses digits for small arguments: there the series counts.
                let factorial: f64 = (1..k).map(|n| n as f64).product();
                want = (want - 1.0 / factorial) / z;
                let exact = if z.abs() < 1.0 {
                    let mut term = 1.0 / (1..=k).map(|n| n as f64).product::<f64>();
                    let mut sum = 0.0;
                    for j in 1..40 {
                        sum += term;
                        term *= z / (k + j) as f64;
                    }
                    sum
                } else {
                    want
                };
                assert!((phi[n][n] / exact - 1.0).abs() <= 1e-9, "{rate} {k}");
            }
        }
    }
}
