//! Long-term spectrum of a recording in third-octave-like bands.
//!
//! Welch's method: Hann windows of about 0.17 s, half overlapped, powers averaged; then powers are
//! summed into bands of one sixth of an octave. A band's level is the dBFS (AES17) of what lies
//! within it.

use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Bands per octave.
const PER_OCTAVE: f64 = 6.0;
/// Lowest band centre in hertz.
const LOWEST_HZ: f64 = 20.0;

/// One band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpectrumBand {
    /// Centre in hertz.
    pub frequency_hz: f64,
    /// Level of what lies in the band.
    pub level_dbfs: f64,
}

/// Collects a spectrum, any block size, all channels averaged.
pub struct Spectrum {
    rate_hz: f64,
    fft: Arc<dyn RealToComplex<f64>>,
    window: Vec<f64>,
    /// Samples waiting for a full window, per channel.
    waiting: Vec<Vec<f64>>,
    powers: Vec<f64>,
    windows: f64,
}

impl Spectrum {
    /// For a rate in hertz and a number of channels; allocates.
    #[must_use]
    pub fn prepare(rate_hz: f64, channels: usize) -> Self {
        let mut length = 1024;
        while (length as f64) < 0.12 * rate_hz {
            length *= 2;
        }
        let fft = RealFftPlanner::new().plan_fft_forward(length);
        let turn = std::f64::consts::TAU / length as f64;
        let window = (0..length)
            .map(|n| 0.5 - 0.5 * (turn * n as f64).cos())
            .collect();
        let waiting = vec![Vec::new(); channels];
        Self {
            rate_hz,
            fft,
            window,
            waiting,
            powers: vec![0.0; length / 2 + 1],
            windows: 0.0,
        }
    }

    /// Takes planar audio. Offline: allocates as it collects.
    pub fn add(&mut self, audio: &[&[f64]]) {
        for (channel, samples) in audio.iter().enumerate().take(self.waiting.len()) {
            self.waiting[channel].extend_from_slice(samples);
            let length = self.window.len();
            let mut start = 0;
            while self.waiting[channel].len() - start >= length {
                self.take_window(channel, start);
                start += length / 2;
            }
            self.waiting[channel].drain(..start);
        }
    }

    fn take_window(&mut self, channel: usize, start: usize) {
        let samples = &self.waiting[channel][start..start + self.window.len()];
        let mut input: Vec<f64> = samples
            .iter()
            .zip(&self.window)
            .map(|(s, w)| s * w)
            .collect();
        let mut output = self.fft.make_output_vec();
        // Lengths are the plan's own, so that the transform cannot fail.
        if self.fft.process(&mut input, &mut output).is_ok() {
            for (power, bin) in self.powers.iter_mut().zip(&output) {
                *power += bin.norm_sqr();
            }
            self.windows += 1.0;
        }
    }

    /// Bands from 20 Hz up to the lower of 20 kHz and half the rate. Bands narrower than a bin,
    /// and a recording shorter than a window, give nothing.
    #[must_use]
    pub fn bands(&self) -> Vec<SpectrumBand> {
        if self.windows == 0.0 {
            return Vec::new();
        }
        let length = self.window.len() as f64;
        let energy: f64 = self.window.iter().map(|w| w * w).sum();
        // One-sided mean square of a bin; a full-scale sine has 1/2, which is 0 dBFS.
        let scale = 2.0 / (energy * length * self.windows);
        let bin_hz = self.rate_hz / length;
        let half = 2_f64.powf(0.5 / PER_OCTAVE);
        (0..=60)
            .map(|step| LOWEST_HZ * 2_f64.powf(f64::from(step) / PER_OCTAVE))
            .take_while(|centre| centre * half < 0.5 * self.rate_hz && *centre <= 20_200.0)
            .filter_map(|centre| {
                let first = (centre / half / bin_hz).ceil() as usize;
                let last = ((centre * half / bin_hz).ceil() as usize).min(self.powers.len());
                let power = self.powers.get(first..last)?.iter().sum::<f64>() * scale;
                let level_dbfs = 10.0 * (2.0 * power).log10();
                (power > 0.0).then_some(SpectrumBand {
                    frequency_hz: centre,
                    level_dbfs,
                })
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_scale_sine_is_0_dbfs_in_its_band() {
        let rate_hz = 48_000.0;
        let mut spectrum = Spectrum::prepare(rate_hz, 1);
        let centre = 20.0 * 2_f64.powf(36.0 / 6.0);
        let turn = std::f64::consts::TAU * centre / rate_hz;
        let sine: Vec<f64> = (0..96_000).map(|n| (turn * f64::from(n)).sin()).collect();
        for block in sine.chunks(777) {
            spectrum.add(&[block]);
        }
        let bands = spectrum.bands();
        let loudest = bands
            .iter()
            .max_by(|a, b| a.level_dbfs.total_cmp(&b.level_dbfs));
        let loudest = loudest.expect("a band");
        assert!((loudest.frequency_hz - centre).abs() < 1.0);
        assert!(loudest.level_dbfs.abs() < 0.01, "{}", loudest.level_dbfs);
    }
}
