//! A 1 kHz sine through the path in steady state: levels at every point and harmonics.

use crate::chain::Chain;
use crate::meter::{PointLevel, PointMeter};
use crate::oversample::Oversampling;
use crate::pad::PadError;
use crate::plan::Plan;
use crate::units::{Dbfs, SampleRate};
use std::f64::consts::TAU;

/// Frames of one period: 1 kHz at [`SampleRate::STUDIO`].
const PERIOD_FRAMES: usize = 48;
/// One block: 0.25 s, a whole number of periods.
const BLOCK_FRAMES: usize = 250 * PERIOD_FRAMES;
/// Longest wait for the capacitors, in blocks: 15 s.
const MOST_BLOCKS: usize = 60;
/// Steady when no level moves by more than this share from block to block: 0.00001 dB.
const STEADY: f64 = 1e-6;
/// Harmonics counted in THD: up to 20 kHz.
const HARMONICS: usize = 20;

/// What a tone does.
#[derive(Clone, Debug, PartialEq)]
pub struct Tone {
    /// Level at every point.
    pub points: [PointLevel; 8],
    /// Magnitudes at the return of harmonics 1 (the tone itself) to 20, full scale = 1.0.
    pub harmonics: [f64; HARMONICS],
}

impl Tone {
    /// Harmonic `order` re the fundamental in dB; `None` without a fundamental or harmonic.
    #[must_use]
    pub fn harmonic_db(&self, order: usize) -> Option<f64> {
        let ratio = self.harmonics.get(order.checked_sub(1)?)? / self.harmonics[0];
        (ratio > 0.0 && ratio.is_finite()).then(|| 20.0 * ratio.log10())
    }

    /// Total harmonic distortion re the fundamental (THD_F), harmonics 2 to 20, in percent.
    #[must_use]
    pub fn thd_percent(&self) -> Option<f64> {
        let squares: f64 = self.harmonics[1..].iter().map(|h| h * h).sum();
        let ratio = squares.sqrt() / self.harmonics[0];
        ratio.is_finite().then_some(100.0 * ratio)
    }
}

/// Sends a 1 kHz sine of `level` through the plan's path until nothing moves any more.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn measure_tone(
    plan: &Plan,
    level: Dbfs,
    oversampling: Oversampling,
) -> Result<Tone, PadError> {
    let rate = SampleRate::STUDIO;
    let mut chain = Chain::prepare(plan, rate, 1, oversampling)?;
    let mut meter = PointMeter::prepare(plan, oversampling.factor(rate));
    let peak = level.sine_peak();
    let sine: Vec<f64> = (0..BLOCK_FRAMES)
        .map(|n| peak * (TAU * (n % PERIOD_FRAMES) as f64 / PERIOD_FRAMES as f64).sin())
        .collect();
    let mut audio = sine.clone();
    let mut before = meter.levels(0);
    for _ in 0..MOST_BLOCKS {
        audio.copy_from_slice(&sine);
        meter.reset();
        chain.process(&mut [&mut audio], &mut meter);
        let now = meter.levels(0);
        let steady = before
            .iter()
            .zip(&now)
            // What is no number does not move.
            .all(|(before, now)| {
                let moved = (now.volts.0 - before.volts.0).abs();
                moved <= STEADY * now.volts.0 || moved.is_nan()
            });
        before = now;
        if steady {
            break;
        }
    }
    Ok(Tone {
        points: before,
        harmonics: harmonics(&audio),
    })
}

/// Magnitudes of harmonics 1 to 20 of one block, by direct Fourier sums over whole periods.
fn harmonics(block: &[f64]) -> [f64; HARMONICS] {
    let mut magnitudes = [0.0; HARMONICS];
    for (index, magnitude) in magnitudes.iter_mut().enumerate() {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, sample) in block.iter().enumerate() {
            let turn = (n * (index + 1)) % PERIOD_FRAMES;
            let angle = TAU * turn as f64 / PERIOD_FRAMES as f64;
            re += sample * angle.cos();
            im += sample * angle.sin();
        }
        *magnitude = 2.0 * re.hypot(im) / block.len() as f64;
    }
    magnitudes
}
