//! The preamplifier at its seam: a Thevenin source in, the voltage at every point out.

use super::before::{Added, Before, Strength};
use super::elements::{self as el, ELEMENTS, Element, Kind, Node, Value};
use super::equations::{STATES, Setup, row};
use super::group::CHUNK;
use super::model::LOOK_AHEAD;
use super::small::Small;
use super::solver::{Seen, Solver};
use crate::pad::TwoPort;
use crate::units::{Db, Ohms};
use realfft::num_complex::Complex64;
use std::sync::OnceLock;

/// Samples by which the taps are later than the EMF handed in.
pub const DELAY_SAMPLES: usize = LOOK_AHEAD;

/// Samples in a block of [`Tapped`] at most.
pub const MOST_TAPPED: usize = CHUNK;

/// What surrounds the preamplifier and how it is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Output resistance of what drives it: the pad's.
    pub source: Ohms,
    /// Whether the 20 dB input attenuator is in.
    pub attenuator: bool,
    /// Gain step, one of [`el::GAIN_STEPS_DB`]; anything else means the nearest.
    pub gain: Db,
    /// What it drives.
    pub load: Ohms,
    /// Whether its noise is heard.
    pub noise: bool,
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
    /// EMF that the noise of the source's resistance adds behind it; 0 without noise.
    pub source_noise: f64,
}

/// What stands at the points in a block of samples; worked out for those that are asked for.
#[derive(Debug)]
pub struct Tapped<'a> {
    surround: &'a Surround,
    seen: &'a [Seen],
    /// What noise adds; empty without it.
    added: &'a [Added],
}

impl Tapped<'_> {
    /// Across the load, in volts, sample by sample.
    #[inline]
    pub fn preamp_out(&self) -> impl Iterator<Item = f64> {
        self.seen.iter().map(|seen| seen.out)
    }

    /// Everything, sample by sample.
    #[inline]
    pub fn all(&self) -> impl Iterator<Item = Taps> {
        (0..self.seen.len()).map(|n| self.taps(n))
    }

    /// Where no noise adds anything: what follows from each sample. With [`Self::input`] that is cheaper than
    /// [`Self::all`].
    #[inline]
    pub(crate) fn plain(&self) -> Option<&[Seen]> {
        self.added.is_empty().then_some(self.seen)
    }

    /// What the voltage and the current at the input terminals take of primary and EMF.
    pub(crate) fn input(&self) -> [[f64; 2]; 2] {
        self.surround.input()
    }

    #[inline]
    fn taps(&self, n: usize) -> Taps {
        let added = self.added.get(n).copied().unwrap_or_default();
        self.surround.taps(&self.seen[n], &added)
    }
}

/// A tube at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OperatingPoint {
    /// Grid to cathode.
    pub grid_volts: f64,
    /// Plate to cathode.
    pub plate_volts: f64,
    /// Into the plate.
    pub plate_amps: f64,
    /// Plate current by grid voltage.
    pub transconductance_siemens: f64,
    /// Plate current by plate voltage, inverted.
    pub plate_ohms: f64,
}

/// The preamplifier in motion, one channel.
#[derive(Clone, Debug)]
pub struct Preamp {
    /// EMF at T1's primary over EMF at the terminals.
    attenuator_ratio: f64,
    surround: Surround,
    strength: Strength,
    noise: bool,
    seed: u64,
    /// Of every channel, the noise of what stands before T1.
    before: Vec<Before>,
    solver: Solver,
}

/// What stands before T1's primary.
#[derive(Clone, Copy, Debug)]
struct Surround {
    attenuator: TwoPort,
    /// Conductance of the source behind it.
    seen_siemens: f64,
}

impl Surround {
    fn of(settings: &Settings) -> Self {
        let attenuator = attenuator(settings.attenuator);
        Self {
            attenuator,
            seen_siemens: 1.0 / attenuator.out_ohms(settings.source).0,
        }
    }
}

/// The attenuator, in or out, as a two-port.
pub(super) fn attenuator(engaged: bool) -> TwoPort {
    if !engaged {
        return TwoPort::from_t(0.0, 0.0, f64::INFINITY);
    }
    let (mut legs, mut shunt) = (0.0, 0.0);
    for element in &ELEMENTS {
        if let Element {
            kind: Kind::Resistor(Value::Attenuator(ohms)),
            a,
            ..
        } = element
        {
            if matches!(a, Node::MicHot | Node::MicCold) {
                legs += ohms;
            } else {
                shunt += ohms;
            }
        }
    }
    TwoPort::from_t(legs, 0.0, shunt)
}

/// Input impedance at 1 kHz with the attenuator in or out: its magnitude, at 40 dB of gain.
#[must_use]
pub fn in_ohms(engaged: bool) -> Ohms {
    static OHMS: OnceLock<[f64; 2]> = OnceLock::new();
    let both = OHMS.get_or_init(|| {
        [false, true].map(|engaged| {
            let settings = Settings {
                source: Ohms(150.0),
                attenuator: engaged,
                gain: Db(40.0),
                load: Ohms(el::GAIN_LOAD_OHMS),
                noise: false,
            };
            SmallSignal::at(&settings, el::STATED_HZ).in_ohms.norm()
        })
    });
    Ohms(both[usize::from(engaged)])
}

/// The preamplifier for small signals at one frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SmallSignal {
    /// Impedance at the input terminals.
    pub in_ohms: Complex64,
    /// Output volts by volts at the terminals.
    pub gain: Complex64,
    /// Output volts by the EMF behind the source.
    pub from_emf: Complex64,
}

impl SmallSignal {
    /// At a frequency in hertz.
    #[must_use]
    pub fn at(settings: &Settings, hz: f64) -> Self {
        let (setup, ratio) = setup(settings);
        let small = Small::at(&setup, hz);
        let pad = attenuator(settings.attenuator);
        let primary = small.in_ohms();
        let in_ohms = (pad.a * primary + pad.b) / (pad.c * primary + pad.d);
        let from_emf = ratio * small.volts(Node::Out);
        Self {
            in_ohms,
            gain: from_emf * (in_ohms + settings.source.0) / in_ohms,
            from_emf,
        }
    }
}

/// What T1's primary sees, and the share of the EMF that stands there.
pub(super) fn setup(settings: &Settings) -> (Setup, f64) {
    let seen = attenuator(settings.attenuator).thevenin(settings.source);
    let setup = Setup {
        source_ohms: seen.ohms.0,
        load_ohms: settings.load.0,
        step: el::step_of(settings.gain.0),
    };
    (setup, seen.ratio)
}

impl Preamp {
    /// Finds operating point and equations for a rate in hertz; one channel.
    #[must_use]
    pub fn prepare(settings: &Settings, rate_hz: f64) -> Self {
        Self::prepare_channels(settings, rate_hz, 1)
    }

    /// The same for several channels, which are set alike and hiss differently.
    #[must_use]
    pub fn prepare_channels(settings: &Settings, rate_hz: f64, channels: usize) -> Self {
        let (setup, attenuator_ratio) = setup(settings);
        let surround = Surround::of(settings);
        Self {
            attenuator_ratio,
            surround,
            strength: Strength::of(settings.source, &surround.attenuator, rate_hz),
            noise: settings.noise,
            seed: 0,
            before: (0..channels as u64).map(Before::of).collect(),
            solver: Solver::prepare(&setup, 1.0 / rate_hz, settings.noise, channels),
        }
    }

    /// As if prepared anew, for as many channels. Never allocates.
    pub fn set(&mut self, settings: &Settings, rate_hz: f64) {
        let (setup, attenuator_ratio) = setup(settings);
        self.attenuator_ratio = attenuator_ratio;
        self.surround = Surround::of(settings);
        self.strength = Strength::of(settings.source, &self.surround.attenuator, rate_hz);
        self.noise = settings.noise;
        self.solver.set(&setup, 1.0 / rate_hz, settings.noise);
        self.begin_before();
    }

    /// Back to the operating point; noise begins its sequence anew.
    pub fn reset(&mut self) {
        self.solver.reset();
        self.begin_before();
    }

    /// The sequences before T1 from their start.
    fn begin_before(&mut self) {
        for (n, before) in (0..).zip(&mut self.before) {
            *before = Before::of(self.seed.wrapping_add(n));
        }
    }

    /// Whether it is at the operating point but for what nobody hears: [`Preamp::reset`] changes nothing
    /// that follows by more than -140 dB. Never while noise is on.
    #[must_use]
    pub fn is_at_rest(&self) -> bool {
        self.solver.is_at_rest()
    }

    /// Which sequence the noise has: another for each channel.
    pub fn seed_noise(&mut self, seed: u64) {
        self.seed = seed;
        self.solver.seed_noise(seed);
        self.begin_before();
    }

    /// Goes on where another preamplifier is, set differently: fluxes and capacitors keep what they
    /// hold beyond rest. Never allocates.
    pub fn adopt(&mut self, other: &Self) {
        let ratio = self.attenuator_ratio / other.attenuator_ratio;
        self.solver.adopt(&other.solver, ratio);
        self.seed = other.seed;
        self.before.copy_from_slice(&other.before);
    }

    /// What capacitors, leakages and cores of a channel hold beyond rest.
    pub(crate) fn held(&self, channel: usize) -> [f64; STATES] {
        self.solver.held(channel)
    }

    /// Lets them hold this. The last samples' currents are those that were.
    pub(crate) fn hold(&mut self, channel: usize, states: &[f64; STATES]) {
        self.solver.hold(channel, states);
    }

    /// V1 and V2 at rest.
    #[must_use]
    pub fn operating_points(&self) -> [OperatingPoint; 2] {
        let rest = self.solver.rest();
        let at = |node| row(node).map_or(0.0, |row| rest[row]);
        let tubes = self.solver.rest_ports().tubes;
        [
            (Node::Grid1, Node::Plate1, Node::Cathode1, tubes[0]),
            (Node::Grid2, Node::Plate2, Node::Cathode2, tubes[1]),
        ]
        .map(|(grid, plate, cathode, currents)| OperatingPoint {
            grid_volts: at(grid) - at(cathode),
            plate_volts: at(plate) - at(cathode),
            plate_amps: currents.plate_amps,
            transconductance_siemens: currents.plate_by_grid,
            plate_ohms: 1.0 / currents.plate_by_plate,
        })
    }

    /// One sample of the first channel: takes the EMF at the input terminals in volts, gives the taps of the sample
    /// [`DELAY_SAMPLES`] before. Never allocates or fails.
    #[inline]
    pub fn process(&mut self, emf: f64) -> Taps {
        let mut last = Taps::default();
        self.process_channels(0, &mut [&mut [emf]], |_, _, block, _| last = block.taps(0));
        last
    }

    /// As [`Preamp::process`], for one or two channels from number `first` on, whose samples are taken as
    /// EMF. `each` is given them in blocks, of which it may make what it likes: the place of the channel among these,
    /// that of the block's first sample, the taps, and the samples. Never allocates or fails.
    #[inline]
    pub fn process_channels<const N: usize>(
        &mut self,
        first: usize,
        samples: &mut [&mut [f64]; N],
        mut each: impl FnMut(usize, usize, &Tapped<'_>, &mut [f64]),
    ) {
        for sample in samples.iter_mut().flat_map(|samples| samples.iter_mut()) {
            *sample *= self.attenuator_ratio;
        }
        let (surround, strength) = (self.surround, self.strength);
        let before = self.before.get_mut(first..first + N);
        let Some(before) = before.filter(|_| self.noise) else {
            self.solver
                .run(first, samples, |channel, from, seen, samples| {
                    let added = &[];
                    let tapped = Tapped {
                        surround: &surround,
                        seen,
                        added,
                    };
                    each(channel, from, &tapped, samples);
                });
            return;
        };
        for (samples, before) in samples.iter_mut().zip(&mut *before) {
            for sample in samples.iter_mut() {
                *sample += before.enter(&strength);
            }
        }
        let mut added = [Added::default(); CHUNK];
        self.solver
            .run(first, samples, |channel, from, seen, samples| {
                let added = &mut added[..seen.len()];
                for added in &mut *added {
                    *added = before[channel].leave(&strength);
                }
                let tapped = Tapped {
                    surround: &surround,
                    seen,
                    added,
                };
                each(channel, from, &tapped, samples);
            });
    }
}

impl Surround {
    /// What the voltage and the current at the input terminals take of primary and EMF.
    fn input(&self) -> [[f64; 2]; 2] {
        let pad = &self.attenuator;
        let of = |by_volts: f64, by_amps: f64| {
            let emf = by_amps * self.seen_siemens;
            [by_volts - emf, emf]
        };
        [of(pad.a, pad.b), of(pad.c, pad.d)]
    }

    /// What stands at the points, from the attenuator and the resistance before T1's primary.
    #[inline]
    fn taps(&self, seen: &Seen, added: &Added) -> Taps {
        let pad = &self.attenuator;
        let amps = (seen.emf - seen.primary) * self.seen_siemens;
        let mic_in = pad.a * seen.primary + pad.b * amps + added.terminals;
        Taps {
            mic_in,
            transformer_in: seen.primary,
            grid_1: seen.grid_1,
            grid_2: seen.grid_2,
            preamp_out: seen.out,
            in_amps: pad.c * seen.primary + pad.d * amps + added.amps,
            source_noise: added.source_emf,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(gain: f64, attenuator: bool) -> Settings {
        Settings {
            source: Ohms(150.0),
            attenuator,
            gain: Db(gain),
            load: Ohms(el::GAIN_LOAD_OHMS),
            noise: false,
        }
    }

    #[test]
    fn every_gain_step_is_within_a_tenth_of_a_db() {
        for step in el::GAIN_STEPS_DB {
            let gain = SmallSignal::at(&settings(step, false), el::STATED_HZ).gain;
            let off = 20.0 * gain.norm().log10() - step;
            assert!(off.abs() < 0.1, "{step} dB is off by {off}");
        }
    }

    #[test]
    fn the_input_is_1500_ohm_within_20_percent_and_the_attenuator_keeps_it() {
        for attenuator in [false, true] {
            let ohms = in_ohms(attenuator).0;
            assert!((1200.0..1800.0).contains(&ohms), "{ohms}");
        }
    }

    #[test]
    fn the_tubes_rest_within_their_ratings() {
        let [one, two] = Preamp::prepare(&settings(40.0, false), 384e3).operating_points();
        assert!((one.plate_amps - 1.0e-3).abs() < 0.05e-3, "{one:?}");
        assert!((two.plate_amps - 11.9e-3).abs() < 0.1e-3, "{two:?}");
        assert!(
            two.plate_volts * two.plate_amps < 1.8 && two.plate_volts < 130.0,
            "{two:?}"
        );
    }

    #[test]
    fn a_small_sine_has_the_small_signal_gain() {
        let (rate, hz) = (384e3, 1e3);
        for gain in [28.0, 64.0] {
            let settings = settings(gain, false);
            let mut preamp = Preamp::prepare(&settings, rate);
            let want = SmallSignal::at(&settings, hz).from_emf.norm();
            let (mut re, mut im) = (0.0, 0.0);
            let total = 384 * 400;
            for n in 0..total {
                let angle = std::f64::consts::TAU * hz * f64::from(n) / rate;
                let out = preamp.process(1e-4 * angle.sin()).preamp_out;
                if n >= total / 2 {
                    re += out * angle.cos();
                    im += out * angle.sin();
                }
            }
            let got = 2.0 * (re * re + im * im).sqrt() / f64::from(total / 2) / 1e-4;
            assert!((got / want - 1.0).abs() < 1e-4, "{gain}: {got} {want}");
        }
    }

    /// The steps must not keep each other going when the sound is over.
    #[test]
    fn nothing_swings_on_after_loud_noise() {
        for rate in [44_100.0, 88_200.0, 192_000.0] {
            let mut preamp = Preamp::prepare(&settings(40.0, false), rate);
            for seed in 0..100_u64 {
                let mut random = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
                for _ in 0..500 {
                    random ^= random << 13;
                    random ^= random >> 7;
                    random ^= random << 17;
                    preamp.process((random >> 11) as f64 / (1_u64 << 52) as f64 - 1.0);
                }
                for _ in 0..(0.1 * rate) as usize {
                    preamp.process(0.0);
                }
                let [one, two] = [0, 1].map(|_| preamp.process(0.0));
                let moved = (two.grid_2 - one.grid_2).abs();
                assert!(moved < 0.01, "{rate} Hz, seed {seed}: {one:?} {two:?}");
            }
        }
    }
}
