//! Converter alignment: which voltage a full-scale sample stands for.
//!
//! The *digital* alignment levels come from standards: EBU Technical Recommendation R68 puts the
//! alignment sine 18 dB below maximum coding level (-18 dBFS), SMPTE RP 155 puts its reference at
//! -20 dBFS. Neither fixes a voltage: every figure in volts or dBu below is common practice, no
//! source. [`Reading`] is an alignment as one measures it.

mod reading;

pub use reading::{Converter, METER_OHMS, Read, Reading, TONE_DBFS};

use crate::units::{Db, Dbfs, Dbu, Volts, VoltsPeak};

/// Digital alignment level of EBU R68, in dBFS.
pub const EBU_R68: Dbfs = Dbfs(-18.0);
/// Digital reference level of SMPTE RP 155, in dBFS.
pub const SMPTE_RP155: Dbfs = Dbfs(-20.0);

/// A converter's full scale: the unloaded level of a full-scale sine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FullScale(pub Dbu);

impl FullScale {
    /// From "a sine of `digital` reads `analog`", e.g. -18 dBFS = +4 dBu.
    #[must_use]
    pub fn from_reference(digital: Dbfs, analog: Dbu) -> Self {
        Self(analog - (digital - Dbfs(0.0)))
    }

    /// The analog level of a digital level.
    #[must_use]
    pub fn dbu(self, digital: Dbfs) -> Dbu {
        self.0 + (digital - Dbfs(0.0))
    }

    /// The digital level of an analog level.
    #[must_use]
    pub fn dbfs(self, analog: Dbu) -> Dbfs {
        Dbfs(0.0) + (analog - self.0)
    }

    /// RMS voltage of a full-scale sine.
    #[must_use]
    pub fn volts(self) -> Volts {
        self.0.volts()
    }

    /// The voltage of a sample of 1.0.
    #[must_use]
    pub fn peak(self) -> VoltsPeak {
        self.0.sine_peak()
    }

    /// Room between an alignment level and full scale.
    #[must_use]
    pub fn headroom(self, alignment: Dbu) -> Db {
        self.0 - alignment
    }
}

/// A full scale met in practice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Preset {
    /// What it is called.
    pub name: &'static str,
    /// The full scale.
    pub full_scale: FullScale,
    /// Where the figure comes from.
    pub source: &'static str,
}

/// Full scales met in practice; any other value from 0 to +30 dBu may be set freely.
pub const PRESETS: [Preset; 7] = [
    Preset {
        name: "2 V RMS unbalanced line output (+8.24 dBu)",
        full_scale: FullScale(Dbu(8.239_087_409_443_187)),
        source: "2 V RMS by computation; common practice, no source",
    },
    Preset {
        name: "4 V RMS balanced interface (+14.26 dBu)",
        full_scale: FullScale(Dbu(14.259_687_322_722_812)),
        source: "4 V RMS by computation; common practice, no source",
    },
    Preset {
        name: "0 dBFS = +15 dBu (-9 dBFS = +6 dBu)",
        full_scale: FullScale(Dbu(15.0)),
        source: "common practice, no source",
    },
    Preset {
        name: "0 dBFS = +18 dBu (-18 dBFS = 0 dBu)",
        full_scale: FullScale(Dbu(18.0)),
        source: "-18 dBFS: EBU R68; 0 dBu: common practice, no source",
    },
    Preset {
        name: "0 dBFS = +20 dBu (-16 dBFS = +4 dBu)",
        full_scale: FullScale(Dbu(20.0)),
        source: "common practice, no source",
    },
    Preset {
        name: "0 dBFS = +22 dBu (-18 dBFS = +4 dBu)",
        full_scale: FullScale(Dbu(22.0)),
        source: "-18 dBFS: EBU R68; +4 dBu: common practice, no source",
    },
    Preset {
        name: "0 dBFS = +24 dBu (-20 dBFS = +4 dBu)",
        full_scale: FullScale(Dbu(24.0)),
        source: "-20 dBFS: SMPTE RP 155; +4 dBu: common practice, no source",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_of_stating_an_alignment_agree() {
        let full_scale = FullScale::from_reference(EBU_R68, Dbu(4.0));
        assert_eq!(full_scale, FullScale(Dbu(22.0)));
        assert_eq!(
            FullScale::from_reference(SMPTE_RP155, Dbu(4.0)),
            FullScale(Dbu(24.0))
        );
        assert_eq!(full_scale.dbu(Dbfs(-18.0)), Dbu(4.0));
        assert_eq!(full_scale.dbfs(Dbu(4.0)), Dbfs(-18.0));
        assert_eq!(full_scale.headroom(Dbu(4.0)), Db(18.0));
    }

    #[test]
    fn the_interface_presets_are_two_and_four_volts() {
        assert!((PRESETS[0].full_scale.volts().0 - 2.0).abs() < 1e-12);
        assert!((PRESETS[1].full_scale.volts().0 - 4.0).abs() < 1e-12);
    }
}
