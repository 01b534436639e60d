//! Seeded random numbers: the same on every machine and in every run.

/// The splitmix64 generator (Steele, Lea, Flood: "Fast splittable pseudorandom number
/// generators", 2014).
#[derive(Clone, Debug)]
pub struct Random {
    state: u64,
}

impl Random {
    /// Starts at `seed`.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly between `low` and `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        let unit = (self.bits() >> 11) as f64 / (1u64 << 53) as f64;
        low + (high - low) * unit
    }

    /// Between `low` and `high`, evenly on a logarithmic axis.
    pub fn spread(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// One of `choices`.
    pub fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[(self.bits() % choices.len() as u64) as usize]
    }
}
