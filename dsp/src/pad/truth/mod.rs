//! What a built pad really does: tolerances, hum, response, heat, noise, phantom power, and what a
//! meter reads on the bench.
//!
//! All of it is computed from the resistors by nodal analysis ([`super::nodal`]), leg by leg, with the
//! source's impedance half in each leg.

mod heat;
mod hum;
mod noise;
mod readings;
mod response;
mod spread;

pub use heat::{Heat, Load, Phantom, RATINGS_WATTS, load, phantom, rating_watts};
pub use hum::{Hum, HumCase, PHANTOM_FEED_OHMS, hum};
pub use noise::{Noise, noise};
pub use readings::{Readings, readings};
pub use response::{Cables, transfer};
pub use spread::{Deviation, Spread, spread};

use super::{Joint, Pad};

/// Most resistors of a network.
const MOST: usize = 5;

/// Nodes of the circuits here.
fn node(joint: Joint) -> usize {
    match joint {
        Joint::InHot => 0,
        Joint::InCold => 1,
        Joint::MidHot => 2,
        Joint::MidCold => 3,
        Joint::OutHot => 4,
        Joint::OutCold => 5,
    }
}

/// The node of the cold output: in an unbalanced network the cold side is one wire.
fn cold_out(pad: &Pad) -> usize {
    if pad.network().is_balanced() {
        node(Joint::OutCold)
    } else {
        node(Joint::InCold)
    }
}

/// The hot and the cold node of the input.
fn in_nodes() -> [usize; 2] {
    [node(Joint::InHot), node(Joint::InCold)]
}

/// Those of the output; with no pad, straight in, they are the input's.
fn out_nodes(pad: &Pad) -> [usize; 2] {
    if pad.network().positions() == 0 {
        in_nodes()
    } else {
        [node(Joint::OutHot), cold_out(pad)]
    }
}

/// The value of every resistor of the network's list.
fn branch_ohms(pad: &Pad) -> [f64; MOST] {
    let mut ohms = [0.0; MOST];
    for (ohms, branch) in ohms.iter_mut().zip(pad.network().branches()) {
        *ohms = pad.values()[branch.position];
    }
    ohms
}

/// Calls `each` with every combination of signs for `count` resistors.
fn corners(count: usize, mut each: impl FnMut(&[f64])) {
    let mut signs = [0.0; MOST + 1];
    for corner in 0..1_u32 << count {
        for (place, sign) in signs.iter_mut().enumerate().take(count) {
            *sign = if corner >> place & 1 == 1 { 1.0 } else { -1.0 };
        }
        each(&signs[..count]);
    }
}
