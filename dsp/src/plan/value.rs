//! A value of a plan key, as text or TOML has it.

use std::fmt;

/// What a key holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number in the unit that the key's name ends with.
    Number(f64),
    /// One of a few words.
    Word(String),
    /// True or false.
    Flag(bool),
}

impl Value {
    /// Reads the text of a `KEY=VALUE` argument: `true` and `false` are flags, what parses as a
    /// finite number is one, anything else is a word.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        let text = text.trim();
        match text {
            "true" => Self::Flag(true),
            "false" => Self::Flag(false),
            _ => match text.parse::<f64>() {
                // "nan" and "inf" parse in Rust; here they are words, and no key takes them.
                Ok(number) if number.is_finite() => Self::Number(number),
                _ => Self::Word(text.to_owned()),
            },
        }
    }

    /// The number, if it is one.
    #[must_use]
    pub fn number(&self) -> Option<f64> {
        if let Self::Number(number) = self {
            Some(*number)
        } else {
            None
        }
    }

    /// From a TOML value; `None` for kinds that no key takes.
    #[must_use]
    pub fn from_toml(value: &toml::Value) -> Option<Self> {
        match value {
            toml::Value::String(word) => Some(Self::Word(word.clone())),
            toml::Value::Integer(number) => Some(Self::Number(*number as f64)),
            toml::Value::Float(number) if number.is_finite() => Some(Self::Number(*number)),
            toml::Value::Float(number) => Some(Self::Word(number.to_string())),
            toml::Value::Boolean(flag) => Some(Self::Flag(*flag)),
            _ => None,
        }
    }

    /// As a TOML value; whole numbers are written without a point.
    #[must_use]
    pub fn to_toml(&self) -> toml::Value {
        match self {
            Self::Number(number) if number.fract() == 0.0 && number.abs() < 1e15 => {
                toml::Value::Integer(*number as i64)
            }
            Self::Number(number) => toml::Value::Float(*number),
            Self::Word(word) => toml::Value::String(word.clone()),
            Self::Flag(flag) => toml::Value::Boolean(*flag),
        }
    }

    /// As a JSON value; whole numbers are written without a point.
    #[must_use]
    pub fn to_json(&self) -> serde_json::Value {
        match self {
            Self::Number(number) if number.fract() == 0.0 && number.abs() < 1e15 => {
                serde_json::Value::from(*number as i64)
            }
            Self::Number(number) => serde_json::Value::from(*number),
            Self::Word(word) => serde_json::Value::from(word.as_str()),
            Self::Flag(flag) => serde_json::Value::from(*flag),
        }
    }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Word(word) => write!(f, "{word}"),
            Self::Flag(flag) => write!(f, "{flag}"),
        }
    }
}
