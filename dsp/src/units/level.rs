//! Levels in dBu, dBV and dBFS (points) and gains in dB (differences).
//!
//! Sources: IEC 60268-1 for the reference voltages of dBu and dBV; AES17 for dBFS.

use super::{Volts, VoltsPeak};
use std::ops::{Add, AddAssign, Neg, Sub};

/// Peak over RMS of a sine: the square root of two (3.0103 dB).
pub const SINE_PEAK_OVER_RMS: f64 = std::f64::consts::SQRT_2;

/// A gain, or a loss where the name says so: a difference of two levels, in decibels.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Db(pub f64);

impl Db {
    /// The gain whose voltage ratio is `ratio`; zero gives minus infinity.
    #[must_use]
    pub fn from_ratio(ratio: f64) -> Self {
        Self(20.0 * ratio.abs().log10())
    }

    /// The voltage ratio of this gain.
    #[must_use]
    pub fn ratio(self) -> f64 {
        10_f64.powf(self.0 / 20.0)
    }
}

impl Add for Db {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Db {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Db {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Db {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

macro_rules! level {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl Add<Db> for $name {
            type Output = Self;
            fn add(self, gain: Db) -> Self {
                Self(self.0 + gain.0)
            }
        }

        impl Sub<Db> for $name {
            type Output = Self;
            fn sub(self, loss: Db) -> Self {
                Self(self.0 - loss.0)
            }
        }

        impl Sub for $name {
            type Output = Db;
            fn sub(self, other: Self) -> Db {
                Db(self.0 - other.0)
            }
        }
    };
}

level! {
    /// A voltage level re sqrt(0.6) V RMS (the voltage of 1 mW in 600 ohm; no load is implied).
    Dbu
}
level! {
    /// A voltage level re 1 V RMS.
    Dbv
}
level! {
    /// A digital level by the sine-RMS convention of AES17: a full-scale sine is 0 dBFS.
    Dbfs
}

impl Dbu {
    /// The level of an RMS voltage; 0 V is minus infinity.
    #[must_use]
    pub fn from_volts(volts: Volts) -> Self {
        Self(10.0 * (volts.0 * volts.0 / 0.6).log10())
    }

    /// The RMS voltage of this level.
    #[must_use]
    pub fn volts(self) -> Volts {
        Volts(0.6_f64.sqrt() * 10_f64.powf(self.0 / 20.0))
    }

    /// The peak voltage of a sine at this level.
    #[must_use]
    pub fn sine_peak(self) -> VoltsPeak {
        VoltsPeak(self.volts().0 * SINE_PEAK_OVER_RMS)
    }

    /// The level of the sine that has this peak voltage.
    #[must_use]
    pub fn of_sine_peak(peak: VoltsPeak) -> Self {
        Self::from_volts(Volts(peak.0 / SINE_PEAK_OVER_RMS))
    }

    /// The same voltage on the dBV scale (2.2185 dB lower).
    #[must_use]
    pub fn dbv(self) -> Dbv {
        Dbv(self.0 + 10.0 * 0.6_f64.log10())
    }
}

impl Dbfs {
    /// The level of a digital signal whose RMS is `rms` (full scale = 1.0).
    #[must_use]
    pub fn from_rms(rms: f64) -> Self {
        Self(20.0 * (rms * SINE_PEAK_OVER_RMS).log10())
    }

    /// The level of the sine whose sample peak is `peak` (full scale = 1.0).
    #[must_use]
    pub fn of_sine_peak(peak: f64) -> Self {
        Self(20.0 * peak.log10())
    }

    /// The peak of a sine at this level (full scale = 1.0).
    #[must_use]
    pub fn sine_peak(self) -> f64 {
        10_f64.powf(self.0 / 20.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_voltages_of_iec_60268() {
        assert!((Dbu(0.0).volts().0 - 0.774_596_669_241_483).abs() < 1e-15);
        assert!((Dbu::from_volts(Volts(1.0)).0 - 2.218_487_496).abs() < 1e-9);
        assert!((Dbu(0.0).dbv().0 + 2.218_487_496).abs() < 1e-9);
        assert!((Dbu(4.0).volts().0 - 1.227_652_988).abs() < 1e-9);
        assert!((Dbu(4.0).sine_peak().0 - 1.736_163_505).abs() < 1e-9);
    }

    #[test]
    fn a_full_scale_square_reads_three_db_over_a_sine() {
        // AES17: RMS re the RMS of a full-scale sine.
        assert!((Dbfs::from_rms(1.0).0 - 3.010_299_957).abs() < 1e-9);
    }
}
