//! Loudness by ITU-R BS.1770-4 and EBU R 128: momentary, short-term, integrated, and range (Tech 3342),
//! through the `ebur128` crate.

use crate::units::SampleRate;
use ebur128::{EbuR128, Mode};

/// Frames handed on together.
const BLOCK: usize = 64;

/// Most channels: left, right, centre and surrounds.
const CHANNELS: usize = 5;

/// The loudness of one channel up to five, in the order left, right, centre, left and right surround.
pub struct Loudness {
    meter: EbuR128,
    channels: usize,
}

impl Loudness {
    /// `live` keeps integrated loudness and range in steps of 0.1 LU in a memory that never grows, for a
    /// meter that runs for days; otherwise every 100 ms is kept and both are exact. Allocates.
    ///
    /// # Panics
    /// With no channel or more than five.
    #[must_use]
    pub fn prepare(rate: SampleRate, channels: usize, live: bool) -> Self {
        assert!((1..=CHANNELS).contains(&channels), "{channels} channels");
        let mut mode = Mode::I | Mode::LRA;
        mode.set(Mode::HISTOGRAM, live);
        let rate_hz = rate.hz().round() as u32;
        Self {
            meter: EbuR128::new(channels as u32, rate_hz, mode).expect("a rate that is served"),
            channels,
        }
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        self.meter.reset();
    }

    /// Takes as many samples as the shortest channel has.
    pub fn process(&mut self, channels: &[&[f64]]) {
        let frames = channels.iter().map(|channel| channel.len()).min();
        let mut block = [[0.0; BLOCK]; CHANNELS];
        for from in (0..frames.unwrap_or(0)).step_by(BLOCK) {
            let count = BLOCK.min(frames.unwrap_or(0) - from);
            for (to, channel) in block.iter_mut().zip(channels) {
                for (to, sample) in to.iter_mut().zip(&channel[from..from + count]) {
                    *to = super::finite(*sample);
                }
            }
            let mut planes: [&[f64]; CHANNELS] = [&[]; CHANNELS];
            for (plane, block) in planes.iter_mut().zip(&block) {
                *plane = &block[..count];
            }
            // Fails with the wrong number of channels only, which leaves all as it was.
            let _ = self.meter.add_frames_planar_f64(&planes[..self.channels]);
        }
    }

    /// Over the last 400 ms; `None` in silence.
    #[must_use]
    pub fn momentary_lufs(&self) -> Option<f64> {
        heard(self.meter.loudness_momentary())
    }

    /// Over the last 3 s; `None` in silence.
    #[must_use]
    pub fn short_term_lufs(&self) -> Option<f64> {
        heard(self.meter.loudness_shortterm())
    }

    /// Gated, of everything; `None` in silence.
    #[must_use]
    pub fn integrated_lufs(&self) -> Option<f64> {
        heard(self.meter.loudness_global())
    }

    /// Between the 10th and the 95th percentile of short-term loudness, gated.
    #[must_use]
    pub fn range_lu(&self) -> f64 {
        self.meter.loudness_range().unwrap_or(0.0)
    }
}

fn heard(loudness: Result<f64, ebur128::Error>) -> Option<f64> {
    loudness.ok().filter(|lufs| lufs.is_finite())
}
