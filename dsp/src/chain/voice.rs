//! Every channel between the trims: send converter, pad, preamplifier, return converter.
//!
//! Two of these run side by side while a change fades in; each is complete in itself.

use super::hiss::Hiss;
use super::points::{AnalogBlock, Observer};
use super::spec::Spec;
use crate::circuit::{DELAY_SAMPLES, MOST_TAPPED, Preamp, Tapped};
use crate::oversample::{BLOCK_FRAMES, Oversampling, Resampler};
use crate::units::SampleRate;

/// Which frames of a block each converter clipped.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flags {
    pub(super) send: [bool; BLOCK_FRAMES],
    pub(super) back: [bool; BLOCK_FRAMES],
}

impl Flags {
    pub(super) const NONE: Self = Self {
        send: [false; BLOCK_FRAMES],
        back: [false; BLOCK_FRAMES],
    };
}

/// What one channel has for itself.
#[derive(Clone, Debug)]
struct Side {
    resamplers: [Resampler; 4],
    sent: [f64; BLOCK_FRAMES],
    fast: Vec<f64>,
}

/// The circuit of every channel, with filters for every oversampling setting.
#[derive(Clone, Debug)]
pub(super) struct Voice {
    spec: Spec,
    rate: SampleRate,
    sides: Vec<Side>,
    preamp: Preamp,
    /// Of every channel, the noise of source and pad at the line output.
    hiss: Vec<Hiss>,
}

impl Voice {
    /// Allocates for every setting.
    pub(super) fn prepare(spec: Spec, rate: SampleRate, channels: usize) -> Self {
        let resamplers =
            Oversampling::ALL.map(|setting| Resampler::prepare(rate, setting, DELAY_SAMPLES));
        let most = resamplers.iter().map(Resampler::factor).max().unwrap_or(1);
        let side = Side {
            resamplers,
            sent: [0.0; BLOCK_FRAMES],
            fast: vec![0.0; BLOCK_FRAMES * most],
        };
        Self {
            spec,
            rate,
            sides: vec![side; channels],
            preamp: Preamp::prepare_channels(&spec.settings, rate_hz(&spec, rate), channels),
            hiss: (0..channels).map(line_hiss).collect(),
        }
    }

    /// Back to rest.
    pub(super) fn reset(&mut self) {
        for side in &mut self.sides {
            side.resamplers.iter_mut().for_each(Resampler::reset);
        }
        self.preamp.reset();
        for (channel, hiss) in self.hiss.iter_mut().enumerate() {
            *hiss = line_hiss(channel);
        }
    }

    /// Whether the circuit rests.
    pub(super) fn is_at_rest(&self) -> bool {
        self.preamp.is_at_rest()
    }

    /// Takes on `spec` at rest.
    pub(super) fn become_at_rest(&mut self, spec: Spec) {
        self.take_on(spec);
        self.reset();
    }

    /// Takes on `spec` where `other` is: its capacitors and cores go on, and with the same
    /// oversampling its filters too. Otherwise the filters start empty and need the latency of the
    /// path to fill. Never allocates.
    pub(super) fn follow(&mut self, other: &Self, spec: Spec) {
        self.take_on(spec);
        self.preamp.adopt(&other.preamp);
        self.hiss.copy_from_slice(&other.hiss);
        let setting = spec.oversampling as usize;
        for (side, other_side) in self.sides.iter_mut().zip(&other.sides) {
            if other.spec.oversampling == spec.oversampling {
                side.resamplers[setting].copy_from(&other_side.resamplers[setting]);
            } else {
                side.resamplers[setting].reset();
            }
        }
    }

    fn take_on(&mut self, spec: Spec) {
        self.spec = spec;
        self.preamp.set(&spec.settings, rate_hz(&spec, self.rate));
    }

    /// From the trimmed bus to the untrimmed return: `frames` frames, at most [`BLOCK_FRAMES`], of as
    /// many channels as are sent.
    pub(super) fn process(
        &mut self,
        bus: &[[f64; BLOCK_FRAMES]],
        back: &mut [[f64; BLOCK_FRAMES]],
        frames: usize,
        flags: &mut Flags,
        observer: &mut impl Observer,
    ) {
        let spec = &self.spec;
        let setting = spec.oversampling as usize;
        let mut factor = 1;
        for (channel, (side, bus)) in self.sides.iter_mut().zip(bus).enumerate() {
            let send_volts = spec.send_volts(channel);
            let sent = &mut side.sent[..frames];
            for ((sent, bus), flag) in sent.iter_mut().zip(bus).zip(&mut flags.send) {
                *flag |= bus.abs() > spec.clip;
                *sent = bus.clamp(-spec.clip, spec.clip) * send_volts;
            }
            let resampler = &mut side.resamplers[setting];
            factor = resampler.factor();
            let fast = &mut side.fast[..frames * factor];
            resampler.up(sent, fast);
            for sample in fast {
                *sample *= spec.pad_ratio;
            }
        }
        let hiss = &mut self.hiss;
        let mut room = [0.0; MOST_TAPPED];
        // Sigma of a sample, one-sided density over half the rate.
        let line_sigma = spec.line_hiss.volts * (0.5 * rate_hz(spec, self.rate)).sqrt();
        let mut each = |channel: usize, from: usize, block: &Tapped<'_>, samples: &mut [f64]| {
            if observer.listens() {
                let hiss = &mut hiss[channel];
                let noise = spec.line_noise(block, hiss, line_sigma, &mut room);
                observer.analog(channel, &AnalogBlock::tapped(block, spec.pad, noise));
            }
            // Blocks begin with a frame.
            let flags = &mut flags.back[from / factor..];
            spec.take_back(channel, block, samples, flags.iter_mut(), factor);
        };
        // Two at once: the processor works on one while the other waits.
        let length = frames * factor;
        let sides = &mut self.sides[..bus.len()];
        for (pair, sides) in sides.chunks_mut(2).enumerate() {
            let first = 2 * pair;
            let numbered =
                |channel: usize, from: usize, block: &Tapped<'_>, samples: &mut [f64]| {
                    each(first + channel, from, block, samples);
                };
            match sides {
                [one, other] => {
                    let fast = &mut [&mut one.fast[..length], &mut other.fast[..length]];
                    self.preamp.process_channels(first, fast, numbered);
                }
                [one, ..] => {
                    let fast = &mut [&mut one.fast[..length]];
                    self.preamp.process_channels(first, fast, numbered);
                }
                [] => {}
            }
        }
        for (side, back) in self.sides.iter_mut().zip(back).take(bus.len()) {
            side.resamplers[setting].down(&side.fast[..length], &mut back[..frames]);
        }
    }
}

/// A sequence that is not the return's.
fn line_hiss(channel: usize) -> Hiss {
    Hiss::of_channel(channel + 0x100)
}

/// Rate of the circuit in hertz.
fn rate_hz(spec: &Spec, rate: SampleRate) -> f64 {
    rate.hz() * spec.oversampling.factor(rate) as f64
}
