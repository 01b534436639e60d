//! The whole path in order, for the plugin and for files alike.
//!
//! Bus samples are trimmed; then, as volts at the oversampled rate, they pass send converter (which
//! clips its samples), pad, preamplifier and return converter (which clips before it samples); back
//! at the base rate comes the return trim. This is the only module that knows every block.
//!
//! # Changes
//!
//! A change ([`Chain::set`]) takes effect at the next frame whose number since reset is a multiple
//! of [`GRID_FRAMES`], whatever the block sizes, so that every host and every file hears the same.
//! The trims move in a straight line for 10 ms. Anything else needs a new circuit: it takes on the
//! state of the old one, runs beside it and is faded in within 10 ms (after the latency of the
//! path, when new filters must fill first). What is asked while a fade runs waits for its end.
//!
//! # Silence
//!
//! After [`ASLEEP_SECONDS`] of digital silence, when nothing comes back any more, the circuit is put
//! exactly to rest and waits there for the next sound.

mod build;
mod bypass;
mod hiss;
mod own;
mod points;
mod ramp;
mod spec;
mod tone;
mod voice;

pub use build::{
    Ceiling, CeilingKind, PadBuild, analog_settings, build_for, build_nearest, build_pad, ceilings,
    pad_request, return_load, return_pad, return_request,
};
pub use bypass::Bypass;
pub use own::{OwnConverter, OwnGains, heard_plan, made_up, preamp_in_ohms};
pub use points::{AnalogBlock, Observer, Point, PointVolts};
pub use tone::{AlignmentTone, TONE_FADE_SECONDS, ToneWish};

use crate::circuit::{self, DELAY_SAMPLES};
use crate::oversample::{self, BLOCK_FRAMES, Oversampling};
use crate::pad::PadError;
use crate::plan::Plan;
use crate::units::{Ohms, SampleRate};
use hiss::Hiss;
pub(crate) use hiss::return_hiss_volts;
use ramp::{Ramp, eased};
use spec::Spec;
use voice::{Flags, Voice};

/// Changes take effect at multiples of this many frames since reset.
pub const GRID_FRAMES: usize = 32;
/// Length of a fade and of a trim's way.
const FADE_SECONDS: f64 = 0.01;
/// Digital silence longer than this lets the circuit rest, once nothing comes back any more (light
/// loads let the output's longest time constant grow to seconds).
pub const ASLEEP_SECONDS: f64 = 12.5;
/// What comes back below this magnitude of full scale (-180 dBFS) is nothing.
const NOTHING: f64 = 1e-9;
/// Largest bus magnitude taken, of full scale (+120 dBFS): squares stay finite behind it.
const MOST: f64 = 1e6;

/// Frames by which what comes back is late, at a rate.
#[must_use]
pub fn latency_frames(rate: SampleRate) -> usize {
    oversample::latency_frames(rate, DELAY_SAMPLES)
}

/// Oversampled samples by which the analog points are late ([`Observer::analog`]).
#[must_use]
pub fn analog_delay_samples(rate: SampleRate, setting: Oversampling) -> usize {
    oversample::delay_up(rate, setting) + DELAY_SAMPLES
}

/// Everything between the bus and its return.
#[derive(Clone, Debug)]
pub struct Chain {
    rate: SampleRate,
    /// What is asked for, and how it sounds.
    asked: Plan,
    plan: Plan,
    oversampling: Oversampling,
    changed: bool,
    /// What sounds, and what it fades to.
    spec: Spec,
    next_spec: Spec,
    fade: Option<Fade>,
    voices: [Voice; 2],
    /// Of every channel what is sent, and what comes back by each voice.
    sent: Vec<[f64; BLOCK_FRAMES]>,
    back: [Vec<[f64; BLOCK_FRAMES]>; 2],
    /// Of every channel, the return pad's noise.
    hiss: Vec<Hiss>,
    send_trim: Ramp,
    return_trim: Ramp,
    latency_frames: usize,
    clock_frames: u64,
    silent_frames: u64,
    /// Largest magnitude returned since the last grid frame.
    loudest: f64,
    asleep: bool,
    clipped: Clipped,
}

/// A fade from the first voice to the second.
#[derive(Clone, Copy, Debug)]
struct Fade {
    /// Frames until it begins to be heard: filters fill.
    waiting: u32,
    done: u32,
    length: u32,
}

/// How many frames a converter clipped in, any channel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Clipped {
    /// At the send, before the circuit.
    pub send_frames: u64,
    /// At the return, after it.
    pub return_frames: u64,
}

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
        build_pad(plan)?;
        Ok(Self::prepare_nearest(plan, rate, channels, oversampling))
    }

    /// As [`Chain::prepare`], but a pad that cannot be built is replaced by the nearest that can.
    #[must_use]
    pub fn prepare_nearest(
        plan: &Plan,
        rate: SampleRate,
        channels: usize,
        oversampling: Oversampling,
    ) -> Self {
        let (asked, heard) = (*plan, heard_plan(plan));
        let plan = &heard;
        // Computed once, and not while sound runs.
        let _: Ohms = circuit::out_ohms(plan.preamp.gain);
        let spec = Spec::new(plan, &build_nearest(plan).0, oversampling);
        let voice = || Voice::prepare(spec, rate, channels);
        Self {
            rate,
            asked,
            plan: *plan,
            oversampling,
            changed: false,
            spec,
            next_spec: spec,
            fade: None,
            voices: [voice(), voice()],
            sent: vec![[0.0; BLOCK_FRAMES]; channels],
            back: [0, 1].map(|_| vec![[0.0; BLOCK_FRAMES]; channels]),
            hiss: (0..channels).map(Hiss::of_channel).collect(),
            send_trim: Ramp::at(plan.send.trim.ratio()),
            return_trim: Ramp::at(plan.back.trim.ratio()),
            latency_frames: latency_frames(rate),
            clock_frames: 0,
            silent_frames: 0,
            loudest: 0.0,
            asleep: !spec.settings.noise,
            clipped: Clipped::default(),
        }
    }

    /// Asks for a plan and an oversampling setting, from the next grid frame on. Never allocates.
    pub fn set(&mut self, plan: &Plan, oversampling: Oversampling) {
        if self.asked != *plan || self.oversampling != oversampling {
            self.asked = *plan;
            self.plan = heard_plan(plan);
            self.oversampling = oversampling;
            self.changed = true;
        }
    }

    /// Back to rest, with what is asked for: filters empty, capacitors at the operating point,
    /// counters at zero.
    pub fn reset(&mut self) {
        self.clock_frames = 0;
        self.silent_frames = 0;
        self.loudest = 0.0;
        self.clipped = Clipped::default();
        for (channel, hiss) in self.hiss.iter_mut().enumerate() {
            *hiss = Hiss::of_channel(channel);
        }
        self.rest();
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
    /// not finite are taken as silence, others within +-1e6. Slices beyond the prepared channels
    /// stay untouched. Never allocates or fails.
    pub fn process(&mut self, audio: &mut [&mut [f64]], observer: &mut impl Observer) {
        let frames = audio.iter().map(|samples| samples.len()).min().unwrap_or(0);
        let mut from = 0;
        while from < frames {
            let past_grid = (self.clock_frames % GRID_FRAMES as u64) as usize;
            if past_grid == 0 {
                self.on_grid();
            }
            let to = frames.min(from + GRID_FRAMES - past_grid);
            self.piece(audio, from..to, observer);
            self.clock_frames += (to - from) as u64;
            from = to;
        }
    }

    /// Rests after long silence; takes on what is asked for, where it may.
    fn on_grid(&mut self) {
        let long = self.silent_frames as f64 >= ASLEEP_SECONDS * self.rate.hz();
        let nothing = std::mem::take(&mut self.loudest) < NOTHING;
        if long && nothing && self.fade.is_none() && !self.asleep {
            // What comes back may be nothing long before a bypass capacitor has its voltage again.
            if self.voices[0].is_at_rest() {
                self.rest();
            }
        }
        if !self.changed {
            return;
        }
        if self.asleep {
            self.rest();
            return;
        }
        let fade_frames = (self.rate.hz() * FADE_SECONDS).round() as u32;
        self.send_trim
            .head_for(self.plan.send.trim.ratio(), fade_frames);
        self.return_trim
            .head_for(self.plan.back.trim.ratio(), fade_frames);
        if self.fade.is_some() {
            return;
        }
        self.changed = false;
        let spec = Spec::new(&self.plan, &build_nearest(&self.plan).0, self.oversampling);
        if spec == self.spec {
            return;
        }
        let [now, next] = &mut self.voices;
        next.follow(now, spec);
        let fills = spec.oversampling != self.spec.oversampling;
        self.next_spec = spec;
        self.fade = Some(Fade {
            // Up and down, and the circuit's first milliseconds on filtered sound.
            waiting: if fills {
                2 * self.latency_frames as u32
            } else {
                0
            },
            done: 0,
            length: fade_frames,
        });
    }

    /// Everything at rest with what is asked for.
    fn rest(&mut self) {
        let spec = Spec::new(&self.plan, &build_nearest(&self.plan).0, self.oversampling);
        let [now, _] = &mut self.voices;
        if spec == self.spec {
            now.reset();
        } else {
            now.become_at_rest(spec);
        }
        (self.spec, self.next_spec) = (spec, spec);
        self.fade = None;
        self.changed = false;
        self.send_trim = Ramp::at(self.plan.send.trim.ratio());
        self.return_trim = Ramp::at(self.plan.back.trim.ratio());
        // A circuit whose noise is heard never sleeps.
        self.asleep = !spec.settings.noise;
    }

    /// A piece between two grid frames.
    fn piece(
        &mut self,
        audio: &mut [&mut [f64]],
        range: std::ops::Range<usize>,
        observer: &mut impl Observer,
    ) {
        let silence = clean(audio, &range);
        let mut range = range;
        if self.asleep {
            // Already zero; who counts frames must not miss them.
            for index in 0..self.sent.len().min(audio.len()) {
                let silent = &[0.0; GRID_FRAMES][..silence.leading];
                observer.bus(index, silent);
                observer.back(index, silent);
            }
            range.start += silence.leading;
            self.asleep = range.is_empty();
        }
        let frames = range.len();
        if frames == 0 {
            return;
        }
        let whole = silence.trailing >= frames;
        let before = if whole { self.silent_frames } else { 0 };
        self.silent_frames = before + silence.trailing.min(frames) as u64;
        let mut flags = Flags::NONE;
        let (send_trim, return_trim, fade) = (self.send_trim, self.return_trim, self.fade);
        let mut loudest = self.loudest;
        let channels = self.sent.len().min(audio.len());
        for (index, (sent, audio)) in self.sent.iter_mut().zip(&*audio).enumerate() {
            self.send_trim = send_trim;
            observer.bus(index, &audio[range.clone()]);
            for (sent, bus) in sent.iter_mut().zip(&audio[range.clone()]) {
                *sent = bus * self.send_trim.next();
            }
        }
        let sent = &self.sent[..channels];
        let ([now, next], [back, faded]) = (&mut self.voices, &mut self.back);
        now.process(sent, back, frames, &mut flags, observer);
        if self.fade.is_some() {
            next.process(sent, faded, frames, &mut flags, &mut ());
        }
        for (index, audio) in audio.iter_mut().enumerate().take(channels) {
            let [back, faded] = &mut self.back;
            let back = &mut back[index][..frames];
            if let Some(fade) = fade {
                fade.mix(back, &faded[index]);
            }
            self.hiss[index].add(back, self.spec.return_hiss(index), self.rate.hz());
            self.return_trim = return_trim;
            for (sample, back) in audio[range.clone()].iter_mut().zip(back) {
                *sample = *back * self.return_trim.next();
                loudest = loudest.max(sample.abs());
            }
            observer.back(index, &audio[range.clone()]);
        }
        let count = |flags: &[bool]| flags.iter().filter(|flag| **flag).count() as u64;
        self.clipped.send_frames += count(&flags.send);
        self.clipped.return_frames += count(&flags.back);
        self.loudest = loudest;
        self.go_on(frames);
    }

    /// Lets the fade go on.
    fn go_on(&mut self, frames: usize) {
        if let Some(fade) = &mut self.fade {
            fade.go_on(frames as u32);
            if fade.done >= fade.length {
                self.fade = None;
                self.spec = self.next_spec;
                self.voices.swap(0, 1);
            }
        }
    }
}

impl Fade {
    /// Share of the new voice at a frame of the coming piece.
    fn share(self, frame: u32) -> f64 {
        let at = (self.done + frame + 1).saturating_sub(self.waiting);
        eased(f64::from(at.min(self.length)) / f64::from(self.length))
    }

    fn mix(self, now: &mut [f64], next: &[f64]) {
        for (frame, (now, next)) in (0..).zip(now.iter_mut().zip(next)) {
            let share = self.share(frame);
            // Exactly the one voice before the fade, exactly the other after it.
            *now = *now * (1.0 - share) + next * share;
        }
    }

    fn go_on(&mut self, frames: u32) {
        let wait = self.waiting.min(frames);
        self.waiting -= wait;
        self.done += frames - wait;
    }
}

/// How many frames of a piece are zero in every channel, at its start and at its end.
struct Silence {
    leading: usize,
    trailing: usize,
}

/// Makes every sample a number within bounds; says where it is silent.
fn clean(audio: &mut [&mut [f64]], range: &std::ops::Range<usize>) -> Silence {
    let frames = range.len();
    let (mut leading, mut trailing) = (frames, frames);
    for samples in audio.iter_mut() {
        let piece = &mut samples[range.clone()];
        for sample in piece.iter_mut() {
            let finite = if sample.is_finite() { *sample } else { 0.0 };
            *sample = finite.clamp(-MOST, MOST);
        }
        let sounds = |sample: &f64| *sample != 0.0;
        leading = leading.min(piece.iter().position(sounds).unwrap_or(frames));
        trailing = trailing.min(piece.iter().rev().position(sounds).unwrap_or(frames));
    }
    Silence { leading, trailing }
}
