//! One doubling or halving of the rate: a Kaiser-windowed half-band FIR.
//!
//! A half-band of odd length with its centre at an odd index has zeros at every other tap but the
//! centre, which is 1/2; up- and downsampling then need one short symmetric filter and one pure
//! delay. Source: Kaiser's window design formulas (J. F. Kaiser, 1974; as in Oppenheim and
//! Schafer, *Discrete-Time Signal Processing*, section 7.5.3): for a stop-band of `A` dB and a
//! transition of `w` rad/sample, beta = 0.1102 (A - 8.7), taps - 1 = (A - 7.95) / (2.285 w).

use std::f64::consts::PI;

/// Places computed side by side, so that none waits for another's sum.
const TOGETHER: usize = 8;

/// A half-band low-pass at a quarter of the rate it runs at.
#[derive(Clone, Debug)]
pub struct HalfBand {
    /// Taps at odd distances from the centre, outermost first, one side; sums to 1/4.
    side: Vec<f64>,
}

impl HalfBand {
    /// Stop-band attenuation designed for, in dB. The pass-band error of a half-band equals its
    /// stop-band error: 1e-6 a stage keeps six passes within 0.0001 dB.
    pub const STOP_BAND_DB: f64 = 122.0;

    /// The half-band between `rate_hz` and twice that, exact up to `pass_hz`.
    #[must_use]
    pub fn design(rate_hz: f64, pass_hz: f64) -> Self {
        let transition = 2.0 * PI * (rate_hz - 2.0 * pass_hz) / (2.0 * rate_hz);
        let beta = 0.1102 * (Self::STOP_BAND_DB - 8.7);
        let least_taps = (Self::STOP_BAND_DB - 7.95) / (2.285 * transition) + 1.0;
        // 4 k + 3 taps: the centre is then at an odd index.
        let pairs = ((least_taps - 3.0) / 4.0).ceil().max(0.0) + 1.0;
        let centre = 2.0 * pairs - 1.0;
        let mut side = Vec::new();
        let mut distance = centre;
        while distance >= 1.0 {
            let window = bessel_i0(beta * (1.0 - (distance / centre).powi(2)).sqrt());
            side.push((PI * distance / 2.0).sin() / (PI * distance) * window / bessel_i0(beta));
            distance -= 2.0;
        }
        let scale = 0.25 / side.iter().sum::<f64>();
        side.iter_mut().for_each(|tap| *tap *= scale);
        Self { side }
    }

    /// Delay in samples of the higher rate: the index of the centre tap.
    #[must_use]
    pub fn delay(&self) -> usize {
        2 * self.side.len() - 1
    }

    /// Every tap, zeros included.
    #[must_use]
    pub fn taps(&self) -> Vec<f64> {
        let mut taps = vec![0.0; 2 * self.delay() + 1];
        let last = taps.len() - 1;
        for (index, tap) in self.side.iter().enumerate() {
            taps[2 * index] = *tap;
            taps[last - 2 * index] = *tap;
        }
        taps[self.delay()] = 0.5;
        taps
    }

    /// The symmetric filter times `gain`, at every place of `out` from the first of `history` on. Each
    /// place is added up in the same order, however many are taken together.
    fn fold(&self, history: &[f64], gain: f64, out: &mut [f64]) {
        let (together, rest) = out.as_chunks_mut();
        let mut from = 0;
        for sums in together {
            *sums = self.fold_at::<TOGETHER>(&history[from..], gain);
            from += TOGETHER;
        }
        for sum in rest {
            [*sum] = self.fold_at::<1>(&history[from..], gain);
            from += 1;
        }
    }

    #[inline(always)]
    fn fold_at<const N: usize>(&self, history: &[f64], gain: f64) -> [f64; N] {
        let newest = 2 * self.side.len() - 1;
        let mut sums = [0.0; N];
        for (k, tap) in self.side.iter().enumerate() {
            let (old, new) = (&history[k..k + N], &history[newest - k..newest - k + N]);
            for (sum, (old, new)) in sums.iter_mut().zip(old.iter().zip(new)) {
                *sum += tap * (old + new);
            }
        }
        sums.map(|sum| gain * sum)
    }
}

/// Modified Bessel function of the first kind, order zero, by its power series.
pub(crate) fn bessel_i0(x: f64) -> f64 {
    let quarter = 0.25 * x * x;
    let (mut term, mut sum, mut n) = (1.0, 1.0, 1.0);
    while term > 1e-17 * sum {
        term *= quarter / (n * n);
        sum += term;
        n += 1.0;
    }
    sum
}

/// Doubles the rate, block by block.
#[derive(Clone, Debug)]
pub(super) struct Up {
    filter: HalfBand,
    /// The last `2 * side - 1` inputs, then the block.
    history: Vec<f64>,
    /// Room for the samples of a block that lie between the inputs.
    between: Vec<f64>,
}

impl Up {
    pub(super) fn prepare(filter: HalfBand, block: usize) -> Self {
        let history = vec![0.0; 2 * filter.side.len() - 1 + block];
        Self {
            filter,
            history,
            between: vec![0.0; block],
        }
    }

    pub(super) fn reset(&mut self) {
        self.history.fill(0.0);
    }

    /// Goes on where another filter of the same design is.
    pub(super) fn copy_from(&mut self, other: &Self) {
        self.history.copy_from_slice(&other.history);
    }

    /// `output` is twice as long as `input`, which is at most the prepared block.
    pub(super) fn process(&mut self, input: &[f64], output: &mut [f64]) {
        let window = 2 * self.filter.side.len();
        let kept = window - 1;
        self.history[kept..kept + input.len()].copy_from_slice(input);
        let centre = window - 1 - (self.filter.delay() - 1) / 2;
        let between = &mut self.between[..input.len()];
        self.filter.fold(&self.history, 2.0, between);
        let centres = &self.history[centre..];
        for (pair, (between, at)) in output.chunks_exact_mut(2).zip(between.iter().zip(centres)) {
            pair.copy_from_slice(&[*between, *at]);
        }
        self.history.copy_within(input.len()..input.len() + kept, 0);
    }
}

/// Halves the rate, block by block.
#[derive(Clone, Debug)]
pub(super) struct Down {
    filter: HalfBand,
    even: Vec<f64>,
    odd: Vec<f64>,
}

impl Down {
    /// `block` is counted at the lower rate.
    pub(super) fn prepare(filter: HalfBand, block: usize) -> Self {
        let even = vec![0.0; 2 * filter.side.len() - 1 + block];
        let odd = vec![0.0; filter.side.len() + block];
        Self { filter, even, odd }
    }

    pub(super) fn reset(&mut self) {
        self.even.fill(0.0);
        self.odd.fill(0.0);
    }

    /// Goes on where another filter of the same design is.
    pub(super) fn copy_from(&mut self, other: &Self) {
        self.even.copy_from_slice(&other.even);
        self.odd.copy_from_slice(&other.odd);
    }

    /// `input` is twice as long as `output`.
    pub(super) fn process(&mut self, input: &[f64], output: &mut [f64]) {
        let window = 2 * self.filter.side.len();
        let (kept, delay) = (window - 1, self.filter.side.len());
        for (n, pair) in input.chunks_exact(2).enumerate() {
            self.even[kept + n] = pair[0];
            self.odd[delay + n] = pair[1];
        }
        self.filter.fold(&self.even, 1.0, output);
        for (out, odd) in output.iter_mut().zip(&self.odd) {
            // The centre tap meets the odd sample (delay + 1) / 2 pairs ago.
            *out += 0.5 * odd;
        }
        self.even.copy_within(output.len()..output.len() + kept, 0);
        self.odd.copy_within(output.len()..output.len() + delay, 0);
    }
}
