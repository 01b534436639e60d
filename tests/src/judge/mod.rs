//! A second, plain solver of the preamplifier, to judge the one that sounds.
//!
//! It reads the same public table of elements and the same public laws of tubes and irons, and shares
//! nothing else: its own numbering of nodes, its own equations (modified nodal analysis; Ho, Ruehli
//! and Brennan, IEEE Trans. CAS 22(6), 1975), its own operating point, the trapezoidal rule with every
//! step converged to rounding. Slow and simple on purpose.
//!
//! The rule's error is of second order in the step and free of odd orders, so that two runs, one with
//! half the step, give one of fourth order ([`richardson`]; Richardson 1911, any textbook of numerical
//! analysis).

mod dense;
mod equations;
pub mod signals;
mod trapezoid;

pub use trapezoid::Judge;

use penstock_dsp::circuit::{Preamp, Settings, Taps};

/// How a point is read from the taps.
pub type Read = fn(&Taps) -> f64;

/// The voltages of a [`Taps`] that are compared, by name.
pub const POINTS: [(&str, Read); 6] = [
    ("mic_in", |taps| taps.mic_in),
    ("transformer_in", |taps| taps.transformer_in),
    ("grid_1", |taps| taps.grid_1),
    ("grid_2", |taps| taps.grid_2),
    ("preamp_out", |taps| taps.preamp_out),
    ("in_amps", |taps| taps.in_amps),
];

/// The judge's taps for an EMF in volts by seconds: sample `n` stands at `n / rate_hz`.
#[must_use]
pub fn judged(
    settings: &Settings,
    rate_hz: f64,
    frames: usize,
    emf: &impl Fn(f64) -> f64,
) -> Vec<Taps> {
    let mut judge = Judge::at_rest(settings, 1.0 / rate_hz);
    (0..frames)
        .map(|n| judge.process(emf(n as f64 / rate_hz)))
        .collect()
}

/// The product's taps for the same EMF, moved back by what it looks ahead.
#[must_use]
pub fn sounding(
    settings: &Settings,
    rate_hz: f64,
    frames: usize,
    emf: &impl Fn(f64) -> f64,
) -> Vec<Taps> {
    let mut preamp = Preamp::prepare(settings, rate_hz);
    let late = penstock_dsp::circuit::DELAY_SAMPLES;
    let all = (0..frames + late).map(|n| preamp.process(emf(n as f64 / rate_hz)));
    all.skip(late).collect()
}

/// The limit of two runs, `fine` with half the step of `coarse`, at the times of `coarse`.
#[must_use]
pub fn richardson(coarse: &[Taps], fine: &[Taps], point: fn(&Taps) -> f64) -> Vec<f64> {
    let both = coarse.iter().zip(fine.iter().step_by(2));
    both.map(|(coarse, fine)| (4.0 * point(fine) - point(coarse)) / 3.0)
        .collect()
}

/// RMS of what two runs differ by, in dB over the RMS of the second.
#[must_use]
pub fn off_db(got: &[f64], want: &[f64]) -> f64 {
    assert_eq!(got.len(), want.len());
    let power = |values: &mut dyn Iterator<Item = f64>| values.map(|v| v * v).sum::<f64>();
    let off = power(&mut got.iter().zip(want).map(|(got, want)| got - want));
    10.0 * (off / power(&mut want.iter().copied())).log10()
}
