//! Symbols after IEC 60617, and texts with the boxes they fill.

use std::fmt::Write;

use super::Point;
use super::layout::{LENGTH, Turn, WINDINGS};

/// A box of the drawing: left, top, right, bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Area {
    /// Left edge.
    pub left: i32,
    /// Upper edge.
    pub top: i32,
    /// Right edge.
    pub right: i32,
    /// Lower edge.
    pub bottom: i32,
}

impl Area {
    /// Whether two share more than an edge.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// A box round a point.
    pub fn round((x, y): Point, half_width: i32, half_height: i32) -> Self {
        Self {
            left: x - half_width,
            top: y - half_height,
            right: x + half_width,
            bottom: y + half_height,
        }
    }
}

/// Half the length of a symbol's body; the rest are its leads.
const BODY: i32 = 22;

/// A symbol with two ends, drawn from the left to the right and turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// A rectangle.
    Resistor,
    /// The same with the arrow of something switched.
    Switched,
    /// Two plates.
    Capacitor,
    /// Half-circles.
    Coil,
    /// The same along an iron.
    Iron,
}

/// A symbol of two ends, its end `a` at a point.
pub fn two_ended(out: &mut String, class: &str, shape: Shape, (x, y): Point, turn: Turn) {
    let degrees = match turn {
        Turn::Right => 0,
        Turn::Down => 90,
        Turn::Left => 180,
        Turn::Up => 270,
    };
    let middle = LENGTH / 2;
    let (from, to) = (middle - BODY, middle + BODY);
    let leads = |from: i32, to: i32| format!("M0 0H{from}M{to} 0H{LENGTH}");
    let path = match shape {
        Shape::Resistor => format!("{}M{from} -8H{to}V8H{from}Z", leads(from, to)),
        Shape::Switched => format!(
            "{}M{from} -8H{to}V8H{from}ZM{} 18L{} -18M{} -17L{} -18L{} -11",
            leads(from, to),
            middle - 18,
            middle + 18,
            middle + 11,
            middle + 18,
            middle + 17
        ),
        Shape::Capacitor => {
            let (from, to) = (middle - 4, middle + 4);
            format!("{}M{from} -13V13M{to} -13V13", leads(from, to))
        }
        Shape::Coil => format!("{}M{from} 0{}", leads(from, to), humps(4)),
        Shape::Iron => format!(
            "{}M{from} 0{}M{from} -17H{to}M{from} -21H{to}",
            leads(from, to),
            humps(4)
        ),
    };
    let _ = writeln!(
        out,
        "<path class=\"{class}\" transform=\"translate({x} {y}) rotate({degrees})\" d=\"{path}\"/>"
    );
}

/// Half-circles of a coil, along the symbol.
fn humps(count: usize) -> String {
    "a5.5 5.5 0 0 1 11 0".repeat(count)
}

/// Two windings with an iron between them.
pub fn transformer(out: &mut String, class: &str, (x, y): Point) {
    let top = LENGTH / 2 - BODY;
    let bottom = LENGTH / 2 + BODY;
    let winding = |x: i32, sweep: u8| {
        format!(
            "M{x} 0V{top}{}M{x} {bottom}V{LENGTH}",
            format!("a5.5 5.5 0 0 {sweep} 0 11").repeat(4)
        )
    };
    let (one, other) = (WINDINGS / 2 - 3, WINDINGS / 2 + 3);
    let _ = writeln!(
        out,
        "<path class=\"{class}\" transform=\"translate({x} {y})\" \
         d=\"{}{}M{one} {top}V{bottom}M{other} {top}V{bottom}\"/>",
        winding(0, 1),
        winding(WINDINGS, 0)
    );
}

/// A triode round its middle: plate up, grid left, cathode down.
pub fn triode(out: &mut String, class: &str, (x, y): Point) {
    let _ = writeln!(
        out,
        "<path class=\"{class}\" transform=\"translate({x} {y})\" \
         d=\"M-30 0a30 30 0 1 0 60 0a30 30 0 1 0 -60 0M0 -40V-15M-14 -15H14\
         M-40 0H-17M-14 0H-8M-4 0H2M6 0H12M16 0H20M-12 20V18a12 5 0 0 1 24 0V20M0 13V40\"/>"
    );
}

/// Ground below a point.
pub fn ground(out: &mut String, (x, y): Point) {
    let _ = writeln!(
        out,
        "<path class=\"part\" transform=\"translate({x} {y})\" \
         d=\"M0 0V8M-11 8H11M-7 12H7M-3 16H3\"/>"
    );
}

/// The supply above a point.
pub fn supply(out: &mut String, (x, y): Point) {
    let _ = writeln!(
        out,
        "<path class=\"part\" transform=\"translate({x} {y})\" d=\"M0 0V-12M-5 -5L0 -12L5 -5\"/>"
    );
}

/// Height of a line of text.
pub const LINE: i32 = 16;

/// About how wide a text is at the size of a label.
fn width(text: &str) -> i32 {
    (8.2 * text.chars().count() as f64).ceil() as i32
}

/// Where a text is anchored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// It is centred there.
    Middle,
}

/// One line of text on a base line; answers its box.
pub fn text(out: &mut String, class: &str, (x, y): Point, anchor: Anchor, text: &str) -> Area {
    let width = width(text);
    let (name, left) = match anchor {
        Anchor::Start => ("start", x),
        Anchor::Middle => ("middle", x - width / 2),
    };
    let _ = writeln!(
        out,
        "<text class=\"{class}\" x=\"{x}\" y=\"{y}\" text-anchor=\"{name}\">{text}</text>"
    );
    Area {
        left,
        top: y - LINE + 4,
        right: left + width,
        bottom: y + 4,
    }
}
