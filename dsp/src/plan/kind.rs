//! What a plan key is, and what it takes.

use super::{Plan, Value};
use crate::alignment::{Converter, METER_OHMS, TONE_DBFS};

/// What a key takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// A number within limits, both included.
    Number {
        /// Smallest.
        min: f64,
        /// Largest.
        max: f64,
    },
    /// One of a few numbers.
    Steps(&'static [f64]),
    /// One of a few words.
    Words(&'static [&'static str]),
    /// True or false.
    Flag,
    /// A list of numbers.
    Numbers,
    /// A list of a few numbers within limits, both included; an empty one is none.
    List {
        /// How many at most.
        most: usize,
        /// Smallest.
        min: f64,
        /// Largest.
        max: f64,
    },
    /// An alignment as it was measured.
    Reading(Converter),
}

/// What of a key is planned but not built.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Later {
    /// Everything is built.
    Nothing,
    /// These words.
    Words(&'static [&'static str]),
    /// Every number but this.
    AllBut(f64),
    /// The whole key.
    Key,
}

/// One key of the plan.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// Dotted name; dots are nested tables in TOML.
    pub name: &'static str,
    /// What it takes.
    pub kind: Kind,
    /// What is not built.
    pub later: Later,
    /// What it means.
    pub help: &'static str,
    /// Reads it; `None` when another key holds instead, or it is not built.
    pub get: fn(&Plan) -> Option<Value>,
    /// Writes a value that [`Kind`] allows.
    pub set: fn(&mut Plan, &Value),
}

impl Kind {
    /// What the key takes, in words.
    #[must_use]
    pub fn allowed(self) -> String {
        let list = |items: Vec<String>| items.join(", ");
        match self {
            Self::Number { min, max } => format!("a number from {min} to {max}"),
            Self::Steps([only]) => format!("{only}"),
            Self::Steps(steps) => list(steps.iter().map(f64::to_string).collect()),
            Self::Words(words) => list(words.iter().map(|word| (*word).to_owned()).collect()),
            Self::Flag => "true or false".to_owned(),
            Self::Numbers => "a list of numbers".to_owned(),
            Self::List { most, min, max } => {
                format!("up to {most} numbers from {min} to {max}, or [] for none")
            }
            Self::Reading(converter) => {
                let ohms = match converter {
                    Converter::Send => "into",
                    Converter::Return => "from",
                };
                format!(
                    "a reading like `-18 reads +4 dBu {ohms} 600`: a tone from {} to {} dBFS, a level \
                     in dBu, dBV, V or mV, ohms from {} to {} or none",
                    TONE_DBFS.0, TONE_DBFS.1, METER_OHMS.0, METER_OHMS.1
                )
            }
        }
    }
}
