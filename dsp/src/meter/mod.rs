//! Meters: level and peak of what passes a point.

mod points;

pub use points::{LevelMeter, PointLevel, PointMeter};
