//! Measurements on the model and on recordings: a steady tone with its harmonics, spectra.

mod harmonics;
mod spectrum;
mod steady;
mod tone;
mod upsample;

pub(crate) use harmonics::Harmonics;
pub use spectrum::{Spectrum, SpectrumBand};
pub(crate) use steady::{LANES, POINTS, Steady};
pub use tone::{Tone, measure_tone};
pub use upsample::upsample;
