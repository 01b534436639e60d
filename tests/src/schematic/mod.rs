//! The preamplifier's schematic, drawn from its table of elements.
//!
//! Where a symbol stands is in `layout`; what it is and what is written beside it comes from
//! `ELEMENTS`. `nets` reads the drawing back: which ends its wires join, to be held against the
//! table. Coordinates are whole drawing units from the top left.

mod draw;
mod layout;
mod nets;
mod symbols;
mod values;

pub use draw::{HEIGHT, WIDTH, svg};
pub use layout::{Place, Turn};
pub use nets::{End, Nets};
pub use symbols::Area;
pub use values::{switched, value};

/// A point of the drawing.
pub type Point = (i32, i32);

/// A label's box or a symbol's, and what it belongs to.
#[must_use]
pub fn areas() -> Vec<(String, Area)> {
    draw::Drawing::new().areas
}

/// The wires, as straight pieces.
#[must_use]
pub fn wires() -> Vec<[Point; 2]> {
    layout::pieces()
}
