//! Quantisation to 24 bits with triangular dither.
//!
//! Source: S. P. Lipshitz, R. A. Wannamaker and J. Vanderkooy, "Quantization and Dither: A
//! Theoretical Survey", J. Audio Eng. Soc. 40 (1992): non-subtractive dither of triangular
//! density and 2 LSB peak-to-peak width, the sum of two independent uniform variables of 1 LSB,
//! makes mean and variance of the total error independent of the signal; the variance is
//! LSB^2 / 4. Both hold for silence too, so silence is dithered like anything else.

/// Quantiser steps from 0 to full scale.
const FULL_SCALE: f64 = (1u32 << 23) as f64;

/// Start of the random sequence: any number serves; a fixed one makes equal renders equal files.
const SEED: u64 = 0x5eed_0f1e_55d1_7e42;

/// Rounds samples to 24 bits, dithering each and counting those beyond full scale.
#[derive(Debug)]
pub(super) struct Quantiser {
    state: u64,
    clipped_samples: u64,
}

impl Quantiser {
    /// A quantiser at the start of its sequence.
    pub(super) fn new() -> Self {
        Self {
            state: SEED,
            clipped_samples: 0,
        }
    }

    /// The 24-bit integer for a finite sample (full scale 1.0). Beyond +-1.0 it clips and counts.
    /// +1.0 itself has no 24-bit integer; it becomes the largest, one step below, uncounted.
    pub(super) fn quantise(&mut self, sample: f64) -> i32 {
        if sample.abs() > 1.0 {
            self.clipped_samples += 1;
        }
        let steps = (sample * FULL_SCALE + self.triangular()).round();
        steps.clamp(-FULL_SCALE, FULL_SCALE - 1.0) as i32
    }

    /// Samples beyond full scale so far.
    pub(super) fn clipped_samples(&self) -> u64 {
        self.clipped_samples
    }

    /// A number from -1 to 1 LSB with triangular density and mean 0: the halves of one 64-bit
    /// random number are two uniform ones.
    fn triangular(&mut self) -> f64 {
        let bits = self.random();
        let sum = (bits >> 32) + (bits & 0xffff_ffff) + 1;
        sum as f64 / (1u64 << 32) as f64 - 1.0
    }

    /// SplitMix64 (G. L. Steele, D. Lea and C. H. Flood, "Fast Splittable Pseudorandom Number
    /// Generators", OOPSLA 2014).
    fn random(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}
