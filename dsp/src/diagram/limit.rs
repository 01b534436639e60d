//! Ceilings that a programme is counted against, by name.

use super::{DiagramPoint, LevelDiagram, PERCENTS};
use crate::chain::Point;
use crate::units::Dbu;
use std::fmt;

/// Frequency of the sine whose distortion counts, in hertz: "at the programme's level" means of a 1 kHz
/// sine with the programme's peak.
const TONE_HZ: f64 = 1000.0;

/// What happens above a ceiling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LimitKind {
    /// A 1 kHz sine is distorted by more than this, in percent.
    Thd(f64),
    /// A converter clips.
    Clip,
    /// A tube's grid conducts.
    Grid,
    /// More than an own unit's data sheet allows.
    DataSheet,
}

impl LimitKind {
    /// Every one, the mildest distortion first.
    pub const ALL: [Self; 6] = [
        Self::Thd(PERCENTS[0]),
        Self::Thd(PERCENTS[1]),
        Self::Thd(PERCENTS[2]),
        Self::Clip,
        Self::Grid,
        Self::DataSheet,
    ];

    /// The one of this name, letter case and spaces aside; `%` may be left out.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let bare = |name: &str| -> String {
            let kept = name.chars().filter(|c| !c.is_whitespace() && *c != '%');
            kept.flat_map(char::to_lowercase).collect()
        };
        let same = |kind: &Self| bare(&kind.to_string()) == bare(name);
        Self::ALL.into_iter().find(same)
    }
}

/// `0.1%`, `1%`, `3%`, `clip`, `grid`, `data-sheet`.
impl fmt::Display for LimitKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Thd(percent) => write!(f, "{percent}%"),
            Self::Clip => f.write_str("clip"),
            Self::Grid => f.write_str("grid"),
            Self::DataSheet => f.write_str("data-sheet"),
        }
    }
}

/// A ceiling at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Which.
    pub kind: LimitKind,
    /// The sine that just reaches it.
    pub level: Dbu,
}

impl DiagramPoint {
    /// The ceilings that are known here and that a programme can pass. Each converter's clipping counts
    /// where the signal comes to it: the send's at the bus, sample by sample (between samples its output
    /// may well be higher), the return's at the preamplifier's output.
    #[must_use]
    pub fn limits(&self) -> Vec<Limit> {
        let before_a_converter = matches!(self.point, Point::Bus | Point::PreampOut);
        let level = |kind: LimitKind| match kind {
            LimitKind::Thd(percent) => self.thd_at(TONE_HZ, percent),
            LimitKind::Clip => self.clip.filter(|_| before_a_converter),
            LimitKind::Grid => self.grid,
            LimitKind::DataSheet => self.own,
        };
        let limit = |kind| level(kind).map(|level| Limit { kind, level });
        LimitKind::ALL.into_iter().filter_map(limit).collect()
    }
}

impl LevelDiagram {
    /// The ceilings of every point.
    #[must_use]
    pub fn limits(&self) -> [Vec<Limit>; 8] {
        std::array::from_fn(|n| self.points[n].limits())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_read_as_people_write_it() {
        for kind in LimitKind::ALL {
            assert_eq!(LimitKind::from_name(&kind.to_string()), Some(kind));
        }
        let one = Some(LimitKind::Thd(1.0));
        for name in ["1%", "1 %", "1"] {
            assert_eq!(LimitKind::from_name(name), one, "{name}");
        }
        assert_eq!(LimitKind::from_name("Clip"), Some(LimitKind::Clip));
        for name in ["2%", "", "%", "10%"] {
            assert_eq!(LimitKind::from_name(name), None, "{name}");
        }
    }
}
