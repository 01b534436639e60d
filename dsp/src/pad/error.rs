//! Why a pad cannot be designed, with the numbers.

use super::{LossKind, Network};
use std::fmt;

/// A request that no positive resistors meet, or that makes no sense.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PadError {
    /// A quantity is not a positive, finite number.
    NotPositive {
        /// What it is.
        name: &'static str,
        /// What was given.
        given: f64,
    },
    /// The loss is too small for these impedances.
    TooLittleLoss {
        /// The network asked for.
        network: Network,
        /// How the loss is counted.
        kind: LossKind,
        /// What was asked, in dB.
        asked_db: f64,
        /// The smallest loss above which everything can be built, in dB; `None` if there is none
        /// up to 200 dB.
        smallest_db: Option<f64>,
    },
}

impl fmt::Display for PadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::NotPositive { name, given } => {
                write!(f, "{name} is {given}; it must be a positive, finite number")
            }
            Self::TooLittleLoss {
                network,
                kind,
                asked_db,
                smallest_db,
            } => {
                let (network, kind) = (network.name(), kind.name());
                write!(
                    f,
                    "a {network} pad of {asked_db} dB ({kind}) cannot be built between these "
                )?;
                match smallest_db {
                    // Rounded up, so that asking for the printed figure works.
                    Some(db) => write!(
                        f,
                        "impedances; the smallest loss that serves is {:.4} dB",
                        (db * 1e4).ceil() / 1e4
                    ),
                    None => write!(f, "impedances at any loss up to 200 dB"),
                }
            }
        }
    }
}

impl std::error::Error for PadError {}
