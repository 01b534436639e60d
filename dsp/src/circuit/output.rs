//! T2, the output transformer: a ratio, a lower corner by its inductance, an upper one.

use super::elements as el;
use crate::units::parallel;
use realfft::num_complex::Complex64;

/// The transformer in motion: two first-order corners by the bilinear transform.
#[derive(Clone, Debug)]
pub(super) struct OutputTransformer {
    gain: f64,
    lower: Corner,
    upper: Corner,
    lower_hz: f64,
}

/// A first-order low-pass; the high-pass is what it leaves.
#[derive(Clone, Debug, Default)]
pub(super) struct Corner {
    /// w/(1 + w) of the trapezoidal integrator, w = pi f / rate.
    share: f64,
    state: f64,
}

impl Corner {
    pub(super) fn prepare(corner_hz: f64, rate_hz: f64) -> Self {
        let w = std::f64::consts::PI * corner_hz / rate_hz;
        Self {
            share: w / (1.0 + w),
            state: 0.0,
        }
    }

    pub(super) fn reset(&mut self) {
        self.state = 0.0;
    }

    /// Goes on where another corner is, whose signal now counts `ratio` times.
    pub(super) fn adopt(&mut self, other: &Self, ratio: f64) {
        self.state = other.state * ratio;
    }

    #[inline]
    pub(super) fn low_pass(&mut self, x: f64) -> f64 {
        let step = (x - self.state) * self.share;
        let y = self.state + step;
        self.state = y + step;
        y
    }
}

/// A first-order low-pass at a frequency.
pub(super) fn low_pass_at(corner_hz: f64, hz: f64) -> Complex64 {
    1.0 / Complex64::new(1.0, hz / corner_hz)
}

impl OutputTransformer {
    /// For a plate source resistance and a load, in ohms.
    pub(super) fn prepare(plate_ohms: f64, load_ohms: f64, rate_hz: f64) -> Self {
        let reflected = el::T2_RATIO * el::T2_RATIO * (el::T2_SECONDARY_OHMS + load_ohms);
        let beside = parallel(plate_ohms + el::T2_PRIMARY_OHMS, reflected);
        let lower_hz = beside / (std::f64::consts::TAU * el::T2_MAGNETISING_HENRIES);
        // From the plate through the windings into the load.
        let through = reflected / (el::T2_PRIMARY_OHMS + reflected) * load_ohms
            / (el::T2_SECONDARY_OHMS + load_ohms);
        Self {
            gain: through / el::T2_RATIO,
            lower: Corner::prepare(lower_hz, rate_hz),
            upper: Corner::prepare(el::T2_UPPER_HZ, rate_hz),
            lower_hz,
        }
    }

    pub(super) fn reset(&mut self) {
        self.lower.reset();
        self.upper.reset();
    }

    /// Goes on where another transformer is.
    pub(super) fn adopt(&mut self, other: &Self) {
        self.lower.adopt(&other.lower, 1.0);
        self.upper.adopt(&other.upper, 1.0);
    }

    /// Plate volts (without DC) to volts at the load.
    #[inline]
    pub(super) fn process(&mut self, plate_volts: f64) -> f64 {
        let top = self.upper.low_pass(plate_volts);
        self.gain * (top - self.lower.low_pass(top))
    }

    /// Small-signal ratio at a frequency.
    pub(super) fn at(&self, hz: f64) -> Complex64 {
        self.gain * low_pass_at(el::T2_UPPER_HZ, hz) * (1.0 - low_pass_at(self.lower_hz, hz))
    }
}
