//! What blocks of samples come to: sum, squares and peak, at one point or at all analog ones at once.

use crate::chain::AnalogBlock;
use crate::circuit::Seen;
use crate::circuit::lanes::{self, Lanes, Portable};

/// What was heard at one point comes to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    pub(super) sum: f64,
    pub(super) squares: f64,
    pub(super) peak: f64,
    pub(super) samples: f64,
}

impl Sums {
    /// Of samples of one point.
    pub(super) fn of(samples: &[f64]) -> Self {
        // Four side by side: none waits for the one before.
        let mut four = [Self::default(); 4];
        let (fours, rest) = samples.as_chunks::<4>();
        for samples in fours {
            for (sums, sample) in four.iter_mut().zip(samples) {
                sums.count(*sample);
            }
        }
        let [mut sums, others @ ..] = four;
        rest.iter().for_each(|sample| sums.count(*sample));
        others.iter().for_each(|other| sums.add(other));
        sums.samples = samples.len() as f64;
        sums
    }

    #[inline(always)]
    fn count(&mut self, sample: f64) {
        self.sum += sample;
        self.squares += sample * sample;
        self.peak = larger(sample.abs(), self.peak);
    }

    /// Of each analog point.
    pub(super) fn of_all(block: &AnalogBlock<'_>) -> [Self; 6] {
        #[cfg(target_arch = "x86_64")]
        if lanes::avx2() {
            #[expect(unsafe_code, reason = "the processor has what `lanes::avx2` looks for")]
            return unsafe { of_all_avx2(block) };
        }
        of_all_in::<Portable>(block)
    }

    /// And those of what came next.
    pub(super) fn add(&mut self, other: &Self) {
        self.sum += other.sum;
        self.squares += other.squares;
        self.peak = larger(other.peak, self.peak);
        self.samples += other.samples;
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn of_all_avx2(block: &AnalogBlock<'_>) -> [Sums; 6] {
    of_all_in::<lanes::Avx2>(block)
}

#[inline(always)]
fn of_all_in<L: Lanes>(block: &AnalogBlock<'_>) -> [Sums; 6] {
    let Some(plain) = block.plain() else {
        let (mut sums, mut count) = ([Sums::default(); 6], 0);
        block.each(|volts| {
            count += 1;
            for (sums, volts) in sums.iter_mut().zip(volts.in_order()) {
                sums.count(volts);
            }
        });
        sums.iter_mut()
            .for_each(|sums| sums.samples = f64::from(count));
        return sums;
    };
    let (line, mic) = (plain.line_out, plain.mic_in);
    let by_primary = L::load(&[line[0], mic[0], line[0], mic[0]]);
    let by_emf = L::load(&[line[1], mic[1], line[1], mic[1]]);
    // Two samples side by side, of the line output and the input terminals in one row: none waits for the other.
    let (mut row, mut next, mut ends) = (Four::<L>::nothing(), Four::nothing(), Four::nothing());
    let (pairs, rest) = plain.seen.as_chunks::<2>();
    for [one, other] in pairs {
        row.add(row_of(one));
        next.add(row_of(other));
        ends.add(by_emf.fma(
            L::load(&[one.emf, one.emf, other.emf, other.emf]),
            by_primary.mul(L::load(&[
                one.primary,
                one.primary,
                other.primary,
                other.primary,
            ])),
        ));
    }
    for last in rest {
        row.add(row_of(last));
        let primary = L::load(&[last.primary, last.primary, 0.0, 0.0]);
        let emf = L::load(&[last.emf, last.emf, 0.0, 0.0]);
        ends.add(by_emf.fma(emf, by_primary.mul(primary)));
    }
    let samples = plain.seen.len() as f64;
    let (row, ends) = (row.with(next).sums(samples), ends.sums(0.0));
    let end = |n: usize| {
        let mut end = ends[n];
        end.add(&ends[n + 2]);
        Sums { samples, ..end }
    };
    [end(0), end(1), row[3], row[0], row[1], row[2]]
}

/// Grids, output and primary.
#[inline(always)]
fn row_of<L: Lanes>(seen: &Seen) -> L {
    L::load(&[seen.grid_1, seen.grid_2, seen.out, seen.primary])
}

/// Four points at once.
struct Four<L> {
    sum: L,
    squares: L,
    peak: L,
}

impl<L: Lanes> Four<L> {
    fn nothing() -> Self {
        let [sum, squares, peak] = [L::splat(0.0); 3];
        Self { sum, squares, peak }
    }

    #[inline(always)]
    fn add(&mut self, volts: L) {
        self.sum = self.sum.add(volts);
        self.squares = volts.fma(volts, self.squares);
        self.peak = volts.abs().max(self.peak);
    }

    fn with(self, other: Self) -> Self {
        Self {
            sum: self.sum.add(other.sum),
            squares: self.squares.add(other.squares),
            peak: self.peak.max(other.peak),
        }
    }

    fn sums(self, samples: f64) -> [Sums; 4] {
        let (sum, squares) = (self.sum.store(), self.squares.store());
        let peak = self.peak.store();
        std::array::from_fn(|n| Sums {
            sum: sum[n],
            squares: squares[n],
            peak: peak[n],
            samples,
        })
    }
}

/// The larger of a new size and the largest before; that one if the new one is no number.
#[inline(always)]
fn larger(size: f64, most: f64) -> f64 {
    if size > most { size } else { most }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chain::{Chain, Observer};
    use crate::oversample::Oversampling;
    use crate::plan::Plan;
    use crate::units::SampleRate;

    /// The sums of each block by both codes, and of the same voltages one by one.
    struct Both {
        blocks: usize,
    }

    impl Observer for Both {
        fn bus(&mut self, _: usize, _: &[f64]) {}
        fn back(&mut self, _: usize, _: &[f64]) {}
        fn analog(&mut self, _: usize, block: &AnalogBlock<'_>) {
            let mut volts = Vec::new();
            block.each(|at| volts.push(at));
            let known = AnalogBlock::of(&volts);
            assert!(known.plain().is_none());
            for quick in [Sums::of_all(block), of_all_in::<Portable>(block)] {
                for (quick, one) in quick.iter().zip(Sums::of_all(&known)) {
                    assert!((quick.sum - one.sum).abs() < 1e-9);
                    assert!((quick.squares - one.squares).abs() < 1e-9 * (1.0 + one.squares));
                    assert!((quick.peak - one.peak).abs() < 1e-12 * (1.0 + one.peak));
                    assert_eq!(quick.samples, volts.len() as f64);
                }
            }
            self.blocks += 1;
        }
    }

    #[test]
    fn sums_of_all_points_are_those_of_each() {
        for sets in [
            &["preamp.noise=off", "preamp.attenuator_db=0"],
            &["preamp.noise=off", "preamp.attenuator_db=20"],
            &["preamp.noise=on", "preamp.attenuator_db=20"],
        ] {
            let mut plan = Plan::default();
            for set in sets {
                plan.assign(set).expect("a key and its value");
            }
            let rate = SampleRate::STUDIO;
            let mut chain = Chain::prepare_nearest(&plan, rate, 2, Oversampling::Four);
            let mut both = Both { blocks: 0 };
            let sine = |n: u16| 0.4 * (0.13 * f64::from(n)).sin();
            let mut one: Vec<f64> = (0..480).map(sine).collect();
            let mut other: Vec<f64> = one.iter().map(|sample| 0.3 - sample).collect();
            chain.process(&mut [&mut one, &mut other], &mut both);
            assert!(both.blocks >= 2 * 480 * 4 / 64, "{}", both.blocks);
        }
    }
}
