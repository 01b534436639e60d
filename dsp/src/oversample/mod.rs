//! Oversampling by linear-phase FIR half-bands, with one integer latency per sample rate.
//!
//! Each doubling is a Kaiser-windowed half-band (`halfband`). A setting counts against the
//! 44.1/48 kHz class: at 96 kHz "4" is a factor of 2, at 16 kHz a factor of 16, so that bandwidth
//! and cost per second stay alike ([`Oversampling::factor`]). The delay of every setting is filled
//! up to that of the slowest at the same rate, so that a change of setting moves nothing.

mod halfband;
mod resampler;

pub use halfband::HalfBand;
pub(crate) use halfband::bessel_i0;
pub use resampler::Resampler;

use crate::units::SampleRate;

/// Largest number of base-rate frames one call of the resampler takes.
pub const BLOCK_FRAMES: usize = 64;

/// How finely the circuit is sampled, counted against the 44.1/48 kHz class.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Oversampling {
    /// A draft without accuracy promise.
    One,
    /// Twice.
    Two,
    /// Four times, the default.
    #[default]
    Four,
    /// Eight times.
    Eight,
}

impl Oversampling {
    /// Every setting, ascending.
    pub const ALL: [Self; 4] = [Self::One, Self::Two, Self::Four, Self::Eight];

    /// The setting as a number.
    #[must_use]
    pub fn number(self) -> u32 {
        match self {
            Self::One => 1,
            Self::Two => 2,
            Self::Four => 4,
            Self::Eight => 8,
        }
    }

    /// The setting of this number: 1, 2, 4 or 8.
    #[must_use]
    pub fn from_number(number: u32) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|setting| setting.number() == number)
    }

    /// The real factor at a sample rate: the next power of two that gives at least this multiple
    /// of 44.1 kHz, and at least 1.
    #[must_use]
    pub fn factor(self, rate: SampleRate) -> usize {
        let wanted = f64::from(self.number()) * 44_100.0 / rate.hz();
        let mut factor = 1_u16;
        while f64::from(factor) < wanted {
            factor *= 2;
        }
        usize::from(factor)
    }
}

/// The half-bands of a factor, from the base rate up.
fn stages(rate: SampleRate, factor: usize) -> Vec<HalfBand> {
    let pass_hz = pass_edge_hz(rate);
    let doublings = factor.trailing_zeros();
    (0..doublings)
        .map(|stage| HalfBand::design(rate.hz() * f64::from(1_u32 << stage), pass_hz))
        .collect()
}

/// Upper edge of the exact band: 20 kHz at 44.1 and 48 kHz, the same share of the rate elsewhere.
fn pass_edge_hz(rate: SampleRate) -> f64 {
    let hz = rate.hz();
    if hz < 44_100.0 {
        hz * 20.0 / 44.1
    } else if hz <= 48_000.0 {
        20_000.0
    } else {
        hz * 20.0 / 48.0
    }
}

/// Delay up and down through `stages`, in frames of the oversampled rate.
fn delay_oversampled(stages: &[HalfBand]) -> usize {
    let doublings = stages.len();
    stages
        .iter()
        .enumerate()
        .map(|(stage, half_band)| (2 * half_band.delay()) << (doublings - stage - 1))
        .sum()
}

/// Delay on the way up, in samples of the oversampled rate.
pub(crate) fn delay_up(rate: SampleRate, setting: Oversampling) -> usize {
    delay_oversampled(&stages(rate, setting.factor(rate))) / 2
}

/// Latency of the whole path in base-rate frames: the same for every setting at one rate. Between
/// the way up and the way down the signal is late by `inside` oversampled samples.
#[must_use]
pub fn latency_frames(rate: SampleRate, inside: usize) -> usize {
    Oversampling::ALL
        .into_iter()
        .map(|setting| {
            let factor = setting.factor(rate);
            (delay_oversampled(&stages(rate, factor)) + inside).div_ceil(factor)
        })
        .max()
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(hz: f64) -> SampleRate {
        SampleRate::new(hz).expect("a rate within the range")
    }

    #[test]
    fn factors_count_against_the_44_1_and_48_khz_class() {
        let four = |hz| Oversampling::Four.factor(rate(hz));
        assert_eq!(
            [8e3, 16e3, 44.1e3, 48e3, 88.2e3, 96e3, 176.4e3, 192e3].map(four),
            [32, 16, 4, 4, 2, 2, 1, 1]
        );
        assert_eq!(Oversampling::One.factor(rate(48e3)), 1);
        assert_eq!(Oversampling::Eight.factor(rate(192e3)), 2);
    }

    #[test]
    fn latency_is_short_at_48_khz() {
        let frames = latency_frames(rate(48e3), 2);
        assert!(frames <= 64, "{frames}");
    }
}
