//! The one table of the preamplifier's elements, model version 2: name, where it stands, value, and
//! what it is for. The equations that sound, the SPICE deck and the circuit's page are all made
//! from it.
//!
//! A textbook design of our own. Units: ohms, farads, henries, turns a turn.

use super::core::Core;
use super::triode::{ECC83_RSD_2, ECC88_KOREN_1996, Triode};

/// The gain steps in dB: terminals to output into 10 kohm, attenuator off, 1 kHz, small signal.
pub const GAIN_STEPS_DB: [f64; 7] = [28.0, 34.0, 40.0, 46.0, 52.0, 58.0, 64.0];
/// Load into which gain is stated.
pub const GAIN_LOAD_OHMS: f64 = 10_000.0;
/// Frequency at which gain and impedance are stated.
pub const STATED_HZ: f64 = 1_000.0;
/// The supply behind the plate resistors, in volts; ideal.
pub const SUPPLY_VOLTS: f64 = 300.0;

/// Where elements meet. The cold end of T1's primary is the ground of the signal: the input floats.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "named for what stands there")]
pub enum Node {
    Grid1,
    Cathode1,
    Bypass1,
    Plate1,
    Coupled,
    Grid2,
    Cathode2,
    Plate2,
    Primary2,
    Out,
    Damped,
    /// T1's primary terminal, hot.
    Primary1,
    /// T1's core, behind the resistance of the primary.
    Core1,
    /// The ideal primary of T1, behind the leakage.
    Ideal1,
    /// The ideal secondary of T1, before the resistance of the winding.
    Wound1,
    Core2,
    Ideal2,
    Wound2,
    Ground,
    Supply,
    /// The preamplifier's input terminals.
    MicHot,
    MicCold,
}

impl Node {
    /// The name in the deck.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Grid1 => "grid_1",
            Self::Cathode1 => "cathode_1",
            Self::Bypass1 => "bypass_1",
            Self::Plate1 => "plate_1",
            Self::Coupled => "coupled",
            Self::Grid2 => "grid_2",
            Self::Cathode2 => "cathode_2",
            Self::Plate2 => "plate_2",
            Self::Primary2 => "primary_2",
            Self::Out => "out_hot",
            Self::Damped => "damped",
            Self::Primary1 => "primary_1",
            Self::Core1 => "core_1",
            Self::Ideal1 => "ideal_1",
            Self::Wound1 => "wound_1",
            Self::Core2 => "core_2",
            Self::Ideal2 => "ideal_2",
            Self::Wound2 => "wound_2",
            Self::Ground => "0",
            Self::Supply => "supply",
            Self::MicHot => "mic_hot",
            Self::MicCold => "mic_cold",
        }
    }
}

/// What an element is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Between two nodes, in ohms.
    Resistor(Value),
    /// Between two nodes, in farads.
    Capacitor(f64),
    /// A leakage inductance between two nodes, in henries.
    Leakage(f64),
    /// An ideal transformer from `a` to `b`, both against ground: turns of `b` over turns of `a`.
    Turns(f64),
    /// Iron from `a` to ground.
    Iron(Core),
    /// Plate `a`, cathode `b`.
    Tube {
        /// Its laws.
        triode: Triode,
        /// Its grid.
        grid: Node,
    },
}

/// A value that may be switched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// Always this.
    Fixed(f64),
    /// By gain step, in the order of [`GAIN_STEPS_DB`]; infinite is open.
    ByGain([f64; 7]),
    /// Only when the input attenuator is engaged: otherwise a leg is a wire, a shunt is open.
    Attenuator(f64),
}

/// One element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// Its name, as in the deck and on the circuit's page.
    pub name: &'static str,
    /// What it is, with its value.
    pub kind: Kind,
    /// One end.
    pub a: Node,
    /// The other.
    pub b: Node,
    /// What it is for.
    pub purpose: &'static str,
}

const OPEN: f64 = f64::INFINITY;

const fn part(name: &'static str, kind: Kind, a: Node, b: Node, purpose: &'static str) -> Element {
    Element {
        name,
        kind,
        a,
        b,
        purpose,
    }
}

const fn ohms(ohms: f64) -> Kind {
    Kind::Resistor(Value::Fixed(ohms))
}

const fn by_gain(ohms: [f64; 7]) -> Kind {
    Kind::Resistor(Value::ByGain(ohms))
}

const fn attenuator(ohms: f64) -> Kind {
    Kind::Resistor(Value::Attenuator(ohms))
}

/// T1's iron: saturates early, being small.
pub const T1_CORE: Core = Core {
    henries: 10.0,
    knee_webers: 5e-3,
    wall_webers: 10e-3,
    loss_ohms: 2_500.0,
};

/// T2's iron.
pub const T2_CORE: Core = Core {
    henries: 60.0,
    knee_webers: 0.23,
    wall_webers: 0.35,
    loss_ohms: 5_000.0,
};

/// Every element, from the input to the output.
#[rustfmt::skip]
pub const ELEMENTS: [Element; 45] = {
    use Kind::{Capacitor, Iron, Leakage, Tube, Turns};
    use Node::{
        Bypass1, Cathode1, Cathode2, Core1, Core2, Coupled, Damped, Grid1, Grid2, Ground, Ideal1,
        Ideal2, MicCold, MicHot, Out, Plate1, Plate2, Primary1, Primary2, Supply, Wound1, Wound2,
    };
    [
        part("R1", attenuator(715.0), MicHot, Primary1, "attenuator, hot leg"),
        part("R2", attenuator(715.0), MicCold, Ground, "attenuator, cold leg"),
        part("R3", attenuator(178.0), Primary1, Ground, "attenuator, shunt: what T1 sees"),
        part("RT1P", ohms(36.0), Primary1, Core1, "T1, resistance of the primary"),
        part("BT1", Iron(T1_CORE), Core1, Ground, "T1, iron"),
        part("RT1C", ohms(60e3), Core1, Ground, "T1, loss of the iron at low level"),
        part("LT1", Leakage(500e-6), Core1, Ideal1, "T1, leakage"),
        part("T1", Turns(8.0), Ideal1, Wound1, "T1, turns: +18 dB"),
        part("RT1S", ohms(2_200.0), Wound1, Grid1, "T1, resistance of the secondary"),
        part("CT1S", Capacitor(45e-12), Grid1, Ground, "T1, capacitance of the secondary"),
        part("R4", ohms(100e3), Grid1, Ground, "loads T1: input impedance and damping"),
        part("V1", Tube { triode: ECC83_RSD_2, grid: Grid1 }, Plate1, Cathode1, "first stage"),
        part("CV1GK", Capacitor(1.6e-12), Grid1, Cathode1, "V1, grid to cathode"),
        part("CV1GP", Capacitor(1.7e-12), Grid1, Plate1, "V1, grid to plate"),
        part("CV1PK", Capacitor(0.46e-12), Plate1, Cathode1, "V1, plate to cathode"),
        part("R5", ohms(1_500.0), Cathode1, Ground, "bias and local feedback of V1"),
        part("R6", by_gain([OPEN, OPEN, OPEN, OPEN, OPEN, OPEN, 3_900.0]), Cathode1, Bypass1, "gain switch: part of the feedback bypassed"),
        part("R7", ohms(100e3), Cathode1, Bypass1, "keeps C1 charged, so that R6 switches without a thump"),
        part("C1", Capacitor(22e-6), Bypass1, Ground, "bypass; with R7 it settles in seconds"),
        part("R8", ohms(100e3), Supply, Plate1, "load of V1"),
        part("C2", Capacitor(5e-12), Plate1, Ground, "wiring at the plate"),
        part("C3", Capacitor(470e-9), Plate1, Coupled, "coupling; recovers soon from overload"),
        part("R9", by_gain([1.47e6, 698e3, 301e3, 107e3, 10.5e3, 4_700.0, 4_700.0]), Coupled, Grid2, "gain switch: series resistor of the second stage"),
        part("R10", ohms(470e3), Grid2, Ground, "grid leak of V2"),
        part("R11", by_gain([470e3, 470e3, 470e3, 470e3, 470e3, 1.24e6, 5.1e6]), Primary2, Grid2, "gain switch: feedback around V2"),
        part("C4", Capacitor(5e-12), Grid2, Ground, "wiring at the grid"),
        part("V2", Tube { triode: ECC88_KOREN_1996, grid: Grid2 }, Plate2, Cathode2, "second stage, drives T2"),
        part("CV2GK", Capacitor(3.3e-12), Grid2, Cathode2, "V2, grid to cathode"),
        part("CV2GP", Capacitor(1.4e-12), Grid2, Plate2, "V2, grid to plate"),
        part("CV2PK", Capacitor(1.75e-12), Plate2, Cathode2, "V2, plate to cathode"),
        part("R12", ohms(15e3), Supply, Plate2, "feeds V2"),
        part("R13", ohms(220.0), Cathode2, Ground, "bias of V2"),
        part("C5", Capacitor(1e-3), Cathode2, Ground, "bypass"),
        part("C6", Capacitor(47e-6), Plate2, Primary2, "keeps direct current out of T2"),
        part("CT2P", Capacitor(250e-12), Primary2, Ground, "T2, capacitance of the primary"),
        part("RT2P", ohms(150.0), Primary2, Core2, "T2, resistance of the primary"),
        part("BT2", Iron(T2_CORE), Core2, Ground, "T2, iron"),
        part("RT2C", ohms(150e3), Core2, Ground, "T2, loss of the iron at low level"),
        part("LT2", Leakage(2.5e-3), Core2, Ideal2, "T2, leakage"),
        part("T2", Turns(1.0 / 2.8), Ideal2, Wound2, "T2, turns: 2.8 to 1"),
        part("RT2S", ohms(20.0), Wound2, Out, "T2, resistance of the secondary"),
        part("CT2S", Capacitor(300e-12), Out, Ground, "T2, capacitance of the secondary"),
        part("R14", ohms(1_000.0), Out, Damped, "damps T2 without a load"),
        part("C7", Capacitor(1e-9), Damped, Ground, "damps T2 without a load"),
        part("R15", ohms(1e6), Out, Ground, "holds the output at ground with nothing connected"),
    ]
};

impl Value {
    /// The value at a gain step (an index of [`GAIN_STEPS_DB`]). An attenuator that is not engaged
    /// has none.
    #[must_use]
    pub fn at(self, step: usize, attenuator: bool) -> Option<f64> {
        match self {
            Self::Fixed(value) => Some(value),
            Self::ByGain(values) => values.get(step).copied(),
            Self::Attenuator(value) => attenuator.then_some(value),
        }
    }
}

/// The index of the step nearest to a gain in dB.
#[must_use]
pub fn step_of(gain_db: f64) -> usize {
    let distance = |step: &f64| (step - gain_db).abs();
    (0..GAIN_STEPS_DB.len())
        .min_by(|a, b| distance(&GAIN_STEPS_DB[*a]).total_cmp(&distance(&GAIN_STEPS_DB[*b])))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_everything_has_a_purpose() {
        for (index, element) in ELEMENTS.iter().enumerate() {
            assert!(!element.purpose.is_empty());
            let twins = ELEMENTS[..index]
                .iter()
                .filter(|other| other.name == element.name);
            assert_eq!(twins.count(), 0, "{}", element.name);
        }
    }

    #[test]
    fn a_gain_finds_its_step() {
        for (index, gain) in GAIN_STEPS_DB.iter().enumerate() {
            assert_eq!(step_of(*gain), index);
        }
    }
}
