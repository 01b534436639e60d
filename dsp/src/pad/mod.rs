//! The resistive pad between a line output and a microphone input.
//!
//! Every network is an equivalent unbalanced T: series `r1`, shunt `r3`, series `r2`. The balanced
//! forms halve the series arms into the two legs. Values are stated in the order of the drawing,
//! left to right, of one leg where there are two:
//!
//! ```text
//!  T:  o--1--+--3--o    H:  o--1--+--3--o    U: an H without output arms    pi:  o--+--2--+--o    O: a pi
//!            2                    2          L: a T without output arm              1     3       with a 2
//!      o-----+-----o        o--1--+--3--o                                        o--+-----+--o    in each leg
//! ```
//!
//! A pad meets the rest of the path as a two-port ([`TwoPort`]); to what follows it is a Thevenin
//! source ([`TwoPort::thevenin`]). Four losses are told apart ([`LossKind`]), because 600 to
//! 150 ohm "40 dB" is 40 dB of power, 46.02 dB of voltage when matched and 40.83 dB of voltage
//! into 1500 ohm, all with the same resistors.

mod buy;
mod design;
mod error;
mod nearest;
mod network;
pub mod nodal;
mod preferred;
mod propose;
mod search;
mod tried;
pub mod truth;
mod two_port;

pub use buy::{DRAWER_VALUES, Part, Parts, Purchase, Stock, Weights, buy};
pub use design::{Input, MOST_LOSS_DB, Request, design};
pub use error::PadError;
pub use nearest::Nearest;
pub use network::{Branch, Joint, Network};
pub use preferred::Series;
pub use propose::{Proposal, propose};
pub use two_port::{Thevenin, TwoPort};

use crate::units::{Db, Ohms};

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

/// A pad: a network and the values of its positions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pad {
    network: Network,
    /// In the order of the drawing, of one leg; beyond the network's positions 0.
    values_ohms: [f64; 3],
}

impl Pad {
    /// No pad: a straight connection.
    pub const STRAIGHT: Self = Self {
        network: Network::None,
        values_ohms: [0.0; 3],
    };

    /// A pad from its equivalent T: series in, series out, shunt (all legs together).
    #[must_use]
    pub fn from_t(network: Network, r1: Ohms, r2: Ohms, r3: Ohms) -> Self {
        let legs = if network.is_balanced() { 2.0 } else { 1.0 };
        let (r1, r2, r3) = (r1.0, r2.0, r3.0);
        let values_ohms = if network.is_pi() {
            // The equivalent pi: series B, shunts B/(D-1) and B/(A-1).
            let b = r1 + r2 + r1 * r2 / r3;
            [b * (r3 / r2), b / legs, b * (r3 / r1)]
        } else {
            [r1 / legs, r3, r2 / legs]
        };
        Self::from_values(network, values_ohms)
    }

    /// A pad from its values in the order of the drawing, of one leg; what the network has no
    /// position for is left out.
    #[must_use]
    pub fn from_values(network: Network, values_ohms: [f64; 3]) -> Self {
        let mut kept = [0.0; 3];
        let positions = network.positions();
        kept[..positions].copy_from_slice(&values_ohms[..positions]);
        Self {
            network,
            values_ohms: kept,
        }
    }

    /// An owned pad: as many values as its network has positions, in the order of the drawing, of one
    /// leg.
    ///
    /// # Errors
    /// [`PadError::WrongCount`], [`PadError::NotPositive`].
    pub fn owned(network: Network, values_ohms: &[f64]) -> Result<Self, PadError> {
        if values_ohms.len() != network.positions() || values_ohms.is_empty() {
            return Err(PadError::WrongCount {
                network,
                given: values_ohms.len(),
            });
        }
        let mut kept = [0.0; 3];
        for (kept, given) in kept.iter_mut().zip(values_ohms) {
            if !(*given > 0.0 && given.is_finite()) {
                return Err(PadError::NotPositive {
                    name: "a resistor of the pad",
                    given: *given,
                });
            }
            *kept = *given;
        }
        Ok(Self::from_values(network, kept))
    }

    /// Which network it is.
    #[must_use]
    pub fn network(&self) -> Network {
        self.network
    }

    /// The values in the order of the drawing, of one leg, as many as there are positions.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values_ohms[..self.network.positions()]
    }

    /// Equivalent T: the whole series resistance before the shunt (both legs).
    #[must_use]
    pub fn r1(&self) -> Ohms {
        Ohms(self.tee()[0])
    }

    /// Equivalent T: the whole series resistance after the shunt (both legs).
    #[must_use]
    pub fn r2(&self) -> Ohms {
        Ohms(self.tee()[1])
    }

    /// Equivalent T: the shunt; infinite without a pad.
    #[must_use]
    pub fn r3(&self) -> Ohms {
        Ohms(self.tee()[2])
    }

    /// The equivalent T: (r1, r2, r3).
    fn tee(&self) -> [f64; 3] {
        let [one, two, three] = self.values_ohms;
        let legs = self.legs();
        match self.network {
            Network::None => [0.0, 0.0, f64::INFINITY],
            Network::O | Network::Pi => {
                // By conductances, so that a shunt may be open.
                let (ga, gb, series) = (1.0 / one, 1.0 / three, legs * two);
                let sum = ga + gb + ga * gb * series;
                [series * gb / sum, series * ga / sum, 1.0 / sum]
            }
            _ => [legs * one, legs * three, two],
        }
    }

    /// The first series resistor of one leg: before the shunt, or between the shunts.
    #[must_use]
    pub fn arm_in(&self) -> Ohms {
        Ohms(self.values_ohms[usize::from(self.network.is_pi())])
    }

    /// The resistor after the shunt in one leg; 0 where the network has none.
    #[must_use]
    pub fn arm_out(&self) -> Ohms {
        Ohms(if self.network.is_pi() {
            0.0
        } else {
            self.values_ohms[2]
        })
    }

    /// The shunt; of two, the one at the output; infinite without a pad.
    #[must_use]
    pub fn shunt(&self) -> Ohms {
        Ohms(match self.network {
            Network::None => f64::INFINITY,
            network if network.is_pi() => self.values_ohms[2],
            _ => self.values_ohms[1],
        })
    }

    /// The shunt at the input; infinite where the network has none.
    #[must_use]
    pub fn shunt_in(&self) -> Ohms {
        Ohms(if self.network.is_pi() {
            self.values_ohms[0]
        } else {
            f64::INFINITY
        })
    }

    fn legs(&self) -> f64 {
        if self.network.is_balanced() { 2.0 } else { 1.0 }
    }

    /// The same pad with each resistor replaced by the nearest of a preferred series.
    #[must_use]
    pub fn rounded(&self, series: Series) -> Self {
        Self {
            network: self.network,
            values_ohms: self.values_ohms.map(|ohms| series.nearest(Ohms(ohms)).0),
        }
    }

    /// The pad as an ABCD two-port.
    #[must_use]
    pub fn two_port(&self) -> TwoPort {
        let [r1, r2, r3] = self.tee();
        TwoPort::from_t(r1, r2, r3)
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
