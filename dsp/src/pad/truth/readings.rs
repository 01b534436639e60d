//! What an ohmmeter reads on a finished pad with nothing connected.

use super::{branch_ohms, in_nodes, node, out_nodes};
use crate::pad::Pad;
use crate::pad::nodal::{Circuit, GROUND};

/// Resistances at the connectors, in ohms; pin 2 is hot, pin 3 is cold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Readings {
    /// Input pins 2 to 3, output open.
    pub in_open_ohms: f64,
    /// Input pins 2 to 3, output pins 2 and 3 joined.
    pub in_shorted_ohms: f64,
    /// Output pins 2 to 3, input open.
    pub out_open_ohms: f64,
    /// Output pins 2 to 3, input pins 2 and 3 joined.
    pub out_shorted_ohms: f64,
    /// Input pin 2 to output pin 2, all else open.
    pub hot_ohms: f64,
    /// Input pin 3 to output pin 3, all else open.
    pub cold_ohms: f64,
}

/// The readings of a pad; infinite where nothing connects.
#[must_use]
pub fn readings(pad: &Pad) -> Readings {
    let [hot, cold] = in_nodes();
    let [out, back] = out_nodes(pad);
    let ohms = branch_ohms(pad);
    let reading = |from: usize, to: usize, joined: Option<(usize, usize)>| {
        if from == to {
            return 0.0;
        }
        // A meter of 1 Mohm and 1 V, its own resistance taken away again; `to` is its black lead.
        const METER_OHMS: f64 = 1e6;
        let mut circuit = Circuit::new(6, 0.0);
        circuit.resistor(to, GROUND, 1e-3);
        circuit.pad(pad, node, |place| ohms[place]);
        if let Some((a, b)) = joined {
            circuit.resistor(a, b, 0.0);
        }
        circuit.source(from, to, 1.0, METER_OHMS);
        let volts = circuit.solve().between(from, to).re;
        let found = METER_OHMS * volts / (1.0 - volts);
        if found > 1e12 { f64::INFINITY } else { found }
    };
    Readings {
        in_open_ohms: reading(hot, cold, None),
        in_shorted_ohms: reading(hot, cold, Some((out, back))),
        out_open_ohms: reading(out, back, None),
        out_shorted_ohms: reading(out, back, Some((hot, cold))),
        hot_ohms: reading(hot, out, None),
        cold_ohms: reading(cold, back, None),
    }
}
