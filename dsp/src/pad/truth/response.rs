//! Response with cables: from the source's EMF to the preamplifier's terminals at one frequency.

use super::{branch_ohms, in_nodes, node, out_nodes};
use crate::pad::Pad;
use crate::pad::nodal::Circuit;
use crate::units::Ohms;
use realfft::num_complex::Complex64;

/// Capacitance between the legs, in farads.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cables {
    /// Of the cable from source to pad.
    pub line_farads: f64,
    /// Of the cable from pad to preamplifier and of its input.
    pub mic_farads: f64,
}

/// Volts at the preamplifier over the source's EMF at a frequency in hertz, for a preamplifier of
/// impedance `load` there.
#[must_use]
pub fn transfer(pad: &Pad, source: Ohms, load: Complex64, cables: Cables, hz: f64) -> Complex64 {
    let [hot, cold] = in_nodes();
    let [out, back] = out_nodes(pad);
    let ohms = branch_ohms(pad);
    let mut circuit = Circuit::new(6, hz);
    // The cold side of the source is the reference; nothing else touches ground.
    circuit.resistor(cold, crate::pad::nodal::GROUND, 1.0);
    circuit.source(hot, cold, 1.0, source.0);
    circuit.capacitor(hot, cold, cables.line_farads);
    circuit.pad(pad, node, |place| ohms[place]);
    circuit.capacitor(out, back, cables.mic_farads);
    circuit.admittance(out, back, 1.0 / load);
    circuit.solve().between(out, back)
}
