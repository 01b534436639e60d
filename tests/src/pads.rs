//! Asking the program for a pad.

use serde_json::Value;

use crate::check::{at, number};
use crate::network::Tee;
use crate::run::{json, refused};

/// The four kinds of loss, with the key under which a pad's loss of that kind is reported.
pub const LOSS_KINDS: [(&str, &str); 4] = [
    ("loaded", "loss_loaded_db"),
    ("unloaded", "loss_unloaded_db"),
    ("matched-power", "loss_matched_power_db"),
    ("open-circuit", "loss_open_circuit_db"),
];

/// What the pad's input impedance is to be.
#[derive(Clone, Copy, Debug)]
pub enum Input {
    /// This many ohms.
    Exactly(f64),
    /// At least this many ohms.
    AtLeast(f64),
}

/// A request for a pad, every option given.
#[derive(Clone, Copy, Debug)]
pub struct PadRequest {
    /// `--source-ohms`
    pub source_ohms: f64,
    /// `--in-ohms` or `--in-ohms-min`
    pub input: Input,
    /// `--out-ohms`
    pub out_ohms: f64,
    /// `--load-ohms`
    pub load_ohms: f64,
    /// `--loss-db`
    pub loss_db: f64,
    /// `--loss-kind`
    pub loss_kind: &'static str,
    /// `--network`
    pub network: &'static str,
    /// `--series`
    pub series: &'static str,
}

impl PadRequest {
    /// The program's arguments.
    #[must_use]
    pub fn args(&self) -> Vec<String> {
        let (input_key, input_ohms) = match self.input {
            Input::Exactly(ohms) => ("--in-ohms", ohms),
            Input::AtLeast(ohms) => ("--in-ohms-min", ohms),
        };
        let options = [
            ("--source-ohms", self.source_ohms.to_string()),
            (input_key, input_ohms.to_string()),
            ("--out-ohms", self.out_ohms.to_string()),
            ("--load-ohms", self.load_ohms.to_string()),
            ("--loss-db", self.loss_db.to_string()),
            ("--loss-kind", self.loss_kind.to_owned()),
            ("--network", self.network.to_owned()),
            ("--series", self.series.to_owned()),
        ];
        let pairs = options
            .into_iter()
            .flat_map(|(key, value)| [key.to_owned(), value]);
        ["pad".to_owned()].into_iter().chain(pairs).collect()
    }

    /// The program's answer.
    #[track_caller]
    #[must_use]
    pub fn ask(&self) -> Value {
        json(&self.args())
    }

    /// Asserts that the program refuses, naming a loss within 0.01 dB of `smallest_loss_db`.
    ///
    /// # Panics
    /// When it does not.
    #[track_caller]
    pub fn assert_refused_below(&self, smallest_loss_db: f64) {
        let line = refused(&self.args(), &["dB"]);
        let words = line.split(|c: char| !c.is_ascii_digit() && c != '.');
        let mut numbers = words.filter_map(|word| word.trim_matches('.').parse::<f64>().ok());
        let named = numbers.any(|value| (value - smallest_loss_db).abs() <= 0.010_001);
        assert!(
            named,
            "{self:?}: {line:?} does not name {smallest_loss_db:.4} dB"
        );
    }
}

/// The resistors of `ideal` or `as_built` as the equivalent T.
#[track_caller]
#[must_use]
pub fn tee(answer: &Value, which: &str) -> Tee {
    let pad = at(answer, which);
    Tee {
        r1_ohms: number(pad, "r1_ohms"),
        r2_ohms: number(pad, "r2_ohms"),
        r3_ohms: number(pad, "r3_ohms"),
    }
}
