//! The schematic: connectors left and right, resistors as boxes (IEC 60617) with name and value.

use crate::report::svg::{Anchor, Svg};

/// The network as it is drawn.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// Said aloud for the picture.
    pub description: String,
    /// Whether the series arms are in both legs.
    pub balanced: bool,
    /// Whether it begins with a shunt.
    pub begins_with_shunt: bool,
    /// What stands at each position, left to right.
    pub positions: Vec<Drawn>,
}

/// What stands at one position.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// Names, one or (in both legs) two.
    pub names: Vec<String>,
    /// The value.
    pub value: String,
}

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 192.0;
const HOT: f64 = 54.0;
const COLD: f64 = 130.0;
const SCREEN: f64 = 172.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 636.0;
/// Half of a resistor's length and of its width.
const HALF: (f64, f64) = (28.0, 7.5);

impl Drawing {
    /// The picture.
    #[must_use]
    pub fn svg(&self) -> String {
        let mut svg = Svg::new("pad", "Schematic", &self.description, WIDTH, HEIGHT);
        for (y, class) in [(HOT, "wire"), (COLD, "wire"), (SCREEN, "screen")] {
            svg.line(class, (LEFT, y), (RIGHT, y));
        }
        let count = self.positions.len() as f64;
        for (place, drawn) in self.positions.iter().enumerate() {
            let x = LEFT + (RIGHT - LEFT) * (place as f64 + 0.5) / count;
            let is_shunt = (place % 2 == 0) == self.begins_with_shunt;
            if is_shunt {
                shunt(&mut svg, x, drawn);
            } else {
                series(&mut svg, x, HOT, -14.0, drawn, 0);
                if self.balanced {
                    series(&mut svg, x, COLD, 23.0, drawn, 1);
                }
            }
        }
        connector(&mut svg, LEFT, -1.0, "in: XLR female");
        connector(&mut svg, RIGHT, 1.0, "out: XLR male");
        svg.text(
            "tm",
            Anchor::Middle,
            WIDTH / 2.0,
            SCREEN + 16.0,
            "screen: pin 1 to pin 1, and at each connector to its shell (AES48)",
        );
        svg.finish("schematic")
    }
}

fn series(svg: &mut Svg, x: f64, y: f64, off: f64, drawn: &Drawn, leg: usize) {
    svg.rect("part", x - HALF.0, y - HALF.1, 2.0 * HALF.0, 2.0 * HALF.1);
    let name = drawn.names.get(leg).map_or("", String::as_str);
    svg.text(
        "value",
        Anchor::Middle,
        x,
        y + off,
        &format!("{name}  {}", drawn.value),
    );
}

fn shunt(svg: &mut Svg, x: f64, drawn: &Drawn) {
    let middle = 0.5 * (HOT + COLD);
    svg.line("wire", (x, HOT), (x, COLD));
    svg.rect(
        "part",
        x - HALF.1,
        middle - HALF.0,
        2.0 * HALF.1,
        2.0 * HALF.0,
    );
    for y in [HOT, COLD] {
        svg.rect("dot", x - 2.6, y - 2.6, 5.2, 5.2);
    }
    let name = drawn.names.first().map_or("", String::as_str);
    svg.text("name", Anchor::Start, x + 14.0, middle - 3.0, name);
    svg.text(
        "value",
        Anchor::Start,
        x + 14.0,
        middle + 14.0,
        &drawn.value,
    );
}

fn connector(svg: &mut Svg, x: f64, side: f64, name: &str) {
    for (y, pin) in [(HOT, "2"), (COLD, "3"), (SCREEN, "1")] {
        svg.rect("pin", x - 9.0, y - 9.0, 18.0, 18.0);
        svg.text("pinno", Anchor::Middle, x, y + 4.0, pin);
    }
    let (anchor, beside) = if side < 0.0 {
        (Anchor::End, x - 14.0)
    } else {
        (Anchor::Start, x + 14.0)
    };
    for (y, label) in [(HOT, "hot"), (COLD, "cold"), (SCREEN, "screen")] {
        svg.text("ts", anchor, beside, y + 4.0, label);
    }
    svg.text("name", Anchor::Middle, x, 20.0, name);
}
