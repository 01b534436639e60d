//! Measurements on the model and on recordings: a steady tone with its harmonics, spectra.

mod spectrum;
mod tone;
mod upsample;

pub use spectrum::{Spectrum, SpectrumBand};
pub use tone::{Tone, measure_tone};
pub use upsample::upsample;
