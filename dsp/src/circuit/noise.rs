//! Thermal and tube noise, each at its place.
//!
//! A resistor's noise is that of Johnson and Nyquist at 20 degC. A tube's shot noise is that of a
//! resistor of 2.5/gm in series with its grid (the usual textbook figure for triodes, from memory:
//! Valley and Wallman, Vacuum Tube Amplifiers, 1948). Flicker noise is left out.

use super::elements::{ELEMENTS, Kind, Node};
use super::equations::{Equations, STATES, Setup, UNKNOWNS, row};
use super::matrix::{Matrix, add, product, solve, transposed, zero};
use super::model::{Injection, StateSpace, injection, phis};
use super::network::{Column, PRIMARY, ROWS, turned};
use super::preamp::{Settings, SmallSignal, setup};
use super::random::Random;
use super::rows::take;
use super::small::doubled;
use crate::units::{Db, Dbu, Volts};
use std::sync::OnceLock;

/// Temperature of every resistor, in kelvin.
pub const ROOM_KELVIN: f64 = 293.15;
/// Boltzmann's constant (exact, SI 2019), in joules a kelvin.
pub const BOLTZMANN: f64 = 1.380_649e-23;

/// The resistor in series with a tube's grid that makes its noise, in ohms.
#[must_use]
pub fn tube_noise_ohms(name: &str) -> f64 {
    static OHMS: OnceLock<[f64; 2]> = OnceLock::new();
    let both = OHMS.get_or_init(|| {
        let equations = Equations::build(&Setup {
            source_ohms: 150.0,
            load_ohms: 10_000.0,
            step: 0,
        });
        rest_siemens(&equations).map(|siemens| 2.5 / siemens)
    });
    both[usize::from(name == "V2")]
}

/// Transconductances of the tubes at rest.
fn rest_siemens(equations: &Equations) -> [f64; 2] {
    let ports = equations.ports_at(&equations.rest());
    ports.tubes.map(|tube| tube.plate_by_grid)
}

/// Calls `each` with every source of noise: where its current enters and leaves, and its spectral
/// density, one-sided, in amperes squared a hertz.
pub(super) fn sources(equations: &Equations, setup: &Setup, mut each: impl FnMut(Node, Node, f64)) {
    let four_kt = 4.0 * BOLTZMANN * ROOM_KELVIN;
    each(Node::Primary1, Node::Ground, four_kt / setup.source_ohms);
    sources_behind(equations, setup, each);
}

/// The same without what stands before T1's primary.
fn sources_behind(equations: &Equations, setup: &Setup, mut each: impl FnMut(Node, Node, f64)) {
    let four_kt = 4.0 * BOLTZMANN * ROOM_KELVIN;
    let siemens = rest_siemens(equations);
    for element in &ELEMENTS {
        match element.kind {
            Kind::Resistor(value) => {
                if let Some(ohms) = value.at(setup.step, false) {
                    each(element.a, element.b, four_kt / ohms);
                }
            }
            Kind::Tube { .. } => {
                let siemens = siemens[usize::from(element.name == "V2")];
                let ohms = tube_noise_ohms(element.name);
                each(element.a, element.b, four_kt * ohms * siemens * siemens);
            }
            _ => {}
        }
    }
    each(Node::Out, Node::Ground, four_kt / setup.load_ohms);
}

/// Spectral density of the noise at the output at a frequency in hertz, in volts squared a hertz
/// (one-sided).
#[must_use]
pub fn output_noise(settings: &Settings, hz: f64) -> f64 {
    let (setup, _) = setup(settings);
    let equations = Equations::build(&setup);
    // The transposed system gives the way from every node to the output at once.
    let mut whole = transposed(&doubled(&equations, hz));
    let mut right = zero::<{ 2 * UNKNOWNS }, 1>();
    if let Some(out) = row(Node::Out) {
        right[out][0] = 1.0;
    }
    solve(&mut whole, &mut right);
    let way =
        |node: Node| row(node).map_or([0.0; 2], |row| [right[row][0], right[row + UNKNOWNS][0]]);
    let mut sum = 0.0;
    sources(&equations, &setup, |a, b, density| {
        let ([a_re, a_im], [b_re, b_im]) = (way(a), way(b));
        sum += density * ((a_re - b_re).powi(2) + (a_im - b_im).powi(2));
    });
    sum
}

/// Noise at the output from 20 Hz to 20 kHz.
#[must_use]
pub fn output_noise_volts(settings: &Settings) -> Volts {
    // Twelve points an octave: nothing in the band is narrower.
    const POINTS: i32 = 120;
    let at = |n: i32| 20.0 * 1000f64.powf(f64::from(n) / f64::from(POINTS));
    let mut sum = 0.0;
    let (mut hz, mut density) = (at(0), output_noise(settings, at(0)));
    for n in 1..=POINTS {
        let (next_hz, next) = (at(n), output_noise(settings, at(n)));
        sum += 0.5 * (density + next) * (next_hz - hz);
        (hz, density) = (next_hz, next);
    }
    Volts(sum.sqrt())
}

/// Equivalent input noise, 20 Hz to 20 kHz: the noise at the output less the gain from the terminals
/// at 1 kHz.
#[must_use]
pub fn equivalent_input_noise(settings: &Settings) -> Dbu {
    let gain = SmallSignal::at(settings, super::STATED_HZ).gain.norm();
    let out = Dbu::from_volts(output_noise_volts(settings));
    out - Db::from_ratio(gain)
}

/// States, and T1's primary, which has no capacitor: a current shows there at once.
const SHOWN: usize = STATES + 1;

/// Noise in time, of everything from T1's primary on: what one step adds to every state, and shows at
/// the primary itself. What stands before it comes with the EMF (`before`).
#[derive(Clone, Debug)]
pub(super) struct Hiss {
    /// Lower triangle of the root of the covariance, by columns, its rows turned.
    root: [Column; SHOWN],
    random: Random,
}

impl Hiss {
    /// For steps of `seconds`, around rest.
    pub(super) fn prepare(equations: &Equations, setup: &Setup, seconds: f64, seed: u64) -> Self {
        let slopes = equations.ports_at(&equations.rest()).slopes();
        let Injection { a, states, primary } = injection(equations, &slopes);
        let space = StateSpace::of(equations, &slopes);
        let mut intensity = zero::<SHOWN, SHOWN>();
        sources_behind(equations, setup, |from, to, density| {
            let mut way = zero::<SHOWN, 1>();
            for (node, sign) in [(from, 1.0), (to, -1.0)] {
                if let Some(row) = row(node) {
                    for (way, enters) in way.iter_mut().zip(&states) {
                        way[0] += sign * enters[row];
                    }
                    way[STATES][0] += sign * primary[row];
                }
            }
            // Two-sided, as numbers in time have it.
            add(
                &mut intensity,
                density / 2.0,
                &product(&way, &transposed(&way)),
            );
        });
        let root = transposed(&root(&covariance(&a, &intensity, seconds)));
        Self {
            root: root.map(|shown| {
                let mut states = [0.0; STATES];
                states.copy_from_slice(&shown[..STATES]);
                let mut column = turned(equations, &space, &states);
                column[PRIMARY] += shown[STATES];
                column
            }),
            random: Random::of(seed),
        }
    }

    /// Begins the sequence of a seed.
    pub(super) fn seed(&mut self, seed: u64) {
        self.random = Random::of(seed);
    }

    /// Goes on with the sequence of another.
    pub(super) fn adopt(&mut self, other: &Self) {
        self.random = other.random;
    }

    /// What the next step adds.
    pub(super) fn next(&mut self) -> Column {
        let mut sum = [0.0; ROWS];
        let draws: [f64; SHOWN] = std::array::from_fn(|_| self.random.draw());
        for (draw, column) in draws.iter().zip(&self.root) {
            take(&mut sum, *draw, column);
        }
        sum
    }
}

/// Covariance of what one step adds and shows: each source's current is one number a step, of the
/// variance that gives its density. (Noise that is white to any frequency would, sampled, fold all that
/// lies above half the rate into the band, which converters keep out.)
fn covariance(
    a: &Matrix<STATES, STATES>,
    intensity: &Matrix<SHOWN, SHOWN>,
    seconds: f64,
) -> Matrix<SHOWN, SHOWN> {
    // A state takes the current over the step; the primary shows it as it is.
    let mut held = zero::<SHOWN, SHOWN>();
    for (to, from) in held.iter_mut().zip(&phis(a, seconds)[1]) {
        for (to, from) in to.iter_mut().zip(from) {
            *to = seconds * from;
        }
    }
    held[STATES][STATES] = 1.0;
    let mut sum = zero();
    add(
        &mut sum,
        1.0 / seconds,
        &product(&product(&held, intensity), &transposed(&held)),
    );
    sum
}

/// The lower triangle L of L L' = q (Cholesky); what has no variance gets none.
fn root(q: &Matrix<SHOWN, SHOWN>) -> Matrix<SHOWN, SHOWN> {
    let mut l = zero::<SHOWN, SHOWN>();
    for n in 0..SHOWN {
        for k in 0..=n {
            let known: f64 = (0..k).map(|j| l[n][j] * l[k][j]).sum();
            let left = q[n][k] - known;
            l[n][k] = if n == k {
                left.max(0.0).sqrt()
            } else if l[k][k] > 1e-9 * q[k][k].sqrt() {
                left / l[k][k]
            } else {
                0.0
            };
        }
    }
    l
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::Preamp;
    use crate::units::Ohms;
    use realfft::RealFftPlanner;

    fn settings(gain: f64) -> Settings {
        Settings {
            source: Ohms(150.0),
            attenuator: false,
            gain: Db(gain),
            load: Ohms(10_000.0),
            noise: true,
        }
    }

    #[test]
    fn the_input_noise_is_that_of_a_good_preamplifier() {
        for gain in super::super::GAIN_STEPS_DB {
            let ein = equivalent_input_noise(&settings(gain)).0;
            println!("{gain} dB: {ein:.1} dBu");
            // A 150 ohm resistor alone: -130.9 dBu.
            assert!((-130.9..-125.0).contains(&ein), "{gain} dB: {ein} dBu");
        }
    }

    /// What is heard against what small signals say: octave bands, averaged over twenty seconds.
    #[test]
    fn noise_in_time_has_the_spectrum_of_its_places() {
        const LENGTH: usize = 1 << 16;
        let rate_hz = 384_000.0;
        for gain in [28.0, 64.0] {
            let settings = settings(gain);
            let mut preamp = Preamp::prepare(&settings, rate_hz);
            preamp.seed_noise(7);
            let fft = RealFftPlanner::<f64>::new().plan_fft_forward(LENGTH);
            let mut power = vec![0.0; LENGTH / 2 + 1];
            let mut spectrum = fft.make_output_vec();
            let pieces = 120;
            for piece in 0..=pieces {
                let mut block: Vec<f64> = (0..LENGTH)
                    .map(|n| {
                        let turn = std::f64::consts::TAU * n as f64 / LENGTH as f64;
                        preamp.process(0.0).preamp_out * (0.5 - 0.5 * turn.cos())
                    })
                    .collect();
                fft.process(&mut block, &mut spectrum).expect("lengths fit");
                if piece > 0 {
                    for (power, bin) in power.iter_mut().zip(&spectrum) {
                        *power += bin.norm_sqr();
                    }
                }
            }
            // One-sided density: Hann's noise power is 3/8.
            let scale = 2.0 / (f64::from(pieces) * 0.375 * LENGTH as f64 * rate_hz);
            for octave in 0..7 {
                let low = 160.0 * 2f64.powi(octave);
                let bin = |hz: f64| (hz * LENGTH as f64 / rate_hz).round() as usize;
                let bins = bin(low)..bin(2.0 * low);
                let got = power[bins.clone()].iter().sum::<f64>() * scale;
                // The density is smooth: its middle stands for the octave.
                let middle = output_noise(&settings, low * std::f64::consts::SQRT_2);
                let want = middle * bins.len() as f64;
                let off = 10.0 * (got / want).log10();
                assert!(off.abs() < 0.3, "{gain} dB, {low} Hz: {off} dB");
            }
        }
    }
}
