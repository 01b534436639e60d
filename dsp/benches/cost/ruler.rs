//! Time, and the processor's own measure of it.

use std::hint::black_box;
use std::time::Instant;

/// Rounds in which every row is measured once.
const ROUNDS: usize = 9;

/// Rows of a table that are measured in turn, round after round, and the processor's FMA with them: what
/// slows the machine down for a while slows them all. The least of a row counts.
#[derive(Default)]
pub struct Rows<'a> {
    rows: Vec<Row<'a>>,
}

struct Row<'a> {
    /// Stands above it.
    heading: Option<&'static str>,
    name: String,
    frames: usize,
    run: Box<dyn FnMut() + 'a>,
    least_ns: f64,
}

impl<'a> Rows<'a> {
    /// One more; a run takes so many frames.
    pub fn add(&mut self, name: impl Into<String>, frames: usize, run: impl FnMut() + 'a) {
        self.rows.push(Row {
            heading: None,
            name: name.into(),
            frames,
            run: Box::new(run),
            least_ns: f64::INFINITY,
        });
    }

    /// One more, below a heading.
    pub fn begin(
        &mut self,
        heading: &'static str,
        name: impl Into<String>,
        frames: usize,
        run: impl FnMut() + 'a,
    ) {
        self.add(name, frames, run);
        if let Some(row) = self.rows.last_mut() {
            row.heading = Some(heading);
        }
    }

    /// Measures and prints them; gives the nanoseconds a frame of each.
    pub fn table(mut self) -> Vec<f64> {
        let mut fma_ns = f64::INFINITY;
        for _ in 0..ROUNDS {
            fma_ns = fma_ns.min(fma());
            for row in &mut self.rows {
                row.least_ns = row.least_ns.min(least(1, &mut row.run));
            }
        }
        println!("one FMA: {fma_ns:.4} ns");
        let line = |row: Row<'_>| {
            if let Some(heading) = row.heading {
                println!("\n{heading}");
            }
            let ns = row.least_ns / row.frames as f64;
            let times = ns / fma_ns;
            println!(
                "{:<52} {ns:>8.0} ns a frame {times:>8.0} FMA-times",
                row.name
            );
            ns
        };
        self.rows.into_iter().map(line).collect()
    }
}

/// One 256-bit FMA when ten chains run side by side, in nanoseconds. A processor without FMA is measured by
/// multiplications and additions.
fn fma() -> f64 {
    const FMAS: u64 = 1_000_000;
    let chains = 10.0;
    least(3, || chains_of(FMAS)) / (FMAS as f64 * chains)
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
