//! The whole path in order, for the plugin and for files alike.
//!
//! Bus samples are trimmed, turned over if wished and clipped at full scale as a converter does;
//! then, at the oversampled rate, they are volts: send converter, pad, preamplifier, return
//! converter (which clips before it samples). Back at the base rate come the return trim and the
//! polarity undone. This is the only module that knows every block.

mod build;
mod points;

pub use build::{Ceiling, PadBuild, build_pad, ceilings};
pub use points::{Observer, Point, PointVolts};

use crate::circuit::{Preamp, Settings};
use crate::oversample::{BLOCK_FRAMES, Oversampling, Resampler, latency_frames};
use crate::pad::{PadError, TwoPort};
use crate::plan::{Plan, Polarity};
use crate::units::SampleRate;

/// Everything between the bus and its return.
#[derive(Clone, Debug)]
pub struct Chain {
    /// Digital gain before the send converter, sign included.
    send_gain: f64,
    /// Digital gain after the return converter, sign included.
    return_gain: f64,
    /// Magnitude at which converters clip, of full scale; infinite when they do not.
    clip: f64,
    send_peak_volts: f64,
    return_per_volt: f64,
    pad: TwoPort,
    pad_ratio: f64,
    channels: Vec<Channel>,
    latency_frames: usize,
    clipped: Clipped,
}

/// One channel's filters and circuit.
#[derive(Clone, Debug)]
struct Channel {
    resampler: Resampler,
    preamp: Preamp,
    fast: Vec<f64>,
}

/// How many frames a converter clipped in, any channel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Clipped {
    /// At the send, before the circuit.
    pub send_frames: u64,
    /// At the return, after it.
    pub return_frames: u64,
}

/// Largest bus magnitude taken, of full scale (+120 dBFS): squares stay finite behind it.
const MOST: f64 = 1e6;

/// Which frames of a block were clipped.
type Flags = [bool; BLOCK_FRAMES];

impl Chain {
    /// Builds the path for a plan; allocates.
    ///
    /// # Errors
    /// When the plan's pad cannot be built.
    pub fn prepare(
        plan: &Plan,
        rate: SampleRate,
        channels: usize,
        oversampling: Oversampling,
    ) -> Result<Self, PadError> {
        let pad = build_pad(plan)?.as_built.two_port();
        let seen = pad.thevenin(plan.rig.source);
        let settings = Settings {
            source: seen.ohms,
            attenuator: plan.preamp.attenuator.0 > 0.0,
            gain: plan.preamp.gain,
            load: plan.rig.return_in,
        };
        let sign = if plan.send.polarity == Polarity::Inverted {
            -1.0
        } else {
            1.0
        };
        let channel = Channel::prepare(&settings, rate, oversampling);
        Ok(Self {
            send_gain: sign * plan.send.trim.ratio(),
            return_gain: sign * plan.back.trim.ratio(),
            clip: if plan.rig.converters_clip {
                1.0
            } else {
                f64::INFINITY
            },
            send_peak_volts: plan.rig.send_full_scale.peak().0,
            return_per_volt: 1.0 / plan.rig.return_full_scale.peak().0,
            pad,
            pad_ratio: seen.ratio,
            channels: vec![channel; channels],
            latency_frames: latency_frames(rate),
            clipped: Clipped::default(),
        })
    }

    /// Back to rest: filters empty, capacitors at the operating point, counters at zero.
    pub fn reset(&mut self) {
        for channel in &mut self.channels {
            channel.resampler.reset();
            channel.preamp.reset();
        }
        self.clipped = Clipped::default();
    }

    /// Frames by which the output is late.
    #[must_use]
    pub fn latency_frames(&self) -> usize {
        self.latency_frames
    }

    /// Frames clipped since the last reset.
    #[must_use]
    pub fn clipped(&self) -> Clipped {
        self.clipped
    }

    /// Processes planar audio in place, any number of frames; full scale is 1.0. Values that are
    /// not finite are taken as silence, others within +-1e6. Slices beyond the prepared channels stay untouched.
    /// Never allocates or fails.
    pub fn process(&mut self, audio: &mut [&mut [f64]], observer: &mut impl Observer) {
        let frames = audio.iter().map(|samples| samples.len()).min().unwrap_or(0);
        let mut from = 0;
        while from < frames {
            let to = frames.min(from + BLOCK_FRAMES);
            self.process_block(audio, from..to, observer);
            from = to;
        }
    }

    fn process_block(
        &mut self,
        audio: &mut [&mut [f64]],
        range: std::ops::Range<usize>,
        observer: &mut impl Observer,
    ) {
        let (mut send, mut back): (Flags, Flags) = ([false; BLOCK_FRAMES], [false; BLOCK_FRAMES]);
        for index in 0..audio.len().min(self.channels.len()) {
            let block = &mut audio[index][range.clone()];
            self.send(index, block, &mut send, observer);
            self.analog(index, block.len(), &mut back, observer);
            let channel = &mut self.channels[index];
            let fast = block.len() * channel.resampler.factor();
            channel.resampler.down(&channel.fast[..fast], block);
            for sample in block {
                *sample *= self.return_gain;
                observer.back(index, *sample);
            }
        }
        let count = |flags: Flags| flags.iter().filter(|flag| **flag).count() as u64;
        self.clipped.send_frames += count(send);
        self.clipped.return_frames += count(back);
    }

    /// Bus samples to the send converter's unloaded volts at the oversampled rate.
    fn send(
        &mut self,
        index: usize,
        block: &mut [f64],
        flags: &mut Flags,
        observer: &mut impl Observer,
    ) {
        for (sample, flag) in block.iter_mut().zip(flags) {
            let finite = if sample.is_finite() { *sample } else { 0.0 };
            let bus = finite.clamp(-MOST, MOST);
            observer.bus(index, bus);
            let sent = bus * self.send_gain;
            *flag |= sent.abs() > self.clip;
            *sample = sent.clamp(-self.clip, self.clip) * self.send_peak_volts;
        }
        let channel = &mut self.channels[index];
        let fast = block.len() * channel.resampler.factor();
        channel.resampler.up(block, &mut channel.fast[..fast]);
    }

    /// The analog part: from unloaded volts to the return converter's full scale, in place.
    fn analog(
        &mut self,
        index: usize,
        frames: usize,
        flags: &mut Flags,
        observer: &mut impl Observer,
    ) {
        let channel = &mut self.channels[index];
        let factor = channel.resampler.factor();
        let chunks = channel.fast[..frames * factor].chunks_exact_mut(factor);
        for (frame, flag) in chunks.zip(flags) {
            for sample in frame {
                let taps = channel.preamp.process(*sample * self.pad_ratio);
                observer.analog(
                    index,
                    &PointVolts {
                        line_out: self.pad.a * taps.mic_in + self.pad.b * taps.in_amps,
                        mic_in: taps.mic_in,
                        transformer_in: taps.transformer_in,
                        grid_1: taps.grid_1,
                        grid_2: taps.grid_2,
                        preamp_out: taps.preamp_out,
                    },
                );
                let returned = taps.preamp_out * self.return_per_volt;
                *flag |= returned.abs() > self.clip;
                *sample = returned.clamp(-self.clip, self.clip);
            }
        }
    }
}

impl Channel {
    fn prepare(settings: &Settings, rate: SampleRate, oversampling: Oversampling) -> Self {
        let resampler = Resampler::prepare(rate, oversampling);
        let factor = resampler.factor();
        let preamp = Preamp::prepare(settings, rate.hz() * factor as f64);
        Self {
            resampler,
            preamp,
            fast: vec![0.0; BLOCK_FRAMES * factor],
        }
    }
}
