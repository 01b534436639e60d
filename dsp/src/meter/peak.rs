//! Sample peak with hold, and overs.
//!
//! Peak is the largest magnitude of a sample (AES17 calls it so; true peak is another meter). A peak is
//! held for a while and then falls by 20 dB in 1.7 s, as programme meters do; hold: common practice, no
//! source. An over is a sample at full scale or above; those that follow one another count as one.

use super::{Meter, finite};
use crate::units::SampleRate;

/// Peaks are held so long, in seconds.
const HOLD_SECONDS: f64 = 2.0;
const FALL_DB_A_SECOND: f64 = 20.0 / 1.7;

/// One channel's peak meter.
#[derive(Clone, Copy, Debug)]
pub struct PeakMeter {
    full_scale: f64,
    hold_samples: u64,
    fall: f64,
    most: f64,
    recent: f64,
    held: f64,
    since: u64,
    over: bool,
    overs: u64,
    samples_over: u64,
}

impl PeakMeter {
    /// `full_scale` is what an over is counted from, in the samples' unit.
    #[must_use]
    pub fn prepare(rate: SampleRate, full_scale: f64) -> Self {
        Self::prepare_at(rate.hz(), full_scale)
    }

    /// The same for a rate in hertz.
    pub(super) fn prepare_at(rate_hz: f64, full_scale: f64) -> Self {
        Self {
            full_scale,
            hold_samples: (HOLD_SECONDS * rate_hz) as u64,
            fall: 10f64.powf(-FALL_DB_A_SECOND / 20.0 / rate_hz),
            most: 0.0,
            recent: 0.0,
            held: 0.0,
            since: 0,
            over: false,
            overs: 0,
            samples_over: 0,
        }
    }

    /// The largest since reset.
    #[must_use]
    pub fn most(&self) -> f64 {
        self.most
    }

    /// The largest since this was asked last.
    pub fn take_recent(&mut self) -> f64 {
        std::mem::take(&mut self.recent)
    }

    /// The largest of late: held, then falling.
    #[must_use]
    pub fn held(&self) -> f64 {
        self.held
    }

    /// How often it went over.
    #[must_use]
    pub fn overs(&self) -> u64 {
        self.overs
    }

    /// For how many samples in all.
    #[must_use]
    pub fn samples_over(&self) -> u64 {
        self.samples_over
    }
}

impl Meter for PeakMeter {
    fn reset(&mut self) {
        (self.most, self.recent) = (0.0, 0.0);
        (self.held, self.since) = (0.0, 0);
        (self.over, self.overs, self.samples_over) = (false, 0, 0);
    }

    fn process(&mut self, samples: &[f64]) {
        for sample in samples {
            let size = finite(*sample).abs();
            self.most = self.most.max(size);
            self.recent = self.recent.max(size);
            self.since += 1;
            if self.since > self.hold_samples {
                self.held *= self.fall;
            }
            if size >= self.held {
                (self.held, self.since) = (size, 0);
            }
            let over = size >= self.full_scale;
            self.overs += u64::from(over && !self.over);
            self.samples_over += u64::from(over);
            self.over = over;
        }
    }
}
