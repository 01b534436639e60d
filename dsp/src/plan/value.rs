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
    /// A list of numbers.
    Numbers(Vec<f64>),
}

impl Value {
    /// Reads the text of a `KEY=VALUE` argument: `true` and `false` are flags, what parses as a
    /// finite number is one, numbers parted by commas (in brackets or not) are a list, anything else is
    /// a word.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        let text = text.trim();
        match text {
            "true" => Self::Flag(true),
            "false" => Self::Flag(false),
            _ => match finite(text) {
                Some(number) => Self::Number(number),
                None => list(text).map_or_else(|| Self::Word(text.to_owned()), Self::Numbers),
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
            toml::Value::Array(items) => {
                let number = |item: &toml::Value| Self::from_toml(item)?.number();
                items
                    .iter()
                    .map(number)
                    .collect::<Option<_>>()
                    .map(Self::Numbers)
            }
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
            Self::Numbers(numbers) => {
                let items = numbers.iter().map(|number| Self::Number(*number).to_toml());
                toml::Value::Array(items.collect())
            }
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
            Self::Numbers(numbers) => {
                let items = numbers.iter().map(|number| Self::Number(*number).to_json());
                serde_json::Value::Array(items.collect())
            }
        }
    }
}

/// A finite number; "nan" and "inf" parse in Rust, but are none here, and no key takes them.
fn finite(text: &str) -> Option<f64> {
    text.trim().parse::<f64>().ok().filter(|n| n.is_finite())
}

/// Numbers parted by commas, in brackets or not; empty brackets are an empty list.
fn list(text: &str) -> Option<Vec<f64>> {
    let inner = text
        .strip_prefix('[')
        .and_then(|text| text.strip_suffix(']'));
    match inner {
        Some(inner) if inner.trim().is_empty() => Some(Vec::new()),
        Some(inner) => inner.split(',').map(finite).collect(),
        None if text.contains(',') => text.split(',').map(finite).collect(),
        None => None,
    }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Word(word) => write!(f, "{word}"),
            Self::Flag(flag) => write!(f, "{flag}"),
            Self::Numbers(numbers) => {
                let numbers: Vec<String> = numbers.iter().map(f64::to_string).collect();
                write!(f, "[{}]", numbers.join(", "))
            }
        }
    }
}
