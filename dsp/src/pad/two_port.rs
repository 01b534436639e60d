//! A resistive two-port by its ABCD (transmission) matrix.
//!
//! `V1 = A V2 + B I2`, `I1 = C V2 + D I2`. Source: any network textbook; for a T of r1, r2, r3:
//! A = 1 + r1/r3, B = r1 + r2 + r1 r2/r3, C = 1/r3, D = 1 + r2/r3, so that AD - BC = 1.

use super::LossKind;
use crate::units::{Db, Ohms};

/// ABCD parameters; `a` and `d` are ratios, `b` in ohms, `c` in siemens.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(missing_docs, reason = "the four letters are the matrix")]
pub struct TwoPort {
    pub a: f64,
    pub b: f64,
    pub c: f64,
    pub d: f64,
}

/// What a load sees: an EMF of `ratio` times the source's EMF behind `ohms`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thevenin {
    /// Open-circuit volts over the source's unloaded volts.
    pub ratio: f64,
    /// Output resistance.
    pub ohms: Ohms,
}

impl TwoPort {
    /// The T of `r1`, `r2` (series) and `r3` (shunt, may be infinite), in ohms.
    #[must_use]
    pub fn from_t(r1_ohms: f64, r2_ohms: f64, r3_ohms: f64) -> Self {
        let c = 1.0 / r3_ohms;
        Self {
            a: 1.0 + r1_ohms * c,
            b: r1_ohms + r2_ohms + r1_ohms * r2_ohms * c,
            c,
            d: 1.0 + r2_ohms * c,
        }
    }

    /// The equivalent T as (r1, r2, r3) in ohms.
    #[must_use]
    pub fn to_t(self) -> (f64, f64, f64) {
        (
            (self.a - 1.0) / self.c,
            (self.d - 1.0) / self.c,
            1.0 / self.c,
        )
    }

    /// Input impedance with `load` connected.
    #[must_use]
    pub fn in_ohms(&self, load: Ohms) -> Ohms {
        Ohms((self.a * load.0 + self.b) / (self.c * load.0 + self.d))
    }

    /// Output impedance when driven from `source`.
    #[must_use]
    pub fn out_ohms(&self, source: Ohms) -> Ohms {
        Ohms((self.d * source.0 + self.b) / (self.c * source.0 + self.a))
    }

    /// The source behind this two-port as its load sees it.
    #[must_use]
    pub fn thevenin(&self, source: Ohms) -> Thevenin {
        Thevenin {
            ratio: 1.0 / (self.a + self.c * source.0),
            ohms: self.out_ohms(source),
        }
    }

    /// A loss of the named kind, between `source` and `load`.
    #[must_use]
    pub fn loss(&self, kind: LossKind, source: Ohms, load: Ohms) -> Db {
        Db::from_ratio(self.loss_ratio(kind, source, load))
    }

    /// As [`TwoPort::loss`], before the logarithm.
    pub(super) fn loss_ratio(&self, kind: LossKind, source: Ohms, load: Ohms) -> f64 {
        let loaded = self.a + self.b / load.0;
        match kind {
            LossKind::Loaded => loaded,
            LossKind::Unloaded => {
                let in_ohms = self.in_ohms(load).0;
                loaded * (in_ohms + source.0) / in_ohms
            }
            LossKind::MatchedPower => (self.a * self.d).sqrt() + (self.b * self.c).sqrt(),
            LossKind::OpenCircuit => self.a,
        }
    }
}
