//! Meters, one standard a file: level, peak and loudness of what passes a point.
//!
//! Each hears one channel in whatever unit the samples have, and reads in that unit; what a reading means in
//! dBu, dBFS or volts is the point's business (see [`PointLevel`]). No reading depends on how the samples
//! come in blocks, nor, within the standards' tolerances, on their rate.

mod along;
mod between;
mod choice;
mod loudness;
mod peak;
mod points;
mod ppm;
mod rms;
mod sums;
mod true_peak;
mod vu;

pub use along::{MetersAlong, PlaceReading};
pub use choice::{AnyMeter, MeterKind, RMS_SECONDS, Shown, sine_of};
pub use loudness::Loudness;
pub use peak::PeakMeter;
pub use points::{LevelMeter, PointLevel, PointMeter};
pub use ppm::{Ppm, PpmType};
pub use rms::Rms;
pub use true_peak::TruePeak;
pub use vu::Vu;

/// What hears one channel.
pub trait Meter {
    /// Forgets everything heard.
    fn reset(&mut self);

    /// Hears samples. Never allocates, locks or panics; what is no number counts as nothing.
    fn process(&mut self, samples: &[f64]);
}

/// A sample that can be reckoned with.
fn finite(sample: f64) -> f64 {
    if sample.is_finite() { sample } else { 0.0 }
}
