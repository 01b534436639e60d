//! Four numbers at once: one code for AVX2 with FMA and for any other processor.
//!
//! The step of the circuit is written once over [`Lanes`] and compiled twice; which is run is decided
//! when the program runs. Every lane is computed by itself, so that the results of one never depend
//! on its neighbours.

use std::sync::OnceLock;

/// Four 64-bit numbers.
///
/// A mask is lanes too, of which only the highest bit counts: as [`Lanes::less`] makes them.
pub(crate) trait Lanes: Copy {
    fn splat(x: f64) -> Self;
    fn load(x: &[f64; 4]) -> Self;
    fn store(self) -> [f64; 4];
    fn add(self, other: Self) -> Self;
    fn sub(self, other: Self) -> Self;
    fn mul(self, other: Self) -> Self;
    fn div(self, other: Self) -> Self;
    /// self times `by` plus `plus`; rounded once where the processor can.
    fn fma(self, by: Self, plus: Self) -> Self;
    /// `from` less self times `by`.
    fn fnma(self, by: Self, from: Self) -> Self;
    fn abs(self) -> Self;
    /// The lesser ones; `other` where one is no number.
    fn min(self, other: Self) -> Self;
    /// The greater ones; `other` where one is no number.
    fn max(self, other: Self) -> Self;
    /// Within the bounds; what is no number becomes `low`.
    fn clamp(self, low: Self, high: Self) -> Self;
    /// Where less than `other`.
    fn less(self, other: Self) -> Self;
    /// Of a mask: `yes` where it is set, `no` elsewhere.
    fn select(self, yes: Self, no: Self) -> Self;
    /// Of a mask: a bit a lane, the first lowest.
    fn bits(self) -> u8;
    /// Halves exchanged.
    fn swapped(self) -> Self;
    /// Lanes 0 and 2 of self, 1 and 3 of `other`.
    fn paired(self, other: Self) -> Self;
    /// Lanes 0 and 2 of self each before that of `other`.
    fn evens(self, other: Self) -> Self;
    /// Lanes 1 and 3 of self each before that of `other`.
    fn odds(self, other: Self) -> Self;
    /// For lanes from 0 to less than [`PIECES`]: the numbers at their whole parts in tables, lanes 0 and
    /// 1 in the first one, the others in the second; and what is above the whole parts.
    fn look<const W: usize>(self, tables: [&[[f64; W]; PIECES]; 2]) -> ([Self; W], Self);
}

/// Lines of a table: a power of two, so that any index can be made one of theirs.
pub(crate) const PIECES: usize = 4096;

/// For any processor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Portable([f64; 4]);

impl Portable {
    #[inline(always)]
    fn with(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        Self(std::array::from_fn(|n| f(self.0[n], other.0[n])))
    }
}

impl Lanes for Portable {
    #[inline(always)]
    fn splat(x: f64) -> Self {
        Self([x; 4])
    }
    #[inline(always)]
    fn load(x: &[f64; 4]) -> Self {
        Self(*x)
    }
    #[inline(always)]
    fn store(self) -> [f64; 4] {
        self.0
    }
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.with(other, |a, b| a + b)
    }
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.with(other, |a, b| a - b)
    }
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.with(other, |a, b| a * b)
    }
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        self.with(other, |a, b| a / b)
    }
    #[inline(always)]
    fn fma(self, by: Self, plus: Self) -> Self {
        Self(std::array::from_fn(|n| self.0[n] * by.0[n] + plus.0[n]))
    }
    #[inline(always)]
    fn fnma(self, by: Self, from: Self) -> Self {
        Self(std::array::from_fn(|n| from.0[n] - self.0[n] * by.0[n]))
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Self(self.0.map(f64::abs))
    }
    #[inline(always)]
    fn min(self, other: Self) -> Self {
        self.with(other, |a, b| if a < b { a } else { b })
    }
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        self.with(other, |a, b| if a > b { a } else { b })
    }
    #[inline(always)]
    fn clamp(self, low: Self, high: Self) -> Self {
        // Not `f64::clamp`, which keeps what is no number.
        self.max(low).min(high)
    }
    #[inline(always)]
    fn less(self, other: Self) -> Self {
        self.with(other, |a, b| if a < b { -1.0 } else { 0.0 })
    }
    #[inline(always)]
    fn select(self, yes: Self, no: Self) -> Self {
        Self(std::array::from_fn(|n| {
            if self.0[n].is_sign_negative() {
                yes.0[n]
            } else {
                no.0[n]
            }
        }))
    }
    #[inline(always)]
    fn bits(self) -> u8 {
        (0..4).fold(0, |bits, n| {
            bits | u8::from(self.0[n].is_sign_negative()) << n
        })
    }
    #[inline(always)]
    fn swapped(self) -> Self {
        let [a, b, c, d] = self.0;
        Self([c, d, a, b])
    }
    #[inline(always)]
    fn paired(self, other: Self) -> Self {
        Self([self.0[0], other.0[1], self.0[2], other.0[3]])
    }
    #[inline(always)]
    fn evens(self, other: Self) -> Self {
        Self([self.0[0], other.0[0], self.0[2], other.0[2]])
    }
    #[inline(always)]
    fn odds(self, other: Self) -> Self {
        Self([self.0[1], other.0[1], self.0[3], other.0[3]])
    }
    #[inline(always)]
    fn look<const W: usize>(self, tables: [&[[f64; W]; PIECES]; 2]) -> ([Self; W], Self) {
        let index = self.0.map(|place| place as i32 as usize % PIECES);
        let lines: [&[f64; W]; 4] = std::array::from_fn(|n| &tables[n / 2][index[n]]);
        let above = std::array::from_fn(|n| self.0[n] - f64::from(self.0[n] as i32));
        (
            std::array::from_fn(|column| Self(lines.map(|line| line[column]))),
            Self(above),
        )
    }
}

/// For processors with AVX2 and FMA; made only where [`avx2`] says so.
#[cfg(target_arch = "x86_64")]
#[derive(Clone, Copy, Debug)]
pub(crate) struct Avx2(std::arch::x86_64::__m256d);

#[cfg(target_arch = "x86_64")]
#[expect(
    unsafe_code,
    reason = "each instruction is there: this type is used only behind `avx2`"
)]
mod intrinsics {
    use super::{Avx2, Lanes, PIECES};
    use std::arch::x86_64::{
        _CMP_LT_OQ, _mm_and_si128, _mm_cvtsi128_si64, _mm_extract_epi64, _mm_loadu_pd,
        _mm_set1_epi32, _mm256_add_pd, _mm256_andnot_pd, _mm256_blend_pd, _mm256_blendv_pd,
        _mm256_castpd128_pd256, _mm256_cmp_pd, _mm256_cvtepi32_pd, _mm256_cvttpd_epi32,
        _mm256_div_pd, _mm256_fmadd_pd, _mm256_fnmadd_pd, _mm256_insertf128_pd, _mm256_loadu_pd,
        _mm256_max_pd, _mm256_min_pd, _mm256_movemask_pd, _mm256_mul_pd, _mm256_permute2f128_pd,
        _mm256_set1_pd, _mm256_storeu_pd, _mm256_sub_pd, _mm256_unpackhi_pd, _mm256_unpacklo_pd,
    };

    impl Lanes for Avx2 {
        #[inline(always)]
        fn splat(x: f64) -> Self {
            Self(unsafe { _mm256_set1_pd(x) })
        }
        #[inline(always)]
        fn load(x: &[f64; 4]) -> Self {
            Self(unsafe { _mm256_loadu_pd(x.as_ptr()) })
        }
        #[inline(always)]
        fn store(self) -> [f64; 4] {
            let mut x = [0.0; 4];
            unsafe { _mm256_storeu_pd(x.as_mut_ptr(), self.0) };
            x
        }
        #[inline(always)]
        fn add(self, other: Self) -> Self {
            Self(unsafe { _mm256_add_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn sub(self, other: Self) -> Self {
            Self(unsafe { _mm256_sub_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn mul(self, other: Self) -> Self {
            Self(unsafe { _mm256_mul_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn div(self, other: Self) -> Self {
            Self(unsafe { _mm256_div_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn fma(self, by: Self, plus: Self) -> Self {
            Self(unsafe { _mm256_fmadd_pd(self.0, by.0, plus.0) })
        }
        #[inline(always)]
        fn fnma(self, by: Self, from: Self) -> Self {
            Self(unsafe { _mm256_fnmadd_pd(self.0, by.0, from.0) })
        }
        #[inline(always)]
        fn abs(self) -> Self {
            Self(unsafe { _mm256_andnot_pd(_mm256_set1_pd(-0.0), self.0) })
        }
        #[inline(always)]
        fn min(self, other: Self) -> Self {
            // When one is no number, the second is taken; so with the greater ones.
            Self(unsafe { _mm256_min_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn max(self, other: Self) -> Self {
            Self(unsafe { _mm256_max_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn clamp(self, low: Self, high: Self) -> Self {
            self.max(low).min(high)
        }
        #[inline(always)]
        fn less(self, other: Self) -> Self {
            Self(unsafe { _mm256_cmp_pd::<_CMP_LT_OQ>(self.0, other.0) })
        }
        #[inline(always)]
        fn select(self, yes: Self, no: Self) -> Self {
            Self(unsafe { _mm256_blendv_pd(no.0, yes.0, self.0) })
        }
        #[inline(always)]
        fn bits(self) -> u8 {
            unsafe { _mm256_movemask_pd(self.0) as u8 }
        }
        #[inline(always)]
        fn swapped(self) -> Self {
            Self(unsafe { _mm256_permute2f128_pd::<0x01>(self.0, self.0) })
        }
        #[inline(always)]
        fn paired(self, other: Self) -> Self {
            Self(unsafe { _mm256_blend_pd::<0b1010>(self.0, other.0) })
        }
        #[inline(always)]
        fn evens(self, other: Self) -> Self {
            Self(unsafe { _mm256_unpacklo_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn odds(self, other: Self) -> Self {
            Self(unsafe { _mm256_unpackhi_pd(self.0, other.0) })
        }
        #[inline(always)]
        fn look<const W: usize>(self, tables: [&[[f64; W]; PIECES]; 2]) -> ([Self; W], Self) {
            const { assert!(W.is_multiple_of(4) && PIECES.is_power_of_two()) };
            let mut columns = [self; W];
            unsafe {
                let whole = _mm256_cvttpd_epi32(self.0);
                let above = _mm256_sub_pd(self.0, _mm256_cvtepi32_pd(whole));
                // Whatever the lanes are, this is a line of the table.
                let index = _mm_and_si128(whole, _mm_set1_epi32(PIECES as i32 - 1));
                let low = _mm_cvtsi128_si64(index) as u64;
                let high = _mm_extract_epi64::<1>(index) as u64;
                let (one, two) = (tables[0].as_ptr(), tables[1].as_ptr());
                let a = one.add((low & 0xffff_ffff) as usize).cast::<f64>();
                let b = one.add((low >> 32) as usize).cast::<f64>();
                let c = two.add((high & 0xffff_ffff) as usize).cast::<f64>();
                let d = two.add((high >> 32) as usize).cast::<f64>();
                let mut n = 0;
                while n < W {
                    let first = _mm256_castpd128_pd256(_mm_loadu_pd(a.add(n)));
                    let second = _mm256_castpd128_pd256(_mm_loadu_pd(b.add(n)));
                    let first = _mm256_insertf128_pd::<1>(first, _mm_loadu_pd(c.add(n)));
                    let second = _mm256_insertf128_pd::<1>(second, _mm_loadu_pd(d.add(n)));
                    columns[n] = Self(_mm256_unpacklo_pd(first, second));
                    columns[n + 1] = Self(_mm256_unpackhi_pd(first, second));
                    n += 2;
                }
                (columns, Self(above))
            }
        }
    }
}

/// Whether this processor has AVX2 and FMA, and the environment does not forbid their use
/// (`PENSTOCK_PORTABLE`, set and not `0`; read once).
pub(crate) fn avx2() -> bool {
    #[cfg(target_arch = "x86_64")]
    {
        static HAS: OnceLock<bool> = OnceLock::new();
        *HAS.get_or_init(|| {
            let forbidden = std::env::var_os("PENSTOCK_PORTABLE")
                .is_some_and(|value| !value.is_empty() && value != "0");
            !forbidden && is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")
        })
    }
    #[cfg(not(target_arch = "x86_64"))]
    false
}
