//! Measurements on the model and on recordings: a steady tone with its harmonics, spectra.

mod spectrum;
mod tone;

pub use spectrum::{Spectrum, SpectrumBand};
pub use tone::{Tone, measure_tone};
