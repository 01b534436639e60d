//! The programme's lines: one peak and one RMS, or those of left and right.

use super::{Ink, LevelDiagram, Programme};
use crate::units::Dbu;

/// A line from point to point.
pub(super) struct ProgrammeLine {
    pub(super) name: &'static str,
    pub(super) ink: Ink,
    pub(super) width: f64,
    pub(super) dash: Option<[f64; 2]>,
    /// Nothing where there is silence.
    pub(super) levels: [Option<Dbu>; 8],
}

/// Weight and dash of a line, by what it shows: peak or RMS, left (or both) or right.
const STYLES: [[(f64, Option<[f64; 2]>); 2]; 2] = [
    [(2.6, None), (2.6, Some([9.0, 3.5]))],
    [(1.4, Some([5.0, 3.0])), (1.6, Some([1.5, 3.0]))],
];

/// All there are, peaks first.
pub(super) fn programme_lines(diagram: &LevelDiagram) -> Vec<ProgrammeLine> {
    let is_apart = diagram
        .points
        .iter()
        .any(|point| point.channels != [None; 2]);
    let names = if is_apart {
        [["peak L", "peak R"], ["RMS L", "RMS R"]]
    } else {
        [["peak", ""], ["RMS", ""]]
    };
    let sides = if is_apart { 0..2 } else { 0..1 };
    let line = |kind: usize, side: usize| {
        let level = |programme: Programme| [programme.peak, programme.rms][kind];
        let levels = std::array::from_fn(|n| {
            let point = &diagram.points[n];
            let programme = if is_apart {
                point.channels[side]
            } else {
                point.programme
            };
            programme.map(level)
        });
        let (width, dash) = STYLES[kind][side];
        ProgrammeLine {
            name: names[kind][side],
            ink: [Ink::Peak, Ink::Rms][kind],
            width,
            dash,
            levels,
        }
    };
    (0..2)
        .flat_map(|kind| sides.clone().map(move |side| (kind, side)))
        .map(|(kind, side)| line(kind, side))
        .collect()
}
