//! Where everything stands. tidy: table

use super::Point;

/// The way from an element's end `a` to its end `b`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "directions of the drawing")]
pub enum Turn {
    Right,
    Down,
    Left,
    Up,
}

/// Where an element stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The element's name.
    pub name: &'static str,
    /// Its end `a`; of a tube the middle.
    pub at: Point,
    /// Where its end `b` is.
    pub turn: Turn,
    /// Whether it is part of a tube, a winding or the wiring rather than one that is put in.
    pub inner: bool,
}

/// From one end of a symbol to the other.
pub const LENGTH: i32 = 80;
/// Between the windings of a transformer.
pub const WINDINGS: i32 = 60;

const fn place(name: &'static str, x: i32, y: i32, turn: Turn, inner: bool) -> Place {
    Place {
        name,
        at: (x, y),
        turn,
        inner,
    }
}

/// Hot line and ground of the first row, and so on down.
const HOT_1: i32 = 120;
const COLD_1: i32 = HOT_1 + LENGTH;
const GRID: i32 = 570;
const PLATE: i32 = GRID - LENGTH;
const CATHODE: i32 = GRID + LENGTH;
const FEEDBACK: i32 = 330;
const HOT_3: i32 = 910;
const COLD_3: i32 = HOT_3 + LENGTH;

/// Every element.
#[rustfmt::skip]
pub const PLACES: [Place; 45] = {
    use Turn::{Down, Left, Right, Up};
    [
        place("R1", 80, HOT_1, Right, false),
        place("R2", 80, COLD_1, Right, false),
        place("R3", 205, HOT_1, Down, false),
        place("RT1P", 310, HOT_1, Right, true),
        place("BT1", 510, HOT_1, Down, true),
        place("RT1C", 420, HOT_1, Down, true),
        place("LT1", 580, HOT_1, Right, true),
        place("T1", 690, HOT_1, Right, true),
        place("RT1S", 790, HOT_1, Right, true),
        place("CT1S", 900, HOT_1, Down, true),
        place("R4", 1020, HOT_1, Down, false),
        place("V1", 210, GRID, Right, false),
        place("CV1GK", 90, GRID, Down, true),
        place("CV1GP", 90, GRID, Up, true),
        place("CV1PK", 280, GRID - LENGTH / 2, Down, true),
        place("R5", 210, CATHODE, Down, false),
        place("R6", 350, CATHODE, Down, false),
        place("R7", 510, CATHODE, Down, false),
        place("C1", 350, CATHODE + LENGTH, Down, false),
        place("R8", 210, PLATE - LENGTH, Down, false),
        place("C2", 380, PLATE, Down, true),
        place("C3", 390, PLATE, Right, false),
        place("R9", 495, PLATE, Right, false),
        place("R10", 640, GRID, Down, false),
        place("R11", 1010, FEEDBACK, Left, false),
        place("C4", 725, GRID, Down, true),
        place("V2", 930, GRID, Right, false),
        place("CV2GK", 810, GRID, Down, true),
        place("CV2GP", 810, GRID, Up, true),
        place("CV2PK", 1000, GRID - LENGTH / 2, Down, true),
        place("R12", 930, PLATE - LENGTH, Down, false),
        place("R13", 930, CATHODE, Down, false),
        place("C5", 1070, CATHODE, Down, false),
        place("C6", 1060, PLATE, Right, false),
        place("CT2P", 120, HOT_3, Down, true),
        place("RT2P", 200, HOT_3, Right, true),
        place("BT2", 400, HOT_3, Down, true),
        place("RT2C", 310, HOT_3, Down, true),
        place("LT2", 470, HOT_3, Right, true),
        place("T2", 580, HOT_3, Right, true),
        place("RT2S", 680, HOT_3, Right, true),
        place("CT2S", 790, HOT_3, Down, true),
        place("R14", 920, HOT_3, Down, false),
        place("C7", 920, COLD_3, Down, false),
        place("R15", 1020, HOT_3, Down, false),
    ]
};

/// Wires: each from point to point. They join what lies on them; a crossing joins nothing.
pub const WIRES: [&[Point]; 34] = [
    // Input and T1.
    &[(40, HOT_1), (80, HOT_1)],
    &[(40, COLD_1), (80, COLD_1)],
    &[(160, HOT_1), (310, HOT_1)],
    &[(160, COLD_1), (205, COLD_1)],
    &[(390, HOT_1), (580, HOT_1)],
    &[(660, HOT_1), (690, HOT_1)],
    &[(750, HOT_1), (790, HOT_1)],
    &[(870, HOT_1), (1090, HOT_1)],
    // V1.
    &[(40, GRID), (170, GRID)],
    &[(90, PLATE), (390, PLATE)],
    &[(210, PLATE), (210, GRID - 40)],
    &[(280, PLATE), (280, GRID - 40)],
    &[(90, CATHODE), (510, CATHODE)],
    &[(210, GRID + 40), (210, CATHODE)],
    &[(280, GRID + 40), (280, CATHODE)],
    &[(350, CATHODE + LENGTH), (510, CATHODE + LENGTH)],
    &[(470, PLATE), (495, PLATE)],
    // The gain switch and V2.
    &[(575, PLATE), (610, PLATE)],
    &[(930, FEEDBACK), (610, FEEDBACK), (610, PLATE), (610, GRID)],
    &[(610, GRID), (890, GRID)],
    &[(810, PLATE), (1060, PLATE)],
    &[(930, PLATE), (930, GRID - 40)],
    &[(1000, PLATE), (1000, GRID - 40)],
    &[(810, CATHODE), (1070, CATHODE)],
    &[(930, GRID + 40), (930, CATHODE)],
    &[(1000, GRID + 40), (1000, CATHODE)],
    &[(1140, PLATE), (1210, PLATE)],
    &[(1010, FEEDBACK), (1175, FEEDBACK), (1175, PLATE)],
    // T2 and output.
    &[(40, HOT_3), (200, HOT_3)],
    &[(280, HOT_3), (470, HOT_3)],
    &[(550, HOT_3), (580, HOT_3)],
    &[(640, HOT_3), (680, HOT_3)],
    &[(760, HOT_3), (1110, HOT_3)],
    &[(1070, COLD_3), (1110, COLD_3)],
];

/// Where ground is drawn.
pub const GROUNDS: [Point; 23] = [
    (205, COLD_1),
    (420, COLD_1),
    (510, COLD_1),
    (690, COLD_1),
    (750, COLD_1),
    (900, COLD_1),
    (1020, COLD_1),
    (210, CATHODE + LENGTH),
    (350, CATHODE + 2 * LENGTH),
    (380, PLATE + LENGTH),
    (640, GRID + LENGTH),
    (725, GRID + LENGTH),
    (930, CATHODE + LENGTH),
    (1070, CATHODE + LENGTH),
    (120, COLD_3),
    (310, COLD_3),
    (400, COLD_3),
    (580, COLD_3),
    (640, COLD_3),
    (790, COLD_3),
    (920, COLD_3 + LENGTH),
    (1020, COLD_3),
    (1070, COLD_3),
];

/// Where the supply is drawn.
pub const SUPPLIES: [Point; 2] = [(210, PLATE - LENGTH), (930, PLATE - LENGTH)];

/// Terminals, with their captions.
pub const TERMINALS: [(Point, &str); 4] = [
    ((40, HOT_1), "mic_hot"),
    ((40, COLD_1), "mic_cold"),
    ((1110, HOT_3), "out_hot"),
    ((1110, COLD_3), "out_cold"),
];

/// A letter joins the end of a row with the beginning of the next.
pub const LINKS: [(Point, &str); 4] = [
    ((1090, HOT_1), "A"),
    ((40, GRID), "A"),
    ((1210, PLATE), "B"),
    ((40, HOT_3), "B"),
];

/// Frames with captions: what belongs together.
pub const FRAMES: [(Point, Point, &str); 3] = [
    ((70, 70), (270, 240), "attenuator, 20 dB"),
    ((290, 70), (975, 240), "input transformer T1"),
    ((90, 860), (865, 1030), "output transformer T2"),
];

/// Headings.
pub const HEADINGS: [(Point, &str); 3] = [
    ((40, 350), "first stage"),
    ((640, 300), "gain switch: R6, R9, R11"),
    ((640, 365), "second stage"),
];

/// Where a tube's type is written.
pub const TUBE_TYPES: [(Point, &str); 2] = [((140, 350), "V1"), ((765, 365), "V2")];

/// The wires, piece by piece.
pub fn pieces() -> Vec<[Point; 2]> {
    WIRES
        .iter()
        .flat_map(|wire| wire.windows(2).map(|ends| [ends[0], ends[1]]))
        .collect()
}

/// The place of an element.
pub fn place_of(name: &str) -> Option<&'static Place> {
    PLACES.iter().find(|place| place.name == name)
}
