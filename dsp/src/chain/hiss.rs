//! The thermal noise that pads add: a return pad behind the preamplifier, the send's pad at the line
//! output.
//!
//! The circuit has the noise of everything at its output, the pad's input resistance included. At the
//! converter there is more: the pad's own output resistance is larger than what the pad lets through
//! of that. By Nyquist's theorem (1928) for two-ports at one temperature the difference is
//! 4kT (Rb - k^2 Ra), where Ra and Rb are the resistances seen at the preamplifier's output and at the
//! converter's input and k is the pad's voltage ratio.

use crate::circuit::{self, BOLTZMANN, ROOM_KELVIN};
use crate::pad::{Pad, TwoPort};
use crate::plan::Plan;
use crate::units::{Ohms, parallel};
use std::f64::consts::TAU;

/// What a return pad adds at the converter's input, in volts a root hertz; 0 for none.
pub(crate) fn return_hiss_volts(plan: &Plan, pad: &Pad) -> f64 {
    let (source, load) = (circuit::out_ohms(plan.preamp.gain), plan.rig.return_in);
    let port = pad.two_port();
    let ratio = 1.0 / (port.a + port.b / load.0);
    let before = parallel(source.0, pad.in_ohms(load).0);
    let behind = parallel(pad.out_ohms(source).0, load.0);
    let ohms = (behind - ratio * ratio * before).max(0.0);
    // Rounding alone leaves next to nothing where there is no pad.
    if ohms < 1e-9 * behind {
        return 0.0;
    }
    (4.0 * BOLTZMANN * ROOM_KELVIN * ohms).sqrt()
}

/// Noise at the line output beyond what the terminals say. Source and pad are resistors at one
/// temperature: their EMF at the terminals and the voltage at the line output have the covariance 4kT
/// times the resistance from the one place to the other. So there is a share of that EMF, and the rest.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct LineHiss {
    /// Of the EMF behind the terminals.
    pub(super) share: f64,
    /// Independent of it, in volts a root hertz.
    pub(super) volts: f64,
}

impl LineHiss {
    /// With a source before a pad.
    pub(super) fn of(source: Ohms, pad: &TwoPort) -> Self {
        if pad.c <= 0.0 && pad.b <= 0.0 {
            return Self::default();
        }
        let line = if pad.c > 0.0 {
            parallel(source.0, pad.a / pad.c)
        } else {
            source.0
        };
        let terminals = pad.out_ohms(source).0;
        let both = line / pad.a;
        let rest = (line - both * both / terminals).max(0.0);
        Self {
            share: both / terminals - pad.a,
            volts: (4.0 * BOLTZMANN * ROOM_KELVIN * rest).sqrt(),
        }
    }
}

/// White noise of normal distribution, a sequence of its own for each channel.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hiss {
    state: u64,
}

impl Hiss {
    /// At the start of a channel's sequence.
    pub(super) fn of_channel(channel: usize) -> Self {
        // Any odd multiplier keeps channels apart; zero would be no state.
        let state = 0x9e37_79b9_7f4a_7c15_u64.wrapping_mul(2 * channel as u64 + 1);
        Self { state }
    }

    /// Adds noise of a density (sample values a root hertz, one-sided) at a rate in hertz.
    pub(super) fn add(&mut self, samples: &mut [f64], density: f64, rate_hz: f64) {
        if density <= 0.0 {
            return;
        }
        let sigma = density * (0.5 * rate_hz).sqrt();
        for sample in samples {
            *sample += sigma * self.normal();
        }
    }

    /// One value of variance 1.
    pub(super) fn next(&mut self) -> f64 {
        self.normal()
    }

    /// A normal deviate by Box and Muller (1958).
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even().ln()).sqrt();
        radius * (TAU * self.even()).cos()
    }

    /// Evenly from above 0 to 1: xorshift64* (Vigna 2016).
    fn even(&mut self) -> f64 {
        self.state ^= self.state >> 12;
        self.state ^= self.state << 25;
        self.state ^= self.state >> 27;
        let bits = self.state.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11;
        (bits + 1) as f64 / (1_u64 << 53) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn its_power_is_that_of_its_density_and_channels_differ() {
        let rate_hz = 48_000.0;
        let mut samples = vec![0.0; 200_000];
        let mut other = samples.clone();
        Hiss::of_channel(0).add(&mut samples, 1e-3, rate_hz);
        Hiss::of_channel(1).add(&mut other, 1e-3, rate_hz);
        let power = |a: &[f64], b: &[f64]| {
            a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>() / a.len() as f64
        };
        let wanted = 1e-6 * 24_000.0;
        assert!((power(&samples, &samples) / wanted - 1.0).abs() < 0.02);
        assert!(power(&samples, &other).abs() < 0.02 * wanted);
    }
}
