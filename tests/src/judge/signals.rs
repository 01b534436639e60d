//! Signals known at every moment, not only at samples.

use crate::random::Random;
use std::f64::consts::{PI, SQRT_2, TAU};

/// Length of the start, a raised cosine, in seconds.
pub const START_SECONDS: f64 = 0.02;

/// A slow beginning: 0 before, 1 after [`START_SECONDS`].
#[must_use]
pub fn start(seconds: f64) -> f64 {
    let share = (seconds / START_SECONDS).clamp(0.0, 1.0);
    0.5 * (1.0 - (PI * share).cos())
}

/// A sine of 1 kHz with an RMS of 1, started slowly.
pub fn sine(seconds: f64) -> f64 {
    start(seconds) * SQRT_2 * (TAU * 1e3 * seconds).sin()
}

/// Twenty sines of equal size, evenly on a logarithmic axis from 41 Hz to 16 kHz, their phases
/// random; together an RMS of 1, started slowly. Harsh: half of it lies above 800 Hz.
pub fn twenty_tones() -> impl Fn(f64) -> f64 {
    const TONES: usize = 20;
    let mut random = Random::new(20);
    let tones: [(f64, f64); TONES] = std::array::from_fn(|n| {
        let hz = 41.0 * (16_000.0_f64 / 41.0).powf(n as f64 / (TONES - 1) as f64);
        (TAU * hz, random.between(0.0, TAU))
    });
    let each = SQRT_2 / (TONES as f64).sqrt();
    move |seconds| {
        let sum: f64 = tones.iter().map(|(w, p)| (w * seconds + p).sin()).sum();
        start(seconds) * each * sum
    }
}

/// Volts RMS of a level in dBu (0 dBu is the square root of 0.6 V).
#[must_use]
pub fn volts(dbu: f64) -> f64 {
    0.6_f64.sqrt() * 10.0_f64.powf(dbu / 20.0)
}
