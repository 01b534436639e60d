//! True peak, as ITU-R BS.1770 Annex 2 asks: the largest magnitude of the signal at four times its rate.
//!
//! Better than the filter printed there, which is an example of 12 taps a phase, off by -0.24 to +0.22 dB below
//! 0.4 of the rate: see [`super::between`] for the one used here. What lies between the four places that
//! are looked at is at most 0.46 dB higher, for a tone of 0.41 of the rate (`20 log cos(pi f / 4 fs)`).

use super::Meter;
use super::between::{Between, Looks, Places};

/// One channel's true-peak meter.
#[derive(Clone, Debug)]
pub struct TruePeak {
    between: Between,
    most: f64,
    recent: f64,
}

impl Default for TruePeak {
    fn default() -> Self {
        Self::prepare()
    }
}

impl TruePeak {
    /// For any rate.
    #[must_use]
    pub fn prepare() -> Self {
        Self {
            between: Between::prepare(),
            most: 0.0,
            recent: 0.0,
        }
    }

    /// For a rate in hertz: at four times the usual rates and above the samples are close enough as they are.
    pub(super) fn prepare_at(rate_hz: f64) -> Self {
        Self {
            between: Between::prepare_at(rate_hz),
            ..Self::prepare()
        }
    }

    /// The largest since reset, in the samples' unit.
    #[must_use]
    pub fn most(&self) -> f64 {
        self.most
    }

    /// The largest since this was asked last.
    pub fn take_recent(&mut self) -> f64 {
        std::mem::take(&mut self.recent)
    }
}

impl Meter for TruePeak {
    fn reset(&mut self) {
        self.between.reset();
        (self.most, self.recent) = (0.0, 0.0);
    }

    fn process(&mut self, samples: &[f64]) {
        let mut largest = Largest([0.0; 4]);
        self.between.process(samples, &mut largest);
        let most = largest.0.into_iter().fold(0.0, f64::max);
        (self.most, self.recent) = (self.most.max(most), self.recent.max(most));
    }
}

/// The largest magnitude in each of four lanes.
struct Largest([f64; 4]);

impl Looks for Largest {
    #[inline(always)]
    fn look(&mut self, places: &Places, count: usize) {
        let mut most = self.0;
        for place in places {
            let (lanes, rest) = place[..count].as_chunks::<4>();
            for four in lanes {
                for (most, x) in most.iter_mut().zip(four) {
                    // Not `f64::max`, which minds what is no number.
                    let size = x.abs();
                    *most = if size > *most { size } else { *most };
                }
            }
            for x in rest {
                most[0] = most[0].max(x.abs());
            }
        }
        self.0 = most;
    }
}
