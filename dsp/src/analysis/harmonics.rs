//! Harmonics of a steady waveform of which whole periods are at hand: no window is needed, every line
//! falls on a bin.

use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// A transform for waveforms of one length.
pub(crate) struct Harmonics {
    fft: Arc<dyn RealToComplex<f64>>,
    turns: usize,
    count: usize,
}

impl Harmonics {
    /// For waveforms of so many samples, in which the tone turns so often, and so many harmonics, the
    /// tone itself included.
    pub(crate) fn of(samples: usize, turns: usize, count: usize) -> Self {
        Self {
            fft: RealFftPlanner::new().plan_fft_forward(samples),
            turns,
            count,
        }
    }

    /// Peak amplitudes of all lines, by how often they turn in the waveform.
    pub(crate) fn lines(&self, wave: &[f64]) -> Vec<f64> {
        let mut input = wave.to_vec();
        let mut output = self.fft.make_output_vec();
        // Lengths are the transform's own: it cannot fail.
        if self.fft.process(&mut input, &mut output).is_err() {
            return vec![0.0; output.len()];
        }
        let scale = 2.0 / wave.len() as f64;
        output.iter().map(|line| scale * line.norm()).collect()
    }

    /// Peak amplitudes, the tone's first.
    pub(crate) fn amplitudes(&self, wave: &[f64]) -> Vec<f64> {
        let lines = self.lines(wave);
        let line = |order: usize| lines.get(order * self.turns).copied().unwrap_or_default();
        (1..=self.count).map(line).collect()
    }

    /// RMS of all harmonics (a shift of the bias apart), and total harmonic distortion re the
    /// fundamental in percent.
    pub(crate) fn level_and_thd(&self, wave: &[f64]) -> (f64, f64) {
        let amplitudes = self.amplitudes(wave);
        let first = amplitudes[0] * amplitudes[0];
        let rest: f64 = amplitudes[1..].iter().map(|a| a * a).sum();
        ((0.5 * (first + rest)).sqrt(), 100.0 * (rest / first).sqrt())
    }
}
