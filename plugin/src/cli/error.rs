//! How a verb fails: one sentence and an exit code.

use super::audio::AudioError;
use penstock_dsp::pad::PadError;
use penstock_dsp::plan::PlanError;
use penstock_dsp::units::RateError;

/// A sentence for standard error and the exit code that goes with it.
#[derive(Clone, Debug)]
pub(super) struct Failure {
    pub(super) message: String,
    pub(super) code: u8,
}

impl Failure {
    /// Bad input or usage; nothing was written.
    pub(super) fn usage(message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            code: 2,
        }
    }

    /// The same, said of something named.
    pub(super) fn of(self, name: impl std::fmt::Display) -> Self {
        Self {
            message: format!("{name}: {}", self.message),
            ..self
        }
    }
}

impl From<PlanError> for Failure {
    fn from(error: PlanError) -> Self {
        Self::usage(error.to_string())
    }
}

impl From<PadError> for Failure {
    fn from(error: PadError) -> Self {
        Self::usage(error.to_string())
    }
}

impl From<RateError> for Failure {
    fn from(error: RateError) -> Self {
        Self::usage(error.to_string())
    }
}

impl From<AudioError> for Failure {
    fn from(error: AudioError) -> Self {
        Self::usage(error.to_string())
    }
}
