//! Short-term loudness of all channels together, ten times a second.

use super::histogram::Histogram;
use super::{Percentiles, READINGS_A_SECOND, WINDOW_SECONDS};
use crate::chain::GRID_FRAMES;
use crate::meter::Loudness;
use crate::units::SampleRate;

/// Frames handed on together.
const BLOCK: usize = 32;

/// Hears channels one after the other, each at most [`GRID_FRAMES`] frames ahead.
pub(super) struct ShortTermLoudness {
    meter: Loudness,
    rate_hz: f64,
    /// By channel, frames yet to come before the recording's first.
    early: [usize; 2],
    planes: [Vec<f64>; 2],
    channels: usize,
    frames: u64,
    tenths: u64,
    readings: Histogram,
}

impl ShortTermLoudness {
    /// For one or two channels, of which the first `early` frames come before the recording's.
    pub(super) fn prepare(rate: SampleRate, channels: usize, early: usize) -> Self {
        Self {
            // No integrated loudness is asked of it, so it need not keep everything.
            meter: Loudness::prepare(rate, channels, true),
            rate_hz: rate.hz(),
            early: [early; 2],
            planes: [0, 1].map(|_| Vec::with_capacity(BLOCK + 2 * GRID_FRAMES)),
            channels,
            frames: 0,
            tenths: 0,
            readings: Histogram::prepare(),
        }
    }

    pub(super) fn process(&mut self, channel: usize, sample: f64) {
        if self.early[channel] > 0 {
            self.early[channel] -= 1;
            return;
        }
        self.planes[channel].push(sample);
        if channel + 1 == self.channels {
            self.take();
        }
    }

    /// Whole blocks, and up to each tenth of a second.
    fn take(&mut self) {
        let next = ((self.tenths + 1) as f64 * self.rate_hz / READINGS_A_SECOND).round() as u64;
        let count = BLOCK.min((next - self.frames) as usize);
        let planes = &mut self.planes[..self.channels];
        if planes.iter().any(|plane| plane.len() < count) {
            return;
        }
        match planes {
            [one] => self.meter.process(&[&one[..count]]),
            [one, other] => self.meter.process(&[&one[..count], &other[..count]]),
            _ => {}
        }
        for plane in planes {
            plane.drain(..count);
        }
        self.frames += count as u64;
        if self.frames == next {
            self.tenths += 1;
            if self.tenths as f64 >= WINDOW_SECONDS * READINGS_A_SECOND {
                let reading = self.meter.short_term_lufs();
                self.readings.add(reading.unwrap_or(f64::NEG_INFINITY));
            }
        }
    }

    pub(super) fn percentiles(&self) -> Percentiles {
        self.readings.percentiles()
    }
}
