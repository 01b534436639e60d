//! Where the parts of the picture lie: for who draws it, adds to it, or asks what stands under a pointer.

use super::{DiagramPoint, LevelDiagram};
use crate::units::Dbu;

/// Room at the left and right for the scales, above for the names, below for the figures.
const LEFT: f64 = 58.0;
const RIGHT: f64 = 36.0;
const TOP: f64 = 44.0;
const BELOW: f64 = 66.0;
/// One more row of figures, where a meter was chosen.
const ROW: f64 = 13.0;
/// A picture lower than this has two rows of figures, not four, and so much less room for them.
const SHORT: f64 = 250.0;
const FEWER: f64 = 29.0;
/// And so much less above.
const LOWER: f64 = 6.0;
/// Room above the highest for words that make way.
const ABOVE_DB: f64 = 8.0;
/// Distortion ceilings further above a converter's clipping are not drawn.
const BEYOND_DB: f64 = 20.0;

/// The picture's axes, in drawing units from the top left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Left edge of the first column.
    pub left: f64,
    /// Right edge of the last.
    pub right: f64,
    /// The highest level.
    pub top: f64,
    /// The lowest.
    pub bottom: f64,
    /// What level is at the bottom, a multiple of 10.
    pub low: Dbu,
    /// And at the top.
    pub high: Dbu,
    /// Whether there is room for two rows of figures only.
    pub is_short: bool,
}

impl Frame {
    /// Of a picture of this width and height.
    #[must_use]
    pub fn of(diagram: &LevelDiagram, width: f64, height: f64) -> Self {
        Self::within(range(diagram), diagram.meter().is_some(), width, height)
    }

    /// Of pictures of one size that share a scale; `None` without any.
    #[must_use]
    pub fn over<'a>(
        diagrams: impl Iterator<Item = &'a LevelDiagram>,
        width: f64,
        height: f64,
    ) -> Option<Self> {
        let all = diagrams.map(|diagram| (range(diagram), diagram.meter().is_some()));
        let wider = |one: ((f64, f64), bool), other: ((f64, f64), bool)| {
            let (low, high) = (one.0.0.min(other.0.0), one.0.1.max(other.0.1));
            ((low, high), one.1 || other.1)
        };
        let (range, has_meter) = all.reduce(wider)?;
        Some(Self::within(range, has_meter, width, height))
    }

    fn within((low, high): (f64, f64), has_meter: bool, width: f64, height: f64) -> Self {
        let is_short = height < SHORT;
        let meter = if has_meter { ROW } else { 0.0 };
        let below = BELOW + meter - if is_short { FEWER } else { 0.0 };
        let top = if is_short { TOP - LOWER } else { TOP };
        Self {
            left: LEFT,
            right: (width - RIGHT).max(LEFT + 8.0),
            top,
            bottom: (height - below).max(top + 1.0),
            low: Dbu(low),
            high: Dbu(high),
            is_short,
        }
    }

    /// Width of a point's column.
    #[must_use]
    pub fn column(&self) -> f64 {
        (self.right - self.left) / 8.0
    }

    /// Height of a level; beyond the ends, the end.
    #[must_use]
    pub fn y(&self, level: Dbu) -> f64 {
        let share = (level - self.low).0 / (self.high - self.low).0;
        (self.bottom - share * (self.bottom - self.top)).clamp(self.top, self.bottom)
    }

    /// The level at a height; `None` outside.
    #[must_use]
    pub fn level(&self, y: f64) -> Option<Dbu> {
        let share = (self.bottom - y) / (self.bottom - self.top);
        (0.0..=1.0)
            .contains(&share)
            .then(|| Dbu(self.low.0 + share * (self.high - self.low).0))
    }
}

/// What no converter ever reaches is left to the tables.
pub(super) fn is_reached(point: &DiagramPoint, level: Dbu) -> bool {
    point.clip.is_none_or(|clip| level.0 < clip.0 + BEYOND_DB)
}

/// Tens of dBu around everything drawn.
fn range(diagram: &LevelDiagram) -> (f64, f64) {
    let (mut low, mut high) = (-40.0_f64, 20.0_f64);
    for point in &diagram.points {
        let floor = point.floor.map(|f| f.a.0.min(f.flat.0));
        let programmes = point.channels.into_iter().chain([point.programme]);
        let programme = programmes.flatten().map(|p| p.peak.0);
        let tops = point.thd.iter().filter_map(|thd| thd.level);
        let tops = tops.filter(|level| is_reached(point, *level));
        let tops = tops.chain(point.clip).chain(point.own).chain(point.grid);
        for level in tops.map(|level| level.0).chain(programme).chain(floor) {
            if level.is_finite() {
                low = low.min(level);
                high = high.max(level);
            }
        }
    }
    let low = low.max(-180.0);
    (
        ((low - 4.0) / 10.0).floor() * 10.0,
        ((high + ABOVE_DB) / 10.0).ceil() * 10.0,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Plan;

    #[test]
    fn a_height_is_the_level_it_was_made_of() {
        let diagram = LevelDiagram::of_plan(&Plan::default());
        let frame = Frame::of(&diagram.expect("a pad"), 760.0, 300.0);
        for level in [-60.0, -10.0, 0.0, 12.5] {
            let back = frame.level(frame.y(Dbu(level))).expect("inside");
            assert!((back.0 - level).abs() < 1e-9, "{level}: {back:?}");
        }
        assert_eq!(frame.level(frame.bottom + 1.0), None);
        assert_eq!(frame.y(Dbu(1e3)), frame.top);
    }
}
