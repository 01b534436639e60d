//! The picture itself.

use std::collections::BTreeMap;
use std::fmt::Write;

use penstock_dsp::circuit::{ELEMENTS, Element, Kind, SUPPLY_VOLTS, Value};

use super::Point;
use super::layout::{
    FRAMES, GROUNDS, HEADINGS, LENGTH, LINKS, Place, SUPPLIES, TERMINALS, TUBE_TYPES, Turn,
    WINDINGS, pieces, place_of,
};
use super::nets::{ends_of, lies_on};
use super::symbols::{self, Anchor, Area, LINE, Shape};
use super::values::value;

/// Width of the picture.
pub const WIDTH: i32 = 1250;
/// Height of the picture.
pub const HEIGHT: i32 = 1180;

/// Line widths, colours and fonts; a white ground, so that it can be read on any page.
const STYLE: &str = "path{fill:none;stroke:#111;stroke-width:1.6;stroke-linejoin:round}\
path.inner{stroke:#6b7280}path.switched{stroke:#b91c1c;stroke-width:2}\
path.frame{stroke:#9ca3af;stroke-dasharray:5 4;stroke-width:1.2}\
circle{fill:#111}circle.open{fill:#fff;stroke:#111;stroke-width:1.6}\
text{font:14px Helvetica,Arial,sans-serif;fill:#111}text.name{font-weight:bold}\
text.inner{fill:#4b5563}text.switched{fill:#b91c1c}\
text.heading{font-weight:bold;fill:#374151}";

/// The drawing in the making.
pub struct Drawing {
    out: String,
    /// What fills which part of it.
    pub areas: Vec<(String, Area)>,
}

impl Drawing {
    /// All of it.
    pub fn new() -> Self {
        let mut drawing = Self {
            out: String::new(),
            areas: Vec::new(),
        };
        drawing.frames();
        drawing.wires();
        for element in &ELEMENTS {
            if let Some(place) = place_of(element.name) {
                drawing.element(element, place);
            }
        }
        drawing.marks();
        drawing.key();
        drawing
    }

    fn text(&mut self, owner: &str, class: &str, at: Point, anchor: Anchor, text: &str) {
        let area = symbols::text(&mut self.out, class, at, anchor, text);
        self.areas.push((format!("{owner}: \"{text}\""), area));
    }

    fn body(&mut self, owner: &str, area: Area) {
        self.areas.push((owner.to_owned(), area));
    }

    fn frames(&mut self) {
        for ((left, top), (right, bottom), caption) in FRAMES {
            let _ = writeln!(
                self.out,
                "<path class=\"frame\" d=\"M{left} {top}H{right}V{bottom}H{left}Z\"/>"
            );
            let at = (left, top - 8);
            self.text("frame", "heading", at, Anchor::Start, caption);
        }
        for (at, heading) in HEADINGS {
            self.text("heading", "heading", at, Anchor::Start, heading);
        }
    }

    fn wires(&mut self) {
        let pieces = pieces();
        for [from, to] in &pieces {
            let _ = writeln!(
                self.out,
                "<path class=\"wire\" d=\"M{} {}L{} {}\"/>",
                from.0, from.1, to.0, to.1
            );
        }
        // A dot where three lines or more meet.
        let mut meeting: BTreeMap<Point, usize> = BTreeMap::new();
        let symbols = ELEMENTS.iter().filter_map(|element| {
            let place = place_of(element.name)?;
            Some(ends_of(element, place).into_iter().map(|(at, _)| at))
        });
        let ends: Vec<Point> = symbols
            .flatten()
            .chain(pieces.iter().flatten().copied())
            .chain(GROUNDS)
            .chain(SUPPLIES)
            .collect();
        for at in &ends {
            *meeting.entry(*at).or_default() += 1;
        }
        for (at, count) in &mut meeting {
            let passing = |piece: &&[Point; 2]| lies_on(*at, **piece) && !piece.contains(at);
            *count += 2 * pieces.iter().filter(passing).count();
        }
        for ((x, y), _) in meeting.iter().filter(|(_, count)| **count > 2) {
            let _ = writeln!(self.out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"3.2\"/>");
        }
    }

    fn element(&mut self, element: &Element, place: &Place) {
        let (shape, class) = match element.kind {
            Kind::Tube { .. } => return self.tube(element, place.at),
            Kind::Turns(_) => return self.transformer(element, place.at),
            Kind::Resistor(Value::ByGain(_)) => (Shape::Switched, "switched"),
            Kind::Resistor(_) => (Shape::Resistor, part(place)),
            Kind::Capacitor(_) => (Shape::Capacitor, part(place)),
            Kind::Leakage(_) => (Shape::Coil, part(place)),
            Kind::Iron(_) => (Shape::Iron, part(place)),
        };
        symbols::two_ended(&mut self.out, class, shape, place.at, place.turn);
        let (x, y) = place.at;
        let half = LENGTH / 2;
        let (middle, upright) = match place.turn {
            Turn::Right => ((x + half, y), false),
            Turn::Down => ((x, y + half), true),
            Turn::Left => ((x - half, y), false),
            Turn::Up => ((x, y - half), true),
        };
        let (along, across) = match shape {
            Shape::Capacitor => (5, 13),
            Shape::Switched => (22, 18),
            Shape::Coil => (22, 8),
            Shape::Iron => (22, 21),
            Shape::Resistor => (22, 8),
        };
        let name = element.name;
        let (left, base, anchor) = if upright {
            self.body(name, Area::round(middle, across, along));
            (middle.0 + across + 6, middle.1 - 3, Anchor::Start)
        } else {
            self.body(name, Area::round(middle, along, across));
            (middle.0, middle.1 - across - 6 - LINE, Anchor::Middle)
        };
        let written = value(&element.kind);
        self.text(name, &format!("name {class}"), (left, base), anchor, name);
        self.text(name, class, (left, base + LINE), anchor, &written);
    }

    fn transformer(&mut self, element: &Element, (x, y): Point) {
        symbols::transformer(&mut self.out, "inner", (x, y));
        let middle = (x + WINDINGS / 2, y + LENGTH / 2);
        self.body(element.name, Area::round(middle, WINDINGS / 2, LENGTH / 2));
        let written = value(&element.kind);
        let name = element.name;
        let base = (middle.0, y - 6 - LINE);
        self.text(name, "name inner", base, Anchor::Middle, name);
        let base = (middle.0, y - 6);
        self.text(name, "inner", base, Anchor::Middle, &written);
    }

    fn tube(&mut self, element: &Element, (x, y): Point) {
        symbols::triode(&mut self.out, "part", (x, y));
        let name = element.name;
        self.body(name, Area::round((x, y), 30, 30));
        self.text(name, "name", (x + 32, y - 26), Anchor::Start, name);
        for (at, _) in TUBE_TYPES.iter().filter(|(_, tube)| *tube == name) {
            let written = format!("{name}: {}", value(&element.kind));
            self.text(name, "part", *at, Anchor::Start, &written);
        }
    }

    fn marks(&mut self) {
        for at in GROUNDS {
            symbols::ground(&mut self.out, at);
            self.body("ground", Area::round((at.0, at.1 + 9), 11, 8));
        }
        for at in SUPPLIES {
            symbols::supply(&mut self.out, at);
            let volts = format!("+{SUPPLY_VOLTS} V");
            self.text("supply", "part", (at.0, at.1 - 17), Anchor::Middle, &volts);
        }
        for ((x, y), name) in TERMINALS {
            let _ = writeln!(
                self.out,
                "<circle class=\"open\" cx=\"{x}\" cy=\"{y}\" r=\"4.5\"/>"
            );
            let at = if x < WIDTH / 2 {
                (x - 10, y - 12)
            } else {
                (x + 12, y + 5)
            };
            let words = name.replace("mic_", "").replace("out_", "out, ");
            self.text("terminal", "part", at, Anchor::Start, &words);
        }
        for ((x, y), letter) in LINKS {
            let _ = writeln!(
                self.out,
                "<circle class=\"open\" cx=\"{x}\" cy=\"{y}\" r=\"11\"/>"
            );
            self.text("link", "name", (x, y + 5), Anchor::Middle, letter);
        }
    }

    fn key(&mut self) {
        let lines = [
            ("part", "black: parts put in. A and B go on in the next row"),
            (
                "switched",
                "red, with an arrow: switched by the gain switch",
            ),
            (
                "inner",
                "grey: what windings, iron, tubes and wiring bring with them",
            ),
        ];
        for ((class, words), base) in lines.into_iter().zip((0..).map(|n| HEIGHT - 70 + 22 * n)) {
            self.text("key", class, (40, base), Anchor::Start, words);
        }
    }
}

/// The class of a part.
fn part(place: &Place) -> &'static str {
    if place.inner { "inner" } else { "part" }
}

/// The schematic as an SVG file.
#[must_use]
pub fn svg() -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         width=\"{WIDTH}\" height=\"{HEIGHT}\" role=\"img\">\n\
         <title>Schematic of the preamplifier</title>\n\
         <style>{STYLE}</style>\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#fff\"/>\n{}</svg>\n",
        Drawing::new().out
    )
}
