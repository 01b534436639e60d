//! The plan: facts of the studio (the rig) apart from choices (send, pad, preamp, return).
//!
//! One table of keys ([`KEYS`]) serves the TOML file, `--set`, the documentation and the tests.
//! Reading a plan starts from the default and changes it key by key, so that a file and a list of
//! `--set` take one path and make one kind of error.

mod error;
mod keys;
mod kind;
mod rig;
mod text;
mod value;

pub use error::PlanError;
pub use keys::{KEYS, find, markdown};
pub use kind::{Key, Kind, Later};
pub use rig::{Beyond, PreampKind, Readings, Rig, Steps, Straight, Unit};
pub use value::Value;

use crate::pad::{Input, LossKind, Network, Parts, Series};
use crate::units::{Db, Ohms};

/// The newest circuit this crate makes sound with.
pub const NEWEST_MODEL_VERSION: u32 = 2;

/// The whole plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// Which circuit makes the sound.
    pub model_version: u32,
    /// Facts of the studio.
    pub rig: Rig,
    /// Digital level and polarity before the send converter.
    pub send: Send,
    /// The pad wanted.
    pub pad: PadChoice,
    /// The preamplifier's switches.
    pub preamp: PreampChoice,
    /// Level after the return converter.
    pub back: Return,
}

/// Polarity of the send; undone at the return.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// As it is.
    Normal,
    /// Turned over, so that the circuit's asymmetry meets the other half-wave.
    Inverted,
}

/// `[send]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Send {
    /// Digital gain before the send converter.
    pub trim: Db,
    /// Polarity.
    pub polarity: Polarity,
}

/// `[pad]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PadChoice {
    /// The network.
    pub network: Network,
    /// The loss wanted.
    pub loss: Db,
    /// How the loss is counted.
    pub loss_kind: LossKind,
    /// What the send converter shall see.
    pub input: Input,
    /// What the preamplifier shall see.
    pub out: Ohms,
    /// Which resistors are bought.
    pub series: Series,
    /// How they are chosen.
    pub parts: Parts,
    /// An owned pad; without values, the pad is designed.
    pub owned: Resistors,
}

/// Up to three resistors, in the order of the network's drawing, of one leg where there are two.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Resistors {
    ohms: [f64; 3],
    count: usize,
}

impl Resistors {
    /// Most values there can be.
    pub const MOST: usize = 3;

    /// The first three of a list.
    #[must_use]
    pub fn from_list(list: &[f64]) -> Self {
        let mut resistors = Self::default();
        for (place, ohms) in resistors.ohms.iter_mut().zip(list) {
            *place = *ohms;
            resistors.count += 1;
        }
        resistors
    }

    /// The values; none when the pad is designed.
    #[must_use]
    pub fn list(&self) -> &[f64] {
        &self.ohms[..self.count]
    }
}

/// `[preamp]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PreampChoice {
    /// Input attenuator, 0 or 20 dB.
    pub attenuator: Db,
    /// Gain step: terminals to output into 10 kohm, attenuator off, 1 kHz, small signal.
    pub gain: Db,
    /// Whether thermal and tube noise is heard.
    pub noise: bool,
}

/// `[return]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Return {
    /// Loss of the line-level pad before the return converter; 0 is none.
    pub pad: Db,
    /// Digital gain after the return converter.
    pub trim: Db,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            model_version: NEWEST_MODEL_VERSION,
            rig: Rig::default(),
            send: Send {
                trim: Db(0.0),
                polarity: Polarity::Normal,
            },
            pad: PadChoice {
                network: Network::U,
                loss: Db(40.0),
                loss_kind: LossKind::Loaded,
                input: Input::AtLeast(Ohms(2_000.0)),
                out: Ohms(150.0),
                series: Series::E96,
                parts: Parts::Single,
                owned: Resistors::default(),
            },
            preamp: PreampChoice {
                attenuator: Db(0.0),
                gain: Db(40.0),
                noise: false,
            },
            back: Return {
                pad: Db(0.0),
                trim: Db(0.0),
            },
        }
    }
}
