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
    /// A quantity is beyond anything that can be soldered.
    OutOfRange {
        /// What it is.
        name: &'static str,
        /// What was given.
        given: f64,
        /// Smallest.
        least: f64,
        /// Largest.
        most: f64,
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
        /// The largest impedance that the source can be shown at the loss asked for, all else as
        /// asked; `None` if there is none from 1 ohm.
        largest_in_ohms: Option<f64>,
    },
    /// An owned pad has another number of values than its network.
    WrongCount {
        /// The network.
        network: Network,
        /// How many values were given.
        given: usize,
    },
    /// There is nothing to choose resistors from.
    EmptyDrawer,
}

impl fmt::Display for PadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::NotPositive { name, given } => {
                write!(f, "{name} is {given}; it must be a positive, finite number")
            }
            Self::OutOfRange {
                name,
                given,
                least,
                most,
            } => write!(f, "{name} is {given}; it must be from {least} to {most}"),
            Self::TooLittleLoss {
                network,
                kind,
                asked_db,
                smallest_db,
                largest_in_ohms,
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
                    )?,
                    None => write!(f, "impedances at any loss up to 200 dB")?,
                }
                match largest_in_ohms {
                    // Rounded down, for the same reason.
                    Some(ohms) => write!(
                        f,
                        ", or at this loss an input impedance of at most {} ohm",
                        (ohms * 100.0).floor() / 100.0
                    ),
                    None => Ok(()),
                }
            }
            Self::WrongCount { network, given } => {
                let wanted: Vec<&str> = (0..network.positions())
                    .map(|position| network.position_name(position))
                    .collect();
                let (name, count) = (network.name(), wanted.len());
                let legs = if network.is_balanced() {
                    " of one leg"
                } else {
                    ""
                };
                match count {
                    0 => write!(f, "there is no network for the {given} resistors given"),
                    _ => write!(
                        f,
                        "{given} resistors are given; a {name} pad takes {count}{legs}: {}",
                        wanted.join("; ")
                    ),
                }
            }
            Self::EmptyDrawer => write!(
                f,
                "the drawer is empty; it must hold at least one resistor above 0 ohm"
            ),
        }
    }
}

impl std::error::Error for PadError {}
