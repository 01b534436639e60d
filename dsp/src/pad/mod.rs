//! The resistive pad between a line output and a microphone input.
//!
//! Every network here is an unbalanced T underneath: series `r1`, shunt `r3`, series `r2`.
//! The balanced forms halve the series arms into the two legs:
//!
//! ```text
//!  T:  o--r1--+--r2--o      H:  o--r1/2--+--r2/2--o      U: an H without output arms
//!             r3                          r3             L: a T without output arm
//!      o------+------o          o--r1/2--+--r2/2--o
//! ```
//!
//! A pad meets the rest of the path as a two-port ([`TwoPort`]); to what follows it is a Thevenin
//! source ([`TwoPort::thevenin`]). Four losses are told apart ([`LossKind`]), because 600 to
//! 150 ohm "40 dB" is 40 dB of power, 46.02 dB of voltage when matched and 40.83 dB of voltage
//! into 1500 ohm, all with the same resistors.

mod design;
mod error;
mod preferred;
mod two_port;

pub use design::{Input, Request, design};
pub use error::PadError;
pub use preferred::Series;
pub use two_port::{Thevenin, TwoPort};

use crate::units::{Db, Ohms};

/// Which resistors there are, and where.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Network {
    /// No pad: straight in.
    None,
    /// Balanced: an arm in each leg before and after the shunt (five resistors).
    H,
    /// Unbalanced form of the H (three resistors).
    T,
    /// Balanced: an arm in each leg before the shunt (three resistors).
    U,
    /// Unbalanced form of the U (two resistors).
    L,
}

impl Network {
    /// Whether the series arms are split into two legs.
    #[must_use]
    pub fn is_balanced(self) -> bool {
        matches!(self, Self::H | Self::U)
    }

    /// Whether there are arms after the shunt.
    #[must_use]
    pub fn has_output_arms(self) -> bool {
        matches!(self, Self::H | Self::T)
    }

    /// The letter, as plans and reports write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::H => "H",
            Self::T => "T",
            Self::U => "U",
            Self::L => "L",
        }
    }
}

/// What a loss in dB counts from and to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LossKind {
    /// Volts at the pad's input over volts at the load, with that load connected.
    Loaded,
    /// Unloaded volts of the source over volts at the load.
    Unloaded,
    /// Power lost between image impedances: 20 log10(sqrt(AD) + sqrt(BC)).
    MatchedPower,
    /// Volts at the pad's input over volts at its open output: 20 log10 A.
    OpenCircuit,
}

impl LossKind {
    /// The word, as plans and reports write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Loaded => "loaded",
            Self::Unloaded => "unloaded",
            Self::MatchedPower => "matched-power",
            Self::OpenCircuit => "open-circuit",
        }
    }
}

/// A pad: a network and its equivalent unbalanced T.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pad {
    network: Network,
    r1_ohms: f64,
    r2_ohms: f64,
    r3_ohms: f64,
}

impl Pad {
    /// No pad: a straight connection.
    pub const STRAIGHT: Self = Self {
        network: Network::None,
        r1_ohms: 0.0,
        r2_ohms: 0.0,
        r3_ohms: f64::INFINITY,
    };

    /// A pad from its equivalent T: series in, series out, shunt.
    #[must_use]
    pub fn from_t(network: Network, r1: Ohms, r2: Ohms, r3: Ohms) -> Self {
        Self {
            network,
            r1_ohms: r1.0,
            r2_ohms: r2.0,
            r3_ohms: r3.0,
        }
    }

    /// Which network it is.
    #[must_use]
    pub fn network(&self) -> Network {
        self.network
    }

    /// Equivalent T: the whole series resistance before the shunt (both legs).
    #[must_use]
    pub fn r1(&self) -> Ohms {
        Ohms(self.r1_ohms)
    }

    /// Equivalent T: the whole series resistance after the shunt (both legs).
    #[must_use]
    pub fn r2(&self) -> Ohms {
        Ohms(self.r2_ohms)
    }

    /// The shunt; infinite without a pad.
    #[must_use]
    pub fn r3(&self) -> Ohms {
        Ohms(self.r3_ohms)
    }

    /// The resistor before the shunt in one leg.
    #[must_use]
    pub fn arm_in(&self) -> Ohms {
        Ohms(self.r1_ohms / self.legs())
    }

    /// The resistor after the shunt in one leg; 0 where the network has none.
    #[must_use]
    pub fn arm_out(&self) -> Ohms {
        Ohms(self.r2_ohms / self.legs())
    }

    fn legs(&self) -> f64 {
        if self.network.is_balanced() { 2.0 } else { 1.0 }
    }

    /// The same pad with each resistor replaced by the nearest of a preferred series.
    #[must_use]
    pub fn rounded(&self, series: Series) -> Self {
        let legs = self.legs();
        let buy = |total_ohms: f64| series.nearest(Ohms(total_ohms / legs)).0 * legs;
        Self {
            network: self.network,
            r1_ohms: buy(self.r1_ohms),
            r2_ohms: buy(self.r2_ohms),
            r3_ohms: series.nearest(self.r3()).0,
        }
    }

    /// The pad as an ABCD two-port.
    #[must_use]
    pub fn two_port(&self) -> TwoPort {
        TwoPort::from_t(self.r1_ohms, self.r2_ohms, self.r3_ohms)
    }

    /// Input impedance with `load` connected.
    #[must_use]
    pub fn in_ohms(&self, load: Ohms) -> Ohms {
        self.two_port().in_ohms(load)
    }

    /// Output impedance when driven from `source`.
    #[must_use]
    pub fn out_ohms(&self, source: Ohms) -> Ohms {
        self.two_port().out_ohms(source)
    }

    /// A loss of the named kind, between `source` and `load`.
    #[must_use]
    pub fn loss(&self, kind: LossKind, source: Ohms, load: Ohms) -> Db {
        self.two_port().loss(kind, source, load)
    }
}
