//! Noise at every analog point, not at the output alone.
//!
//! At and behind T1's primary each source of the circuit has its own way to the point. Before it, pad
//! and attenuator are resistors at one temperature: by Nyquist's theorem (1928) a point there has
//! 4kT Re Z, and what the tubes send back through T1 comes on top.

use super::elements::Node;
use super::equations::{Equations, UNKNOWNS, row};
use super::matrix::{solve, transposed, zero};
use super::noise::{BOLTZMANN, ROOM_KELVIN, sources};
use super::preamp::{Settings, attenuator, setup};
use super::small::{Small, doubled};
use crate::pad::TwoPort;
use crate::units::Ohms;
use realfft::num_complex::Complex64;

/// Where noise is asked for behind T1's primary.
const BEHIND: [Node; 4] = [Node::Primary1, Node::Grid1, Node::Grid2, Node::Out];

/// Spectral density of the noise, one-sided, in volts squared a hertz, at a frequency in hertz: at
/// `line_out`, `mic_in`, `transformer_in`, `grid_1`, `grid_2` and `preamp_out`. `pad` stands between
/// the send, of `source`, and the terminals; the settings' own source must be what it shows.
#[must_use]
pub fn noise_at_points(settings: &Settings, pad: &TwoPort, source: Ohms, hz: f64) -> [f64; 6] {
    let (setup, _) = setup(settings);
    let equations = Equations::build(&setup);
    let mut whole = transposed(&doubled(&equations, hz));
    // Each column gives the ways from every node to one of the points.
    let mut right = zero::<{ 2 * UNKNOWNS }, 4>();
    for (column, node) in BEHIND.into_iter().enumerate() {
        if let Some(row) = row(node) {
            right[row][column] = 1.0;
        }
    }
    solve(&mut whole, &mut right);
    let mut behind = [0.0; 4];
    sources(&equations, &setup, |a, b, density| {
        for (column, sum) in behind.iter_mut().enumerate() {
            let way = |node: Node| {
                row(node).map_or(Complex64::default(), |row| {
                    Complex64::new(right[row][column], right[row + UNKNOWNS][column])
                })
            };
            *sum += density * (way(a) - way(b)).norm_sqr();
        }
    });
    let four_kt = 4.0 * BOLTZMANN * ROOM_KELVIN;
    let primary = Small::at(&setup, hz).in_ohms();
    let seen = setup.source_ohms;
    // What T1's side has beyond a resistor's noise, as an EMF behind its impedance.
    let share = (seen / (seen + primary)).norm_sqr();
    let thermal = four_kt * (seen * primary / (seen + primary)).re;
    let beyond = (behind[0] - thermal) / share;
    let before = |port: &TwoPort, from: Ohms| {
        let looking_in = (port.a * primary + port.b) / (port.c * primary + port.d);
        let back = (port.a * seen - port.b) / (seen + primary);
        four_kt * (from.0 * looking_in / (from.0 + looking_in)).re + beyond * back.norm_sqr()
    };
    let attenuator = attenuator(settings.attenuator);
    [
        before(&chained(pad, &attenuator), source),
        before(&attenuator, settings.source),
        behind[0],
        behind[1],
        behind[2],
        behind[3],
    ]
}

/// Power gain from the send's unloaded volts to the same points, for small signals at a frequency in
/// hertz; `pad`, `source` and settings as for [`noise_at_points`].
#[must_use]
pub fn gains_at_points(settings: &Settings, pad: &TwoPort, source: Ohms, hz: f64) -> [f64; 6] {
    let (setup, ratio) = setup(settings);
    let small = Small::at(&setup, hz);
    let primary = small.in_ohms();
    let looking_in = |port: &TwoPort| (port.a * primary + port.b) / (port.c * primary + port.d);
    let attenuator = attenuator(settings.attenuator);
    let line = looking_in(&chained(pad, &attenuator));
    let terminals = looking_in(&attenuator);
    let seen = pad.thevenin(source);
    let way = |node: Node| seen.ratio * ratio * small.volts(node);
    let [primary, grid_1, grid_2, out] = BEHIND.map(way);
    [
        line / (line + source.0),
        seen.ratio * terminals / (terminals + seen.ohms.0),
        primary,
        grid_1,
        grid_2,
        out,
    ]
    .map(|way| way.norm_sqr())
}

/// One two-port after another.
fn chained(one: &TwoPort, two: &TwoPort) -> TwoPort {
    TwoPort {
        a: one.a * two.a + one.b * two.c,
        b: one.a * two.b + one.b * two.d,
        c: one.c * two.a + one.d * two.c,
        d: one.c * two.b + one.d * two.d,
    }
}
