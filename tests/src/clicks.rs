//! How loud a click is: energy above 15 kHz where a programme has none.
//!
//! The programme is a sum of tones below 1 kHz that swell and fade slowly, at a level at which the
//! circuit distorts mildly: harmonics that reach 15 kHz are of fifteenth order and more, far below
//! what is asked. Any step or kink of a gain has a spectrum that falls slowly (6 and 12 dB an
//! octave) and so shows above 15 kHz, where nothing else is. The measure is the largest magnitude
//! behind a linear-phase high-pass there, over the RMS of the programme.

use std::f64::consts::{PI, TAU};

use crate::random::Random;
use crate::wave::Wave;

/// Sample rate that the measure is made for, in hertz.
pub const RATE_HZ: u32 = 48_000;
/// Half the length of the high-pass in frames.
const HALF: usize = 255;

/// A mono programme to listen for clicks in, with a largest magnitude of `peak`.
#[must_use]
pub fn programme(peak: f64, seconds: f64, seed: u64) -> Wave {
    let mut random = Random::new(seed);
    let tones: Vec<[f64; 4]> = (0..16)
        .map(|_| {
            let hz = random.spread(50.0, 900.0);
            let swell_hz = random.between(0.1, 2.0);
            [
                hz,
                random.between(0.0, TAU),
                swell_hz,
                random.between(0.0, TAU),
            ]
        })
        .collect();
    let value = |t: f64| {
        let tone = |[hz, phase, swell_hz, swell]: &[f64; 4]| {
            (0.6 + 0.4 * (TAU * swell_hz * t + swell).sin()) * (TAU * hz * t + phase).sin()
        };
        tones.iter().map(tone).sum::<f64>()
    };
    let wave = Wave::mono(RATE_HZ, seconds, value);
    wave.times((peak / wave.peak()) as f32)
}

/// Decibels of the largest magnitude above 15 kHz over the RMS of all of `samples`; the first and
/// last 10 ms are not listened to.
#[must_use]
pub fn click_db(samples: &[f32]) -> f64 {
    let squares: f64 = samples.iter().map(|x| f64::from(*x).powi(2)).sum();
    let rms = (squares / samples.len() as f64).sqrt();
    let taps = high_pass();
    let edge = (RATE_HZ / 100) as usize;
    let heard = samples[edge..samples.len() - edge].windows(2 * HALF + 1);
    let above = heard.map(|window| {
        let sum: f64 = window
            .iter()
            .zip(&taps)
            .map(|(x, tap)| f64::from(*x) * tap)
            .sum();
        sum.abs()
    });
    20.0 * (above.fold(1e-30, f64::max) / rms).log10()
}

/// A windowed sinc at 15 kHz; the Kaiser window with beta 14 holds what is below 14.5 kHz under
/// -130 dB (J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function",
/// IEEE ISCAS 1974).
fn high_pass() -> Vec<f64> {
    let edge = 15_000.0 / f64::from(RATE_HZ);
    let tap = |n: usize| {
        let x = n as f64 - HALF as f64;
        let low = if x == 0.0 {
            2.0 * edge
        } else {
            (TAU * edge * x).sin() / (PI * x)
        };
        let pass = if x == 0.0 { 1.0 } else { 0.0 };
        let inside = (1.0 - (x / HALF as f64).powi(2)).max(0.0).sqrt();
        (pass - low) * bessel(14.0 * inside) / bessel(14.0)
    };
    (0..=2 * HALF).map(tap).collect()
}

/// The modified Bessel function of order zero, by its power series.
fn bessel(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..60 {
        term *= (x / 2.0 / f64::from(k)).powi(2);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_hears_a_tenth_of_a_decibel_and_nothing_in_the_programme() {
        let mut samples = programme(0.5, 1.0, 1).samples;
        assert!(click_db(&samples) < -120.0);
        // Switched where the programme is at its largest.
        let loudest = (10_000..40_000)
            .max_by(|a, b| samples[*a].abs().total_cmp(&samples[*b].abs()))
            .expect("frames");
        let step = 10f32.powf(0.1 / 20.0);
        samples[loudest..].iter_mut().for_each(|x| *x *= step);
        let heard = click_db(&samples);
        assert!(
            heard > -50.0,
            "a step of 0.1 dB is heard as {heard} dB only"
        );
    }
}
