//! One channel between the trims: send converter, pad, preamplifier, return converter.
//!
//! Two of these run side by side while a change fades in; each is complete in itself.

use super::points::{Observer, PointVolts};
use super::spec::Spec;
use crate::circuit::{DELAY_SAMPLES, Preamp};
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

/// The circuit of one channel with filters for every oversampling setting.
#[derive(Clone, Debug)]
pub(super) struct Voice {
    spec: Spec,
    rate: SampleRate,
    resamplers: [Resampler; 4],
    preamp: Preamp,
    /// Tells this channel's noise from the others'.
    seed: u64,
    sent: [f64; BLOCK_FRAMES],
    fast: Vec<f64>,
}

impl Voice {
    /// Allocates for every setting.
    pub(super) fn prepare(spec: Spec, rate: SampleRate, channel: usize) -> Self {
        let resamplers =
            Oversampling::ALL.map(|setting| Resampler::prepare(rate, setting, DELAY_SAMPLES));
        let most = resamplers.iter().map(Resampler::factor).max().unwrap_or(1);
        Self {
            spec,
            rate,
            resamplers,
            preamp: preamp(&spec, rate, channel as u64),
            seed: channel as u64,
            sent: [0.0; BLOCK_FRAMES],
            fast: vec![0.0; BLOCK_FRAMES * most],
        }
    }

    /// Back to rest.
    pub(super) fn reset(&mut self) {
        self.resamplers.iter_mut().for_each(Resampler::reset);
        self.preamp.reset();
    }

    /// Whether the circuit rests.
    pub(super) fn is_at_rest(&self) -> bool {
        self.preamp.is_at_rest()
    }

    /// Takes on `spec` at rest.
    pub(super) fn become_at_rest(&mut self, spec: Spec) {
        self.spec = spec;
        self.preamp = preamp(&spec, self.rate, self.seed);
        self.reset();
    }

    /// Takes on `spec` where `other` is: its capacitors and cores go on, and with the same
    /// oversampling its filters too. Otherwise the filters start empty and need the latency of the
    /// path to fill. Never allocates.
    pub(super) fn follow(&mut self, other: &Self, spec: Spec) {
        self.spec = spec;
        self.preamp = preamp(&spec, self.rate, self.seed);
        self.preamp.adopt(&other.preamp);
        let setting = spec.oversampling as usize;
        if other.spec.oversampling == spec.oversampling {
            self.resamplers[setting].copy_from(&other.resamplers[setting]);
        } else {
            self.resamplers[setting].reset();
        }
    }

    /// From the trimmed bus to the untrimmed return, at most [`BLOCK_FRAMES`] frames.
    pub(super) fn process(
        &mut self,
        channel: usize,
        bus: &[f64],
        back: &mut [f64],
        flags: &mut Flags,
        observer: &mut impl Observer,
    ) {
        let spec = &self.spec;
        let sent = &mut self.sent[..bus.len()];
        for ((sent, bus), flag) in sent.iter_mut().zip(bus).zip(&mut flags.send) {
            *flag |= bus.abs() > spec.clip;
            *sent = bus.clamp(-spec.clip, spec.clip) * spec.send_volts;
        }
        let resampler = &mut self.resamplers[spec.oversampling as usize];
        let factor = resampler.factor();
        let fast = &mut self.fast[..bus.len() * factor];
        resampler.up(sent, fast);
        for sample in &mut *fast {
            *sample *= spec.pad_ratio;
        }
        self.preamp.process_block(fast, |n, taps| {
            observer.analog(
                channel,
                &PointVolts {
                    line_out: spec.pad.a * taps.mic_in + spec.pad.b * taps.in_amps,
                    mic_in: taps.mic_in,
                    transformer_in: taps.transformer_in,
                    grid_1: taps.grid_1,
                    grid_2: taps.grid_2,
                    preamp_out: taps.preamp_out,
                },
            );
            let returned = taps.preamp_out * spec.return_per_volt;
            flags.back[n / factor] |= returned.abs() > spec.clip;
            returned.clamp(-spec.clip, spec.clip)
        });
        resampler.down(fast, back);
    }
}

fn preamp(spec: &Spec, rate: SampleRate, seed: u64) -> Preamp {
    let rate_hz = rate.hz() * spec.oversampling.factor(rate) as f64;
    let mut preamp = Preamp::prepare(&spec.settings, rate_hz);
    preamp.seed_noise(seed);
    preamp
}
