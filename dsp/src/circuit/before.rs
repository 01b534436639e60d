//! Noise in time of what stands before T1's primary: the source's resistance and the attenuator.
//!
//! The source's resistor and the attenuator's make one EMF that the circuit takes as it takes sound;
//! what the attenuator's resistors do at the terminals beyond that is added there. Attenuator and
//! source are resistors at one temperature: the open-circuit voltages at two places have the covariance
//! 4kT times the resistance from the one place to the other (Nyquist 1928; Twiss, J. Appl. Phys. 26
//! (1955) 599).

use super::model::LOOK_AHEAD;
use super::noise::{BOLTZMANN, ROOM_KELVIN};
use super::random::Random;
use crate::pad::TwoPort;
use crate::units::{Ohms, parallel};

/// How strong what stands before the primary is, in volts a sample.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Strength {
    /// EMF of the source's own resistance, at the terminals.
    source: f64,
    /// How much of it stands at the primary, unloaded.
    ratio: f64,
    /// The attenuator's own at the primary, unloaded.
    own: f64,
    /// The attenuator's own at the terminals, beyond what the voltages at the primary say: by the draw
    /// that makes `own`, and by one more.
    terminals: [f64; 2],
    /// The attenuator's own as a current into the terminals, beyond what follows from there, by the same
    /// draws; in amperes.
    amps: [f64; 2],
}

/// What one sample adds.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Added {
    /// EMF behind the source's resistance, at the terminals.
    pub(super) source_emf: f64,
    /// EMF behind what T1's primary sees.
    pub(super) emf: f64,
    /// At the terminals, beyond what follows from voltage and current at the primary.
    pub(super) terminals: f64,
    /// Into the terminals, likewise, in amperes.
    pub(super) amps: f64,
}

/// The sequences of one channel: of the samples that go in, and of those that come out later.
#[derive(Clone, Copy, Debug)]
pub(super) struct Before {
    ahead: Random,
    now: Random,
    /// Samples until what went in first comes out.
    waiting: usize,
}

impl Strength {
    /// With a source of its resistance before an attenuator, at a rate in hertz.
    pub(super) fn of(source: Ohms, attenuator: &TwoPort, rate_hz: f64) -> Self {
        // One-sided 4kT a ohm over half the rate.
        let square_volts = |ohms: f64| 2.0 * BOLTZMANN * ROOM_KELVIN * rate_hz * ohms;
        let volts = |ohms: f64| square_volts(ohms.max(0.0)).sqrt();
        if attenuator.c <= 0.0 {
            return Self {
                source: volts(source.0),
                ratio: 1.0,
                ..Self::default()
            };
        }
        let open = attenuator.a / attenuator.c;
        let share = open / (open + source.0);
        let seen = attenuator.thevenin(source);
        let across = parallel(source.0, open);
        // Beyond the source's part: at the primary, at the terminals, between the two.
        let primary = seen.ohms.0 - seen.ratio * seen.ratio * source.0;
        let terminals = across - share * share * source.0;
        let both = across / attenuator.a - share * seen.ratio * source.0;
        let own = volts(primary);
        let by_own = square_volts(both) / own;
        let rest = (square_volts(terminals) - by_own * by_own).max(0.0).sqrt();
        let at_terminals = [by_own - attenuator.a * own, rest];
        Self {
            source: volts(source.0),
            ratio: seen.ratio,
            own,
            terminals: at_terminals,
            // The source's loop: its EMF is the voltage at the terminals and what its resistance drops.
            amps: [
                -(own / seen.ratio + at_terminals[0]) / source.0,
                -rest / source.0,
            ],
        }
    }

    /// Always as many draws, so that a sequence does not depend on the settings.
    #[inline]
    fn draw(&self, random: &mut Random) -> Added {
        let [source, own, rest] = [0, 1, 2].map(|_| random.draw());
        let source_emf = self.source * source;
        Added {
            source_emf,
            emf: self.ratio * source_emf + self.own * own,
            terminals: self.terminals[0] * own + self.terminals[1] * rest,
            amps: self.amps[0] * own + self.amps[1] * rest,
        }
    }
}

impl Before {
    /// At the start of the sequence of a seed.
    pub(super) fn of(seed: u64) -> Self {
        // Not the circuit's own sequence of the same seed.
        let random = Random::of(seed ^ 0xd6e8_feb8_6659_fd93);
        Self {
            ahead: random,
            now: random,
            waiting: LOOK_AHEAD,
        }
    }

    /// The EMF of the sample that goes in.
    #[inline]
    pub(super) fn enter(&mut self, strength: &Strength) -> f64 {
        strength.draw(&mut self.ahead).emf
    }

    /// What was drawn for the sample that comes out.
    #[inline]
    pub(super) fn leave(&mut self, strength: &Strength) -> Added {
        if self.waiting > 0 {
            self.waiting -= 1;
            return Added::default();
        }
        strength.draw(&mut self.now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the three resistors themselves, each with an EMF of its own, at open terminals.
    #[test]
    fn the_attenuators_noise_is_that_of_its_resistors() {
        let (source, legs, shunt) = (150.0, 1_430.0, 178.0);
        let attenuator = TwoPort::from_t(legs, 0.0, shunt);
        let strength = Strength::of(Ohms(source), &attenuator, 48_000.0);
        let whole = source + legs + shunt;
        // Voltages at the primary and at the terminals by the EMF of each, all around one loop.
        let ways = [
            (source, shunt / whole, (legs + shunt) / whole),
            (legs, shunt / whole, -source / whole),
            (shunt, (source + legs) / whole, source / whole),
        ];
        let four_kt = 2.0 * BOLTZMANN * ROOM_KELVIN * 48_000.0;
        let sum = |term: fn(f64, f64) -> f64| -> f64 {
            let terms = ways.iter().map(|(r, p, t)| r * term(*p, *t));
            four_kt * terms.sum::<f64>()
        };
        let a = attenuator.a;
        let primary = [strength.ratio * strength.source, strength.own, 0.0];
        let terminals = [
            a * primary[0],
            a * primary[1] + strength.terminals[0],
            strength.terminals[1],
        ];
        let dot = |x: [f64; 3], y: [f64; 3]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
        for (got, want) in [
            (dot(primary, primary), sum(|p, _| p * p)),
            (dot(terminals, terminals), sum(|_, t| t * t)),
            (dot(primary, terminals), sum(|p, t| p * t)),
        ] {
            assert!((got / want - 1.0).abs() < 1e-9, "{got:e} {want:e}");
        }
    }
}
