//! Integrated loudness by ITU-R BS.1770-4 / EBU R128, through the `ebur128` crate.

use crate::units::SampleRate;
use ebur128::{EbuR128, Mode};

/// Measures the integrated loudness of what passes. Not for the audio thread: it allocates.
pub struct LoudnessMeter {
    meter: Option<EbuR128>,
}

impl LoudnessMeter {
    /// For a rate and a number of channels.
    #[must_use]
    pub fn prepare(rate: SampleRate, channels: usize) -> Self {
        let channels = u32::try_from(channels).unwrap_or(u32::MAX);
        let meter = EbuR128::new(channels, rate.hz().round() as u32, Mode::I).ok();
        Self { meter }
    }

    /// Takes planar audio, as many slices as channels.
    pub fn add(&mut self, audio: &[&[f64]]) {
        if let Some(meter) = &mut self.meter
            && meter.add_frames_planar_f64(audio).is_err()
        {
            self.meter = None;
        }
    }

    /// Integrated loudness in LUFS; `None` for silence and for less than 0.4 s, where the standard
    /// has no value.
    #[must_use]
    pub fn integrated_lufs(&self) -> Option<f64> {
        let lufs = self.meter.as_ref()?.loudness_global().ok()?;
        lufs.is_finite().then_some(lufs)
    }
}
