//! Time, and the processor's own measure of it.

use std::hint::black_box;
use std::time::Instant;

/// What a duration is compared with.
pub struct Ruler {
    /// One 256-bit FMA when ten chains run side by side, in nanoseconds.
    pub fma_ns: f64,
}

impl Ruler {
    /// Measures the processor; one without FMA is measured by multiplications and additions.
    pub fn measured() -> Self {
        const ROUNDS: u64 = 5_000_000;
        let chains = 10.0;
        let fma_ns = least(5, || chains_of(ROUNDS)) / (ROUNDS as f64 * chains);
        Self { fma_ns }
    }

    /// A line of the table.
    pub fn line(&self, what: &str, ns_a_frame: f64) {
        let times = ns_a_frame / self.fma_ns;
        println!("{what:<52} {ns_a_frame:>8.0} ns a frame {times:>8.0} FMA-times");
    }
}

/// The least of so many runs, in nanoseconds.
pub fn least(runs: usize, mut run: impl FnMut()) -> f64 {
    let mut least = f64::INFINITY;
    for _ in 0..runs {
        let start = Instant::now();
        run();
        least = least.min(start.elapsed().as_secs_f64() * 1e9);
    }
    least
}

#[cfg(target_arch = "x86_64")]
fn chains_of(rounds: u64) {
    #[target_feature(enable = "avx2,fma")]
    fn with_fma(rounds: u64) {
        use std::arch::x86_64::{_mm256_fmadd_pd, _mm256_set1_pd};
        let (by, plus) = (
            _mm256_set1_pd(black_box(0.999)),
            _mm256_set1_pd(black_box(1e-3)),
        );
        let mut chains = [_mm256_set1_pd(1.0); 10];
        for _ in 0..rounds {
            for chain in &mut chains {
                *chain = _mm256_fmadd_pd(*chain, by, plus);
            }
        }
        black_box(chains);
    }
    if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
        // The processor has both.
        unsafe { with_fma(rounds) };
    } else {
        plain(rounds);
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn chains_of(rounds: u64) {
    plain(rounds);
}

fn plain(rounds: u64) {
    let (by, plus) = (black_box(0.999), black_box(1e-3));
    let mut chains = [[1.0; 4]; 10];
    for _ in 0..rounds {
        for number in chains.iter_mut().flatten() {
            *number = *number * by + plus;
        }
    }
    black_box(chains);
}
