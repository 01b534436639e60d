//! Volts and ohms.

/// A resistance or the magnitude of an impedance, leg to leg, in ohms.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Ohms(pub f64);

/// An RMS voltage, in volts.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Volts(pub f64);

/// A peak voltage (largest magnitude), in volts.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct VoltsPeak(pub f64);

/// Two resistances in parallel, in ohms; either may be infinite.
#[must_use]
pub fn parallel(a_ohms: f64, b_ohms: f64) -> f64 {
    1.0 / (1.0 / a_ohms + 1.0 / b_ohms)
}
