//! Small signals: the preamplifier at one frequency around its operating point.

use super::elements::Node;
use super::equations::{Equations, Setup, UNKNOWNS, row};
use super::matrix::{Matrix, solve, zero};
use realfft::num_complex::Complex64;

/// Every unknown by an EMF of 1 V at a frequency, and what the input takes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Small {
    x: [Complex64; UNKNOWNS],
    source_ohms: f64,
}

impl Small {
    /// Of a setup at a frequency in hertz.
    pub(super) fn at(setup: &Setup, hz: f64) -> Self {
        let equations = Equations::build(setup);
        let mut whole = doubled(&equations, hz);
        let mut right = zero::<{ 2 * UNKNOWNS }, 1>();
        for (right, source) in right.iter_mut().zip(&equations.source) {
            right[0] = *source;
        }
        solve(&mut whole, &mut right);
        let mut x = [Complex64::default(); UNKNOWNS];
        for (n, x) in x.iter_mut().enumerate() {
            *x = Complex64::new(right[n][0], right[n + UNKNOWNS][0]);
        }
        Self {
            x,
            source_ohms: setup.source_ohms,
        }
    }

    /// The voltage of a node against ground; 0 for ground itself.
    pub(super) fn volts(&self, node: Node) -> Complex64 {
        row(node).map_or(Complex64::default(), |row| self.x[row])
    }

    /// The impedance that T1's primary shows.
    pub(super) fn in_ohms(&self) -> Complex64 {
        let volts = self.volts(Node::Primary1);
        volts * self.source_ohms / (1.0 - volts)
    }
}

/// `M + jw E` around the operating point at a frequency in hertz; real and imaginary part side by side
/// make a real system of twice the size.
pub(super) fn doubled(
    equations: &Equations,
    hz: f64,
) -> Matrix<{ 2 * UNKNOWNS }, { 2 * UNKNOWNS }> {
    let ports = equations.ports_at(&equations.rest());
    let matrix = equations.linearised(&ports.slopes());
    let w = std::f64::consts::TAU * hz;
    let mut whole = zero();
    for n in 0..UNKNOWNS {
        for k in 0..UNKNOWNS {
            let storage = w * equations.storage[n][k];
            whole[n][k] = matrix[n][k];
            whole[n + UNKNOWNS][k + UNKNOWNS] = matrix[n][k];
            whole[n][k + UNKNOWNS] = -storage;
            whole[n + UNKNOWNS][k] = storage;
        }
    }
    whole
}
