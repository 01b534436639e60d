//! Four numbers at once: one code for AVX2 with FMA and for any other processor.
//!
//! The step of the circuit is written once over [`Lanes`] and compiled twice; which is run is decided
//! when the program runs. Every lane is computed by itself, so that the results of one never depend
//! on its neighbours.

use std::sync::OnceLock;

/// Four 64-bit numbers.
pub(super) trait Lanes: Copy {
    fn splat(x: f64) -> Self;
    fn load(x: &[f64; 4]) -> Self;
    fn store(self) -> [f64; 4];
    fn add(self, other: Self) -> Self;
    fn sub(self, other: Self) -> Self;
    fn mul(self, other: Self) -> Self;
    /// self times `by` plus `plus`; rounded once where the processor can.
    fn fma(self, by: Self, plus: Self) -> Self;
    fn abs(self) -> Self;
    /// Within the bounds; what is no number becomes `low`.
    fn clamp(self, low: Self, high: Self) -> Self;
    /// Whether every lane is less than that of `other`.
    fn all_less(self, other: Self) -> bool;
    /// Whole numbers not above the lanes, which are from 0 to 2^31, and what is above them.
    fn split(self) -> ([usize; 4], Self);
    /// Rows as columns.
    fn columns(rows: [&[f64; 4]; 4]) -> [Self; 4];
}

/// For any processor.
#[derive(Clone, Copy)]
pub(super) struct Portable([f64; 4]);

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
    fn fma(self, by: Self, plus: Self) -> Self {
        Self(std::array::from_fn(|n| self.0[n] * by.0[n] + plus.0[n]))
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Self(self.0.map(f64::abs))
    }
    #[inline(always)]
    fn clamp(self, low: Self, high: Self) -> Self {
        // Not `f64::clamp`, which keeps what is no number.
        self.with(low, |x, low| if x > low { x } else { low })
            .with(high, |x, high| if x < high { x } else { high })
    }
    #[inline(always)]
    fn all_less(self, other: Self) -> bool {
        (0..4).all(|n| self.0[n] < other.0[n])
    }
    #[inline(always)]
    fn split(self) -> ([usize; 4], Self) {
        let [a, b, c, d] = self.0;
        let index = [a as i32, b as i32, c as i32, d as i32];
        let [e, f, g, h] = index.map(f64::from);
        (
            index.map(|index| index as usize),
            Self([a - e, b - f, c - g, d - h]),
        )
    }
    #[inline(always)]
    fn columns(rows: [&[f64; 4]; 4]) -> [Self; 4] {
        std::array::from_fn(|column| Self(rows.map(|row| row[column])))
    }
}

/// For processors with AVX2 and FMA; made only where [`avx2`] says so.
#[cfg(target_arch = "x86_64")]
#[derive(Clone, Copy)]
pub(super) struct Avx2(std::arch::x86_64::__m256d);

#[cfg(target_arch = "x86_64")]
#[expect(
    unsafe_code,
    reason = "each instruction is there: this type is used only behind `avx2`"
)]
mod intrinsics {
    use super::{Avx2, Lanes};
    use std::arch::x86_64::{
        _CMP_LT_OQ, _mm_cvtsi128_si64, _mm_extract_epi64, _mm256_add_pd, _mm256_andnot_pd,
        _mm256_cmp_pd, _mm256_cvtepi32_pd, _mm256_cvttpd_epi32, _mm256_fmadd_pd, _mm256_loadu_pd,
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
        fn fma(self, by: Self, plus: Self) -> Self {
            Self(unsafe { _mm256_fmadd_pd(self.0, by.0, plus.0) })
        }
        #[inline(always)]
        fn abs(self) -> Self {
            Self(unsafe { _mm256_andnot_pd(_mm256_set1_pd(-0.0), self.0) })
        }
        #[inline(always)]
        fn clamp(self, low: Self, high: Self) -> Self {
            // When one is no number, the second is taken.
            Self(unsafe { _mm256_min_pd(_mm256_max_pd(self.0, low.0), high.0) })
        }
        #[inline(always)]
        fn all_less(self, other: Self) -> bool {
            unsafe { _mm256_movemask_pd(_mm256_cmp_pd::<_CMP_LT_OQ>(self.0, other.0)) == 0b1111 }
        }
        #[inline(always)]
        fn split(self) -> ([usize; 4], Self) {
            unsafe {
                let index = _mm256_cvttpd_epi32(self.0);
                let whole = _mm256_cvtepi32_pd(index);
                let low = _mm_cvtsi128_si64(index) as u64;
                let high = _mm_extract_epi64::<1>(index) as u64;
                let index = [
                    (low & 0xffff_ffff) as usize,
                    (low >> 32) as usize,
                    (high & 0xffff_ffff) as usize,
                    (high >> 32) as usize,
                ];
                (index, Self(_mm256_sub_pd(self.0, whole)))
            }
        }
        #[inline(always)]
        fn columns(rows: [&[f64; 4]; 4]) -> [Self; 4] {
            let [a, b, c, d] = rows.map(|row| Self::load(row).0);
            unsafe {
                let (low, high) = (_mm256_unpacklo_pd(a, b), _mm256_unpackhi_pd(a, b));
                let (low_2, high_2) = (_mm256_unpacklo_pd(c, d), _mm256_unpackhi_pd(c, d));
                [
                    Self(_mm256_permute2f128_pd::<0x20>(low, low_2)),
                    Self(_mm256_permute2f128_pd::<0x20>(high, high_2)),
                    Self(_mm256_permute2f128_pd::<0x31>(low, low_2)),
                    Self(_mm256_permute2f128_pd::<0x31>(high, high_2)),
                ]
            }
        }
    }
}

/// Whether this processor has AVX2 and FMA, and the environment does not forbid their use
/// (`PENSTOCK_PORTABLE`, set and not `0`; read once).
pub(super) fn avx2() -> bool {
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
