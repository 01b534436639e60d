//! The pad's own noise, against the noise of a microphone.

use crate::circuit::{BOLTZMANN, ROOM_KELVIN};
use crate::pad::Pad;
use crate::units::{Db, Dbu, Ohms, Volts};

/// 20 Hz to 20 kHz, in hertz.
const BAND_HZ: f64 = 19_980.0;

/// Thermal noise at the pad's output, 20 Hz to 20 kHz, at 20 degC.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// With nothing connected: that of the output impedance, whatever the loss (all of it being at one
    /// temperature, Nyquist 1928).
    pub open: Dbu,
    /// At the preamplifier's terminals, loaded by a noiseless input.
    pub loaded: Dbu,
    /// Spectral density with nothing connected, in volts a root hertz.
    pub volts_per_root_hz: f64,
    /// Above that of a 150 ohm microphone.
    pub over_150_ohm: Db,
    /// Above that of a 200 ohm microphone.
    pub over_200_ohm: Db,
}

/// The noise of a pad between a source, whose impedance is as warm, and a load.
#[must_use]
pub fn noise(pad: &Pad, source: Ohms, load: Ohms) -> Noise {
    let out_ohms = pad.out_ohms(source).0;
    let density = (4.0 * BOLTZMANN * ROOM_KELVIN * out_ohms).sqrt();
    let open = Dbu::from_volts(Volts(density * BAND_HZ.sqrt()));
    let over = |ohms: f64| Db(10.0 * (out_ohms / ohms).log10());
    Noise {
        open,
        loaded: open + Db::from_ratio(load.0 / (load.0 + out_ohms)),
        volts_per_root_hz: density,
        over_150_ohm: over(150.0),
        over_200_ohm: over(200.0),
    }
}
