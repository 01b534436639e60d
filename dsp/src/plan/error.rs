//! What can be wrong with a plan, with the numbers and the nearest that works.

use super::rig::Beyond;
use std::fmt;

/// A plan, or one key of it, that cannot be taken.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanError {
    /// The text is not TOML.
    Syntax {
        /// What the parser says, on one line.
        message: String,
    },
    /// There is no such key.
    UnknownKey {
        /// As given.
        key: String,
        /// The nearest that exists.
        nearest: &'static str,
    },
    /// The value is not one the key takes.
    BadValue {
        /// The key.
        key: &'static str,
        /// As given.
        given: String,
        /// What it takes, in words.
        allowed: String,
        /// The nearest that works.
        nearest: Option<String>,
    },
    /// A reading that means a full scale out of range.
    Alignment {
        /// The key that was set.
        key: &'static str,
        /// As given.
        given: String,
        /// What it comes to.
        beyond: Beyond,
    },
    /// The key or value is of a later version.
    Later {
        /// The key.
        key: &'static str,
        /// As given.
        given: String,
    },
    /// An argument without `=`.
    NotAnAssignment {
        /// As given.
        given: String,
    },
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax { message } => write!(f, "the plan is not valid TOML: {message}"),
            Self::UnknownKey { key, nearest } => {
                write!(
                    f,
                    "there is no plan key `{key}`; the nearest is `{nearest}`"
                )
            }
            Self::BadValue {
                key,
                given,
                allowed,
                nearest,
            } => {
                write!(f, "`{key}` cannot be {given}; it takes {allowed}")?;
                match nearest {
                    Some(nearest) => write!(f, "; the nearest is {nearest}"),
                    None => Ok(()),
                }
            }
            Self::Alignment { key, given, beyond } => {
                let Beyond {
                    key: reading,
                    full_scale,
                    nearest,
                } = beyond;
                let (least, most) = Beyond::FULL_SCALE_DBU;
                write!(
                    f,
                    "`{key}` cannot be {given}: `{reading}` then means a full scale of {:+.2} dBu; it \
                     may be from {least:+} to {most:+} dBu, the nearest reading is `{nearest}`",
                    full_scale.0.0
                )
            }
            Self::Later { key, given } => write!(
                f,
                "`{key}` = {given} is planned but not built in this version ({})",
                env!("CARGO_PKG_VERSION")
            ),
            Self::NotAnAssignment { given } => {
                write!(
                    f,
                    "`{given}` is not of the form KEY=VALUE, e.g. preamp.gain_db=40"
                )
            }
        }
    }
}

impl std::error::Error for PlanError {}
