//! Measurements on the model and on recordings: a steady tone with its harmonics, distortion at every
//! point, spectra.

mod cache;
mod distortion;
mod harmonics;
mod measures;
mod spectrum;
mod steady;
mod tone;
mod upsample;

pub use cache::Cache;
pub use distortion::{Peaks, StageDistortion, response, stage_distortion};
pub(crate) use harmonics::Harmonics;
pub use measures::{ccif_percent, smpte_percent, thd_n_percent, thd_percent};
pub use spectrum::{Spectrum, SpectrumBand};
pub(crate) use steady::{LANES, POINTS, Steady};
pub use tone::{Tone, measure_tone};
pub use upsample::upsample;
