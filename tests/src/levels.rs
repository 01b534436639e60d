//! Asking the program for levels.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::check::{keys, list, number, text};
use crate::run::json;

/// Names of the points, in the order of the chain.
pub const POINTS: [&str; 8] = [
    "bus",
    "line_out",
    "mic_in",
    "transformer_in",
    "grid_1",
    "grid_2",
    "preamp_out",
    "return",
];

/// The answer of `penstock levels`, by point.
#[derive(Debug)]
pub struct Levels {
    points: BTreeMap<String, Value>,
}

impl Levels {
    /// Of a 1 kHz sine of `dbfs` with the default plan changed by `sets` (`KEY=VALUE`).
    #[track_caller]
    #[must_use]
    pub fn at(dbfs: f64, sets: &[&str]) -> Self {
        let level = dbfs.to_string();
        let mut args = vec!["levels", "--level-dbfs", &level];
        for set in sets {
            args.extend(["--set", set]);
        }
        Self::from(&json(&args))
    }

    /// Reads the program's JSON.
    ///
    /// # Panics
    /// When the points are not the eight of the chain in their order, each with every key.
    #[track_caller]
    #[must_use]
    pub fn from(answer: &Value) -> Self {
        let points = list(answer, "points");
        let names: Vec<&str> = points.iter().map(|point| text(point, "name")).collect();
        assert_eq!(names, POINTS);
        for point in points {
            keys(point, "name dbu dbv volts_rms volts_peak dbfs");
        }
        let named = points
            .iter()
            .map(|point| (text(point, "name").to_owned(), point.clone()));
        Self {
            points: named.collect(),
        }
    }

    /// One value of one point.
    ///
    /// # Panics
    /// When it is no number.
    #[track_caller]
    #[must_use]
    pub fn get(&self, point: &str, key: &str) -> f64 {
        number(&self.points[point], key)
    }

    /// dBu at a point.
    #[track_caller]
    #[must_use]
    pub fn dbu(&self, point: &str) -> f64 {
        self.get(point, "dbu")
    }

    /// One value of one point, whatever it is.
    #[must_use]
    pub fn raw(&self, point: &str, key: &str) -> &Value {
        &self.points[point][key]
    }
}
