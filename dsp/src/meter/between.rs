//! The signal between its samples: at four places a sample.
//!
//! A sine cardinal of 24 taps in Kaiser's window (1974; beta 5), normalised so that a constant reads itself:
//! within 0.03 dB up to 0.41 of the rate. The places a quarter after a sample and a quarter before the next one
//! mirror each other, so both come from the sums and differences of the samples around them.
//!
//! At four times the usual rates and above, samples are themselves as close as that: then they are taken as
//! they are, as Annex 2 of BS.1770 allows.

use super::finite;
use crate::circuit::lanes::{self, Lanes, Portable};
use crate::oversample::bessel_i0;
use std::f64::consts::PI;

const TAPS: usize = 24;
const HALF: usize = TAPS / 2;
const BETA: f64 = 5.0;
/// Samples taken in at once, and computed side by side: two vectors, so that sums do not wait for one another.
pub(super) const BLOCK: usize = 64;
const TOGETHER: usize = 8;
const KEPT: usize = TAPS - 1;
/// From here on samples are close enough, in hertz: four times the lowest usual rate, less rounding.
const CLOSE_HZ: f64 = 4.0 * 44_100.0 - 1.0;

/// An earlier sample and the three places after it, by place.
pub(super) type Places = [[f64; BLOCK]; 4];

/// Who looks at the places. Compiled for every kind of processor, so `look` must be inlined.
pub(super) trait Looks {
    /// Takes the first `count` of each place.
    fn look(&mut self, places: &Places, count: usize);
}

/// One channel's signal between its samples, 12 samples late.
#[derive(Clone, Debug)]
pub(super) struct Between {
    /// Of sums and of differences, for the quarters; of sums, for the middle.
    taps: [[f64; HALF]; 3],
    close: bool,
    /// The last samples, then a block, then room.
    history: [f64; KEPT + BLOCK + TOGETHER],
}

impl Between {
    /// For any rate: looks between the samples.
    pub(super) fn prepare() -> Self {
        let (quarter, middle) = (taps(0.25), taps(0.5));
        let half = |k: usize, sign: f64| 0.5 * (quarter[k] + sign * quarter[TAPS - 1 - k]);
        Self {
            taps: [
                std::array::from_fn(|k| half(k, 1.0)),
                std::array::from_fn(|k| half(k, -1.0)),
                std::array::from_fn(|k| middle[k]),
            ],
            close: false,
            history: [0.0; KEPT + BLOCK + TOGETHER],
        }
    }

    /// For a rate in hertz: takes samples as they are where they are close enough.
    pub(super) fn prepare_at(rate_hz: f64) -> Self {
        Self {
            close: rate_hz >= CLOSE_HZ,
            ..Self::prepare()
        }
    }

    pub(super) fn reset(&mut self) {
        self.history.fill(0.0);
    }

    /// Shows each sample once, with the places after it.
    pub(super) fn process(&mut self, samples: &[f64], looker: &mut impl Looks) {
        #[cfg(target_arch = "x86_64")]
        if lanes::avx2() {
            // SAFETY: the processor has both.
            #[expect(unsafe_code, reason = "the instructions are there")]
            unsafe {
                self.process_avx2(samples, looker);
            }
            return;
        }
        self.process_in::<Portable>(samples, looker);
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn process_avx2(&mut self, samples: &[f64], looker: &mut impl Looks) {
        self.process_in::<lanes::Avx2>(samples, looker);
    }

    #[inline(always)]
    fn process_in<L: Lanes>(&mut self, samples: &[f64], looker: &mut impl Looks) {
        let mut places = [[0.0; BLOCK]; 4];
        for samples in samples.chunks(BLOCK) {
            for (to, from) in self.history[KEPT..].iter_mut().zip(samples) {
                *to = finite(*from);
            }
            if self.close {
                for place in &mut places {
                    place[..samples.len()].copy_from_slice(&self.history[KEPT..][..samples.len()]);
                }
            } else {
                let mut from = 0;
                while from < samples.len() {
                    self.fill::<L>(from, &mut places);
                    from += TOGETHER;
                }
                self.history
                    .copy_within(samples.len()..samples.len() + KEPT, 0);
            }
            looker.look(&places, samples.len());
        }
    }

    /// The places of eight samples.
    #[inline(always)]
    fn fill<L: Lanes>(&self, from: usize, places: &mut Places) {
        let Some(window) = self.history[from..].first_chunk::<{ KEPT + TOGETHER }>() else {
            return;
        };
        let mut sums = [[L::splat(0.0); 2]; 3];
        let mut k = 0;
        while k < HALF {
            let by = [0, 1, 2].map(|kind: usize| L::splat(self.taps[kind][k]));
            let mut n = 0;
            while n < 2 {
                let old = L::load(four(window, k + 4 * n));
                let new = L::load(four(window, TAPS - 1 - k + 4 * n));
                let sum = old.add(new);
                sums[0][n] = sum.fma(by[0], sums[0][n]);
                sums[1][n] = old.sub(new).fma(by[1], sums[1][n]);
                sums[2][n] = sum.fma(by[2], sums[2][n]);
                n += 1;
            }
            k += 1;
        }
        let [by_sum, by_difference, middle] = sums;
        for n in 0..2 {
            let at = from + 4 * n;
            let found = [
                *four(window, HALF - 1 + 4 * n),
                by_sum[n].add(by_difference[n]).store(),
                middle[n].store(),
                by_sum[n].sub(by_difference[n]).store(),
            ];
            for (place, found) in places.iter_mut().zip(found) {
                if let Some(to) = place[at..].first_chunk_mut::<4>() {
                    *to = found;
                }
            }
        }
    }
}

#[inline(always)]
fn four(window: &[f64; KEPT + TOGETHER], at: usize) -> &[f64; 4] {
    window[at..].first_chunk().unwrap_or(&[0.0; 4])
}

/// The samples' weights at a place `fraction` of a sample after the one before the middle.
fn taps(fraction: f64) -> [f64; TAPS] {
    let half = HALF as f64;
    let mut taps: [f64; TAPS] = std::array::from_fn(|k| {
        let x = k as f64 - (half - 1.0) - fraction;
        let window = (1.0 - (x / half).powi(2)).max(0.0).sqrt();
        (PI * x).sin() / (PI * x) * bessel_i0(BETA * window) / bessel_i0(BETA)
    });
    let sum: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= sum);
    taps
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Keeps everything.
    #[derive(Default)]
    struct Tape(Vec<[f64; 4]>);

    impl Looks for Tape {
        fn look(&mut self, places: &Places, count: usize) {
            self.0
                .extend((0..count).map(|n| [0, 1, 2, 3].map(|place: usize| places[place][n])));
        }
    }

    fn tone(turn: f64) -> Vec<f64> {
        (0..400).map(|n| (turn * f64::from(n)).sin()).collect()
    }

    /// A tone comes out as it would be between its samples.
    #[test]
    fn every_place_is_where_it_should_be() {
        for percent in 1..=41 {
            let turn = 2.0 * PI * f64::from(percent) / 100.0;
            let (mut between, mut tape) = (Between::prepare(), Tape::default());
            between.process(&tone(turn), &mut tape);
            let mut off = 0.0_f64;
            assert_eq!(tape.0.len(), 400);
            for (n, places) in tape.0.iter().enumerate().skip(TAPS + 1) {
                // The sample handed on is the twelfth before.
                for (place, got) in places.iter().enumerate() {
                    let want = (turn * (n as f64 - HALF as f64 + 0.25 * place as f64)).sin();
                    off = off.max((got - want).abs());
                }
            }
            println!("{percent} % of the rate: off by {off:.1e}");
            assert!(off < 0.0035, "{off}: 0.03 dB");
        }
    }

    #[test]
    fn blocks_of_any_size_and_every_processor_give_the_same() {
        let samples = tone(0.7);
        let mut whole = Tape::default();
        Between::prepare().process(&samples, &mut whole);
        for size in [1, 3, 8, 63, 64, 65] {
            let (mut between, mut tape) = (Between::prepare(), Tape::default());
            let chunks = samples.chunks(size);
            chunks.for_each(|chunk| between.process(chunk, &mut tape));
            assert_eq!(tape.0, whole.0, "{size}");
        }
        let mut portable = Tape::default();
        Between::prepare().process_in::<Portable>(&samples, &mut portable);
        for (one, other) in portable.0.iter().flatten().zip(whole.0.iter().flatten()) {
            assert!((one - other).abs() < 1e-14, "{one} {other}");
        }
    }

    #[test]
    fn samples_that_are_close_are_taken_as_they_are() {
        let samples = tone(0.1);
        let mut tape = Tape::default();
        Between::prepare_at(192_000.0).process(&samples, &mut tape);
        for (places, sample) in tape.0.iter().zip(&samples) {
            assert_eq!(places, &[*sample; 4]);
        }
    }
}
