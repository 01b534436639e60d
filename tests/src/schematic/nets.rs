//! The drawing read back: which ends of which symbols its wires join.

use penstock_dsp::circuit::{ELEMENTS, Element, Kind, Node};

use super::Point;
use super::layout::{
    GROUNDS, LENGTH, LINKS, Place, SUPPLIES, TERMINALS, Turn, WINDINGS, pieces, place_of,
};

/// An end of a symbol, and the node where the table has it.
#[derive(Clone, Debug, PartialEq)]
pub struct End {
    /// The element's name, or what else is drawn there.
    pub name: String,
    /// Where it is drawn.
    pub at: Point,
    /// Where the table has it.
    pub node: Node,
}

/// Ends and which of them are joined.
#[derive(Clone, Debug)]
pub struct Nets {
    /// Every end.
    pub ends: Vec<End>,
    /// By end: the number of its net.
    pub of: Vec<usize>,
}

/// The far end of a symbol.
pub fn far(place: &Place) -> Point {
    let (x, y) = place.at;
    match place.turn {
        Turn::Right => (x + LENGTH, y),
        Turn::Down => (x, y + LENGTH),
        Turn::Left => (x - LENGTH, y),
        Turn::Up => (x, y - LENGTH),
    }
}

/// The ends of an element's symbol.
pub fn ends_of(element: &Element, place: &Place) -> Vec<(Point, Node)> {
    let (x, y) = place.at;
    match element.kind {
        Kind::Tube { grid, .. } => vec![
            ((x, y - 40), element.a),
            ((x, y + 40), element.b),
            ((x - 40, y), grid),
        ],
        Kind::Turns(_) => vec![
            ((x, y), element.a),
            ((x, y + LENGTH), Node::Ground),
            ((x + WINDINGS, y), element.b),
            ((x + WINDINGS, y + LENGTH), Node::Ground),
        ],
        _ => vec![(place.at, element.a), (far(place), element.b)],
    }
}

/// Whether a point lies on a piece of wire, its ends included.
pub fn lies_on(point: Point, [from, to]: [Point; 2]) -> bool {
    let between = |p: i32, a: i32, b: i32| a.min(b) <= p && p <= a.max(b);
    let (across, up) = ((to.0 - from.0), (to.1 - from.1));
    let straight = across * (point.1 - from.1) == up * (point.0 - from.0);
    straight && between(point.0, from.0, to.0) && between(point.1, from.1, to.1)
}

impl Nets {
    /// Reads the drawing.
    #[must_use]
    pub fn read() -> Self {
        let mut ends = Vec::new();
        for element in &ELEMENTS {
            let Some(place) = place_of(element.name) else {
                continue;
            };
            for (at, node) in ends_of(element, place) {
                let name = element.name.to_owned();
                ends.push(End { name, at, node });
            }
        }
        let mut mark = |name: &str, at: Point, node: Node| {
            let name = name.to_owned();
            ends.push(End { name, at, node });
        };
        for at in GROUNDS {
            mark("ground", at, Node::Ground);
        }
        for at in SUPPLIES {
            mark("supply", at, Node::Supply);
        }
        let nodes = [Node::MicHot, Node::MicCold, Node::Out, Node::Ground];
        for ((at, name), node) in TERMINALS.into_iter().zip(nodes) {
            mark(name, at, node);
        }
        let of = joined(&ends);
        Self { ends, of }
    }
}

/// Joins what lies on one wire, what stands on one point, links of one letter, all grounds, and all
/// supplies, until nothing more is joined.
fn joined(ends: &[End]) -> Vec<usize> {
    let wires = pieces();
    // Everything that can be joined: ends, pieces of wire, links.
    let (first_wire, first_link) = (ends.len(), ends.len() + wires.len());
    let mut pairs = Vec::new();
    for (n, end) in ends.iter().enumerate() {
        for (k, other) in ends.iter().enumerate().take(n) {
            let marked = ["ground", "supply"].contains(&end.name.as_str());
            if end.at == other.at || (marked && end.name == other.name) {
                pairs.push((n, k));
            }
        }
        for (k, wire) in wires.iter().enumerate() {
            if lies_on(end.at, *wire) {
                pairs.push((n, first_wire + k));
            }
        }
    }
    for (n, wire) in wires.iter().enumerate() {
        for (k, other) in wires.iter().enumerate() {
            if n != k && wire.iter().any(|end| lies_on(*end, *other)) {
                pairs.push((first_wire + n, first_wire + k));
            }
        }
        for (k, (at, _)) in LINKS.iter().enumerate() {
            if lies_on(*at, *wire) {
                pairs.push((first_wire + n, first_link + k));
            }
        }
    }
    for (n, (_, letter)) in LINKS.iter().enumerate() {
        for (k, (_, other)) in LINKS.iter().enumerate().take(n) {
            if letter == other {
                pairs.push((first_link + n, first_link + k));
            }
        }
    }
    let mut of: Vec<usize> = (0..first_link + LINKS.len()).collect();
    loop {
        let before = of.clone();
        for (a, b) in &pairs {
            let least = of[*a].min(of[*b]);
            (of[*a], of[*b]) = (least, least);
        }
        if of == before {
            break;
        }
    }
    of.truncate(ends.len());
    of
}
