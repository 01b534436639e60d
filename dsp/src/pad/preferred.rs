//! Preferred resistor values of IEC 60063.
//!
//! E12 and E24 are listed (the standard's rounding is historical: 24 values differ from the
//! formula at eight places); E96 is 10^(i/96) rounded to two decimals, without exception.

use crate::units::Ohms;
use std::sync::OnceLock;

const E12: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];
const E24: [f64; 24] = [
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6,
    6.2, 6.8, 7.5, 8.2, 9.1,
];

/// A series of resistor values one can buy.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Series {
    /// Any value: the design as calculated.
    Ideal,
    /// Twelve values a decade, usually 10 %.
    E12,
    /// Twenty-four values a decade, usually 5 %.
    E24,
    /// Ninety-six values a decade, usually 1 %.
    E96,
}

impl Series {
    /// The name, as plans and reports write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Ideal => "ideal",
            Self::E12 => "E12",
            Self::E24 => "E24",
            Self::E96 => "E96",
        }
    }

    /// The value of this series nearest to `wanted` on a logarithmic axis.
    ///
    /// Zero stays zero and infinity stays infinite: a wire and a gap need no purchase.
    #[must_use]
    pub fn nearest(self, wanted: Ohms) -> Ohms {
        if self == Self::Ideal || wanted.0 <= 0.0 || !wanted.0.is_finite() {
            return wanted;
        }
        let decade = wanted.0.log10().floor();
        // The neighbours below and above; the first of the next decade may be the one above.
        let mantissas = self.decade();
        let this = Decade::of(decade);
        let above = mantissas.partition_point(|mantissa| this.value(*mantissa) < wanted.0);
        let at = |place: usize| match mantissas.get(place) {
            Some(mantissa) => this.value(*mantissa),
            None => Decade::of(decade + 1.0).value(mantissas[0]),
        };
        let (low, high) = (at(above.saturating_sub(1)), at(above));
        let distance = |ohms: f64| (ohms / wanted.0).ln().abs();
        Ohms(if distance(high) < distance(low) {
            high
        } else {
            low
        })
    }

    /// Every value from `low` to `high`, ascending; none of [`Series::Ideal`].
    pub fn values(self, low: Ohms, high: Ohms) -> impl Iterator<Item = f64> {
        let decades = low.0.log10().floor() as i32..=high.0.log10().floor() as i32;
        decades
            .flat_map(move |decade| {
                let decade = Decade::of(f64::from(decade));
                self.decade()
                    .iter()
                    .map(move |mantissa| decade.value(*mantissa))
            })
            .filter(move |ohms| (low.0..=high.0).contains(ohms))
    }

    /// Mantissas of one decade, ascending from 1.
    fn decade(self) -> &'static [f64] {
        static E96: OnceLock<[f64; 96]> = OnceLock::new();
        match self {
            Self::Ideal => &[],
            Self::E12 => &E12,
            Self::E24 => &E24,
            Self::E96 => E96.get_or_init(|| {
                std::array::from_fn(|step| {
                    (10_f64.powf(step as f64 / 96.0) * 100.0).round() / 100.0
                })
            }),
        }
    }
}

/// A power of ten, worked out once for all its values.
#[derive(Clone, Copy, Debug)]
struct Decade {
    /// Of hundredths: to multiply with from 0, to divide by below.
    exponent: f64,
    power: f64,
}

impl Decade {
    fn of(decade: f64) -> Self {
        let exponent = decade - 2.0;
        Self {
            exponent,
            power: 10_f64.powf(exponent.abs()),
        }
    }

    /// Mantissa times the power, rounded as decimal text would be (6.8e2 is 680, not 679.999...).
    fn value(self, mantissa: f64) -> f64 {
        let hundredths = (mantissa * 100.0).round();
        if self.exponent >= 0.0 {
            hundredths * self.power
        } else {
            hundredths / self.power
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_count_of_each_series_is_its_name() {
        for (series, count) in [(Series::E12, 12), (Series::E24, 24), (Series::E96, 96)] {
            assert_eq!(series.decade().len(), count);
        }
    }

    #[test]
    fn nearest_is_on_the_log_axis_and_across_decades() {
        // Between 8.2 and 10 the logarithmic middle is 9.055, the arithmetic one 9.1.
        assert_eq!(Series::E12.nearest(Ohms(9.08)), Ohms(10.0));
        assert_eq!(Series::E12.nearest(Ohms(9.04)), Ohms(8.2));
        assert_eq!(Series::E24.nearest(Ohms(297.0)), Ohms(300.0));
        assert_eq!(Series::E96.nearest(Ohms(6.60027)), Ohms(6.65));
        assert_eq!(Series::E96.nearest(Ohms(296.713)), Ohms(294.0));
        assert_eq!(Series::E24.nearest(Ohms(0.0)), Ohms(0.0));
    }

    #[test]
    fn every_value_of_a_series_is_its_own_nearest() {
        for series in [Series::E12, Series::E24, Series::E96] {
            for mantissa in series.decade() {
                for decade in [-1.0, 0.0, 2.0, 4.0] {
                    let ohms = Ohms(Decade::of(decade).value(*mantissa));
                    assert_eq!(series.nearest(ohms), ohms);
                }
            }
        }
    }
}
