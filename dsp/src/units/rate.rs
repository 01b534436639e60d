//! Sample rates.

use std::fmt;

/// A sample rate in hertz, 8,000 to 192,000 as files and hosts have it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct SampleRate(f64);

/// A rate outside what the path is built for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateError {
    /// What was asked, in hertz.
    pub given_hz: f64,
}

impl SampleRate {
    /// Lowest and highest rate served, in hertz.
    pub const RANGE_HZ: (f64, f64) = (8_000.0, 192_000.0);

    /// 48 kHz, the rate at which measurements on the model are made.
    pub const STUDIO: Self = Self(48_000.0);

    /// Checks a rate in hertz.
    ///
    /// # Errors
    /// When it is not within [`SampleRate::RANGE_HZ`] (or not a number).
    pub fn new(hz: f64) -> Result<Self, RateError> {
        if hz >= Self::RANGE_HZ.0 && hz <= Self::RANGE_HZ.1 {
            Ok(Self(hz))
        } else {
            Err(RateError { given_hz: hz })
        }
    }

    /// The rate in hertz.
    #[must_use]
    pub fn hz(self) -> f64 {
        self.0
    }
}

impl fmt::Display for RateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (low, high) = SampleRate::RANGE_HZ;
        write!(
            f,
            "a sample rate of {} Hz is outside {low} to {high} Hz",
            self.given_hz
        )
    }
}

impl std::error::Error for RateError {}
