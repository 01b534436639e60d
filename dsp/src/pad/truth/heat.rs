//! What the pad asks of the source, the heat in each resistor, and phantom power through it.

use super::{MOST, PHANTOM_FEED_OHMS, branch_ohms, in_nodes, node, out_nodes};
use crate::pad::Pad;
use crate::pad::nodal::{Circuit, GROUND};
use crate::units::{Ohms, Volts};

/// Ratings resistors are sold with, in watts (common practice, no source).
pub const RATINGS_WATTS: [f64; 7] = [0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0];

/// The smallest rating that is twice the heat or more; `None` when none is.
#[must_use]
pub fn rating_watts(heat_watts: f64) -> Option<f64> {
    let enough = |rating: &f64| *rating >= 2.0 * heat_watts;
    RATINGS_WATTS.into_iter().find(enough)
}

/// Heat in each resistor, in watts, in the order of the network's list; beyond them 0.
pub type Heat = [f64; MOST];

/// What the source delivers into pad and preamplifier.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// Volts across the pad's input, RMS.
    pub volts: Volts,
    /// Current into it, RMS, in amperes.
    pub amps: f64,
    /// Volts at the preamplifier, RMS.
    pub out: Volts,
    /// Heat in each resistor.
    pub heat: Heat,
}

/// The load that a steady sine of `emf` unloaded volts meets.
#[must_use]
pub fn load(pad: &Pad, emf: Volts, source: Ohms, load: Ohms) -> Load {
    let [hot, cold] = in_nodes();
    let [out, back] = out_nodes(pad);
    let ohms = branch_ohms(pad);
    let mut circuit = Circuit::new(6, 0.0);
    circuit.resistor(cold, GROUND, 1.0);
    circuit.source(hot, cold, emf.0, source.0);
    circuit.pad(pad, node, |place| ohms[place]);
    circuit.resistor(out, back, load.0);
    let solution = circuit.solve();
    let mut heat = [0.0; MOST];
    for ((heat, branch), ohms) in heat.iter_mut().zip(pad.network().branches()).zip(ohms) {
        let [a, b] = branch.ends.map(node);
        let volts = solution.between(a, b).re;
        *heat = if ohms > 0.0 {
            volts * volts / ohms
        } else {
            0.0
        };
    }
    let volts = solution.between(hot, cold).re;
    Load {
        volts: Volts(volts),
        amps: (emf.0 - volts) / source.0,
        out: Volts(solution.between(out, back).re),
        heat,
    }
}

/// Phantom power that nobody switched off: 48 V through a feed resistor into each leg, into an output
/// whose legs are grounded for direct current through its own impedance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phantom {
    /// Out of the hot leg's feed, in amperes.
    pub hot_amps: f64,
    /// Out of the cold leg's feed, in amperes.
    pub cold_amps: f64,
    /// Into the source's hot leg, in amperes.
    pub source_amps: f64,
    /// Heat in the hot leg's feed resistor, in watts.
    pub feed_watts: f64,
}

/// The currents of 48 V phantom power (IEC 61938; figures from memory).
#[must_use]
pub fn phantom(pad: &Pad, source: Ohms) -> Phantom {
    const VOLTS: f64 = 48.0;
    let [hot, cold] = in_nodes();
    let [out, back] = out_nodes(pad);
    let ohms = branch_ohms(pad);
    let mut circuit = Circuit::new(6, 0.0);
    circuit.resistor(hot, GROUND, 0.5 * source.0);
    let balanced = [out, back] == [hot, cold] || pad.network().is_balanced();
    // The cold side of an unbalanced pad is the shield.
    circuit.resistor(cold, GROUND, if balanced { 0.5 * source.0 } else { 0.0 });
    circuit.pad(pad, node, |place| ohms[place]);
    circuit.source(out, GROUND, VOLTS, PHANTOM_FEED_OHMS);
    circuit.source(back, GROUND, VOLTS, PHANTOM_FEED_OHMS);
    let solution = circuit.solve();
    let feed = |joint: usize| (VOLTS - solution.at(joint).re) / PHANTOM_FEED_OHMS;
    let hot_amps = feed(out);
    Phantom {
        hot_amps,
        cold_amps: feed(back),
        source_amps: solution.at(hot).re / (0.5 * source.0),
        feed_watts: hot_amps * hot_amps * PHANTOM_FEED_OHMS,
    }
}
