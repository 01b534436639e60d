//! What a plan comes to for the sound, apart from the two trims: everything whose change needs a
//! new circuit.

use super::build::{PadBuild, return_pad};
use super::hiss::{Hiss, LineHiss, return_hiss_volts};
use crate::circuit::{MOST_TAPPED, Settings, Tapped};
use crate::oversample::Oversampling;
use crate::pad::TwoPort;
use crate::plan::{Plan, Polarity};

/// One fixed state of the path between the trims.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spec {
    pub(super) oversampling: Oversampling,
    pub(super) pad: TwoPort,
    /// EMF at the preamp over the send's unloaded volts.
    pub(super) pad_ratio: f64,
    pub(super) settings: Settings,
    /// Volts of a sample of 1.0 at the send, polarity included: left, right.
    send_volts: [f64; 2],
    /// Sample value of 1 V at the return, polarity included.
    return_per_volt: [f64; 2],
    /// Noise that the return pad adds at the return, in sample values a root hertz.
    return_hiss: [f64; 2],
    /// Noise at the line output.
    pub(super) line_hiss: LineHiss,
    /// Magnitude at which converters clip, of full scale; infinite when they do not.
    pub(super) clip: f64,
}

impl Spec {
    /// For a plan with the pad that is built for it.
    pub(super) fn new(plan: &Plan, build: &PadBuild, oversampling: Oversampling) -> Self {
        let pad = build.as_built.two_port();
        let seen = pad.thevenin(plan.rig.source);
        let back = return_pad(plan);
        let back_port = back.two_port();
        let return_in = plan.rig.return_in;
        // Exactly 1 without a pad.
        let back_ratio = 1.0 / (back_port.a + back_port.b / return_in.0);
        let return_per_volt =
            [0, 1].map(|side| back_ratio / plan.rig.return_full_scale_of(side).peak().0);
        let return_hiss = [0, 1].map(|side| {
            if plan.preamp.noise {
                return_hiss_volts(plan, &back) / plan.rig.return_full_scale_of(side).peak().0
            } else {
                0.0
            }
        });
        let sign = if plan.send.polarity == Polarity::Inverted {
            -1.0
        } else {
            1.0
        };
        Self {
            oversampling,
            pad,
            pad_ratio: seen.ratio,
            settings: Settings {
                source: seen.ohms,
                attenuator: plan.preamp.attenuator.0 > 0.0,
                gain: plan.preamp.gain,
                load: back.in_ohms(return_in),
                noise: plan.preamp.noise,
            },
            send_volts: [0, 1].map(|side| sign * plan.rig.send_full_scale_of(side).peak().0),
            return_per_volt: return_per_volt.map(|per_volt| sign * per_volt),
            return_hiss,
            line_hiss: LineHiss::of(plan.rig.source, &pad),
            clip: if plan.rig.converters_clip {
                1.0
            } else {
                f64::INFINITY
            },
        }
    }

    /// What noise adds at the line output in each sample of a block, in volts, or nothing without it; `sigma`
    /// is that of the part of its own.
    #[inline]
    pub(super) fn line_noise<'a>(
        &self,
        block: &Tapped<'_>,
        hiss: &mut Hiss,
        sigma: f64,
        room: &'a mut [f64; MOST_TAPPED],
    ) -> &'a [f64] {
        let mut count = 0;
        if self.settings.noise {
            for (to, taps) in room.iter_mut().zip(block.all()) {
                *to = self.line_hiss.share * taps.source_noise + sigma * hiss.next();
                count += 1;
            }
        }
        &room[..count]
    }

    /// The return's samples of a block, and which of its frames the converter clips, each `factor` samples long.
    #[inline]
    pub(super) fn take_back<'a>(
        &self,
        channel: usize,
        block: &Tapped<'_>,
        samples: &mut [f64],
        flags: impl Iterator<Item = &'a mut bool>,
        factor: usize,
    ) {
        let per_volt = self.return_per_volt(channel);
        for (sample, volts) in samples.iter_mut().zip(block.preamp_out()) {
            *sample = volts * per_volt;
        }
        for (flag, samples) in flags.zip(samples.chunks_mut(factor)) {
            for sample in samples {
                *flag |= sample.abs() > self.clip;
                *sample = sample.clamp(-self.clip, self.clip);
            }
        }
    }

    /// Volts of a sample of 1.0 at the send; of several channels, every second is a right one.
    #[inline]
    pub(super) fn send_volts(&self, channel: usize) -> f64 {
        self.send_volts[channel % 2]
    }

    /// Sample value of 1 V at the return.
    #[inline]
    fn return_per_volt(&self, channel: usize) -> f64 {
        self.return_per_volt[channel % 2]
    }

    /// Noise that the return pad adds at the return, in sample values a root hertz.
    #[inline]
    pub(super) fn return_hiss(&self, channel: usize) -> f64 {
        self.return_hiss[channel % 2]
    }
}
