//! The random numbers that noise in time is made of.

/// A sequence of one seed. Generator: xorshift64* (Vigna 2016).
#[derive(Clone, Copy, Debug)]
pub(super) struct Random(u64);

impl Random {
    /// At the start of a seed's sequence.
    pub(super) fn of(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// Of variance 1: four even numbers added, near enough to normal before several of these and the
    /// circuit's filters are added up.
    #[inline]
    pub(super) fn draw(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d);
        let sum: u64 = (0..4).map(|n| (bits >> (16 * n)) & 0xffff).sum();
        // Four numbers of variance (2^32 - 1)/12 around 2^15.
        (sum as f64 - 131_070.0) * (3.0 / 4_294_967_295.0_f64).sqrt()
    }
}
