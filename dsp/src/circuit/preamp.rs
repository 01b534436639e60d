//! The preamplifier: attenuator, T1, V1, gain switch, V2, T2.

use super::elements as el;
use super::input::{self, InputTransformer};
use super::output::{Corner, OutputTransformer, low_pass_at};
use super::stage::{OperatingPoint, Stage, StageElements};
use crate::pad::TwoPort;
use crate::units::{Db, Ohms, parallel};
use realfft::num_complex::Complex64;

/// What surrounds the preamplifier and how it is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Output resistance of what drives it: the pad's.
    pub source: Ohms,
    /// Whether the 20 dB input attenuator is in.
    pub attenuator: bool,
    /// Gain step, one of [`el::GAIN_STEPS_DB`].
    pub gain: Db,
    /// What it drives.
    pub load: Ohms,
}

/// Voltages at the points of the preamplifier in one sample, in volts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Taps {
    /// At the input terminals.
    pub mic_in: f64,
    /// At T1's primary.
    pub transformer_in: f64,
    /// At V1's grid, as the difference to rest.
    pub grid_1: f64,
    /// At V2's grid, as the difference to rest.
    pub grid_2: f64,
    /// Across the load.
    pub preamp_out: f64,
    /// Current into the input terminals, in amperes.
    pub in_amps: f64,
}

/// The preamplifier in motion, one channel.
#[derive(Clone, Debug)]
pub struct Preamp {
    attenuator: TwoPort,
    /// EMF at T1's primary over EMF at the terminals.
    attenuator_ratio: f64,
    t1: InputTransformer,
    v1: Stage,
    /// What the gain switch passes.
    divider: f64,
    divider_ohms: f64,
    grid_2_corner: Corner,
    v2: Stage,
    /// V1's grid at rest: its leakage through T1's secondary.
    rest_1_volts: f64,
    t2: OutputTransformer,
}

/// Input impedance at 1 kHz with the attenuator in or out: its magnitude.
#[must_use]
pub fn in_ohms(attenuator: bool) -> Ohms {
    let (primary, _) = input::small_signal(miller_1().0, el::STATED_HZ);
    let pad = el::attenuator(attenuator);
    Ohms(((pad.a * primary + pad.b) / (pad.c * primary + pad.d)).norm())
}

/// V1's input capacitance and small-signal gain at 1 kHz.
fn miller_1() -> (f64, Complex64) {
    let stage = Stage::prepare(el::STAGE_1, el::T1_SECONDARY_OHMS, 1.0);
    let gain = stage_gain(&el::STAGE_1, stage.operating_point(), el::STATED_HZ);
    let tube = el::STAGE_1.tube;
    (
        tube.grid_cathode_farads + tube.grid_plate_farads * (1.0 + gain.norm()),
        gain,
    )
}

/// Small-signal gain of a stage, grid to load: -mu Z / (rp + Z + (mu + 1) Zk), any tube textbook.
fn stage_gain(elements: &StageElements, rest: OperatingPoint, hz: f64) -> Complex64 {
    let jw = Complex64::new(0.0, std::f64::consts::TAU * hz);
    let rp = 1.0 / rest.currents.plate_by_plate;
    let mu = rest.currents.plate_by_grid * rp;
    let branch = elements.load_ohms + 1.0 / (jw * elements.coupling_farads);
    let plate = 1.0 / (1.0 / elements.plate_ohms + 1.0 / branch);
    let bypassed = elements.bias_ohms / (1.0 + jw * elements.bias_ohms * elements.bypass_farads);
    let cathode = elements.cathode_ohms + bypassed;
    -mu * plate / (rp + plate + (mu + 1.0) * cathode) * elements.load_ohms / branch
}

/// Source resistance of a stage's plate, grid current aside.
fn plate_source_ohms(elements: &StageElements, rest: OperatingPoint) -> f64 {
    let rp = 1.0 / rest.currents.plate_by_plate;
    let mu = rest.currents.plate_by_grid * rp;
    parallel(elements.plate_ohms, rp + (mu + 1.0) * elements.cathode_ohms)
}

/// Corner that V2's input capacitance makes with the gain switch and V1's plate.
fn grid_2_corner_hz(divider: f64, plate_1_ohms: f64, gain_2: f64) -> f64 {
    let upper = (1.0 - divider) * el::DIVIDER_OHMS + plate_1_ohms;
    let source = parallel(upper, divider * el::DIVIDER_OHMS);
    let tube = el::stage_2(el::GAIN_LOAD_OHMS).tube;
    let farads = tube.grid_cathode_farads + tube.grid_plate_farads * (1.0 + gain_2);
    1.0 / (std::f64::consts::TAU * source * (farads + el::STRAY_FARADS))
}

/// Share that the gain switch passes, so that the whole gain into 10 kohm at 1 kHz is the step's.
fn divider(gain: Db, gain_1: Complex64, miller: f64) -> f64 {
    let hz = el::STATED_HZ;
    let elements = el::stage_2(el::GAIN_LOAD_OHMS);
    let rest = Stage::prepare(elements, el::DIVIDER_OHMS, 1.0).operating_point();
    let plate_ohms = plate_source_ohms(&elements, rest);
    let t2 = OutputTransformer::prepare(plate_ohms, el::GAIN_LOAD_OHMS, 1.0).at(hz);
    let (_, t1) = input::small_signal(miller, hz);
    let gain_2 = stage_gain(&elements, rest, hz);
    let whole = (t1 * gain_1 * gain_2 * t2).norm();
    let rest_1 = Stage::prepare(el::STAGE_1, el::T1_SECONDARY_OHMS, 1.0).operating_point();
    let plate_1 = plate_source_ohms(&el::STAGE_1, rest_1);
    let mut share = gain.ratio() / whole;
    // The corner at the second grid takes a trace of 1 kHz; two rounds settle it.
    for _ in 0..3 {
        let corner = grid_2_corner_hz(share, plate_1, gain_2.norm());
        share = gain.ratio() / (whole * low_pass_at(corner, hz).norm());
    }
    share
}

impl Preamp {
    /// Finds operating points and filters for a rate in hertz.
    #[must_use]
    pub fn prepare(settings: &Settings, rate_hz: f64) -> Self {
        let attenuator = el::attenuator(settings.attenuator);
        let seen = attenuator.thevenin(settings.source);
        let (miller, gain_1) = miller_1();
        let t1 = InputTransformer::prepare(seen.ohms.0, miller, rate_hz);
        let v1 = Stage::prepare(el::STAGE_1, t1.grid_dc_ohms(), rate_hz);
        let rest_1_volts = -t1.grid_dc_ohms() * v1.operating_point().currents.grid_amps;
        let divider = divider(settings.gain, gain_1, miller);
        let divider_ohms = divider * (1.0 - divider) * el::DIVIDER_OHMS;
        let elements_2 = el::stage_2(settings.load.0);
        let v2 = Stage::prepare(elements_2, divider * el::DIVIDER_OHMS, rate_hz);
        let gain_2 = stage_gain(&elements_2, v2.operating_point(), el::STATED_HZ).norm();
        let plate_1 = plate_source_ohms(&el::STAGE_1, v1.operating_point());
        let plate_2 = plate_source_ohms(&elements_2, v2.operating_point());
        let mut preamp = Self {
            attenuator,
            attenuator_ratio: seen.ratio,
            t1,
            v1,
            divider,
            divider_ohms,
            grid_2_corner: Corner::prepare(grid_2_corner_hz(divider, plate_1, gain_2), rate_hz),
            v2,
            rest_1_volts,
            t2: OutputTransformer::prepare(plate_2, settings.load.0, rate_hz),
        };
        preamp.reset();
        preamp
    }

    /// Back to the operating point.
    pub fn reset(&mut self) {
        self.t1.reset(self.v1.operating_point().currents.grid_amps);
        self.v1.reset();
        self.grid_2_corner.reset();
        self.v2.reset();
        self.t2.reset();
    }

    /// Goes on where another preamplifier is, set differently: fluxes and capacitors keep what they
    /// hold beyond rest. Never allocates.
    pub fn adopt(&mut self, other: &Self) {
        self.t1
            .adopt(&other.t1, self.attenuator_ratio / other.attenuator_ratio);
        self.v1.adopt(&other.v1);
        self.grid_2_corner
            .adopt(&other.grid_2_corner, self.divider / other.divider);
        self.v2.adopt(&other.v2);
        self.t2.adopt(&other.t2);
    }

    /// Voltages and currents of V1 and V2 at rest.
    #[must_use]
    pub fn operating_points(&self) -> [OperatingPoint; 2] {
        [self.v1.operating_point(), self.v2.operating_point()]
    }

    /// One sample of the EMF at the input terminals, in volts. Never allocates or fails.
    #[inline]
    pub fn process(&mut self, emf: f64) -> Taps {
        let emf = emf * self.attenuator_ratio;
        let offer = self.t1.offer(emf);
        let one = self.v1.process(offer.open_volts, offer.ohms);
        let primary = self.t1.settle(emf, one.grid_amps);
        let e_2 = self.grid_2_corner.low_pass(self.divider * one.load_volts);
        let two = self.v2.process(e_2, self.divider_ohms);
        self.v1.draw(self.divider * two.grid_amps);
        let pad = &self.attenuator;
        Taps {
            mic_in: pad.a * primary.volts + pad.b * primary.amps,
            transformer_in: primary.volts,
            grid_1: one.grid_volts - self.rest_1_volts,
            grid_2: two.grid_volts,
            preamp_out: self.t2.process(two.load_volts),
            in_amps: pad.c * primary.volts + pad.d * primary.amps,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gain_switch_is_a_divider_at_every_step() {
        let (miller, gain_1) = miller_1();
        for step in el::GAIN_STEPS_DB {
            let share = divider(Db(step), gain_1, miller);
            assert!(
                share > 0.0 && share < 0.98,
                "{step} dB needs a share of {share}"
            );
        }
    }

    #[test]
    fn the_input_is_1500_ohm_within_20_percent_and_the_attenuator_keeps_it() {
        for attenuator in [false, true] {
            let ohms = in_ohms(attenuator).0;
            assert!((1200.0..1800.0).contains(&ohms), "{ohms}");
        }
    }
}
