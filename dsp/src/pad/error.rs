//! Why a pad cannot be designed, with the numbers.

use super::design::MOST_LOSS_DB;
use super::{Nearest, Network, Request};
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
        /// What was asked; [`Nearest::of`] searches round it.
        request: Request,
        /// The smallest loss above which everything can be built, in dB; `None` if there is none
        /// up to 200 dB.
        smallest_db: Option<f64>,
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
            } => write!(
                f,
                "{name} is {}; it must be from {least} to {} ohm",
                short(given),
                short(most)
            ),
            Self::TooLittleLoss {
                request,
                smallest_db,
            } => {
                let (article, network) = (request.network.article(), request.network.name());
                let (asked_db, kind) = (request.loss.0, request.kind.name());
                write!(
                    f,
                    "{article} {network} pad of {asked_db} dB ({kind}) cannot be built between these \
                     impedances"
                )?;
                let nearest = Nearest::of(&request);
                let join = match smallest_db {
                    // Rounded up, so that asking for the printed figure works.
                    Some(db) if db <= MOST_LOSS_DB => {
                        let db = (db * 1e4).ceil() / 1e4;
                        write!(f, "; the smallest loss that serves is {db:.4} dB")?;
                        ", or "
                    }
                    _ => {
                        write!(f, "; no loss up to {MOST_LOSS_DB} dB serves")?;
                        "; what can be built is "
                    }
                };
                match nearest == Nearest::default() {
                    true => Ok(()),
                    false => write!(f, "{join}{nearest}"),
                }
            }
            Self::WrongCount { network, given } => {
                let wanted: Vec<&str> = (0..network.positions())
                    .map(|position| network.position_name(position))
                    .collect();
                let (article, name, count) = (network.article(), network.name(), wanted.len());
                let legs = if network.is_balanced() {
                    " of one leg"
                } else {
                    ""
                };
                match count {
                    0 => write!(f, "there is no network for the {given} resistors given"),
                    _ => write!(
                        f,
                        "{given} resistors are given; {article} {name} pad takes {count}{legs}: {}",
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

/// A number with its power of ten where its zeros would fill a line.
fn short(number: f64) -> String {
    if (1e-6..1e7).contains(&number.abs()) {
        number.to_string()
    } else {
        format!("{number:e}")
    }
}

impl std::error::Error for PadError {}
