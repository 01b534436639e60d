//! The alignment tone: a sine in place of what would come back, for setting levels against a meter.
//!
//! It comes and goes within 50 ms, and stops by itself. Its left channel may be interrupted so that
//! the far end knows left from right: 250 ms in every 3 s, as EBU Tech 3304 has the stereo line-up
//! tone (by what is written about it; the document itself was not at hand).

use super::ramp::{Ramp, eased};
use crate::units::{Dbfs, SampleRate};
use std::f64::consts::TAU;

/// Its way from nothing to full level, and back.
pub const TONE_FADE_SECONDS: f64 = 0.05;
/// From interruption to interruption of the left channel.
const EVERY_SECONDS: f64 = 3.0;
/// Length of an interruption, between the middles of its fades.
const INTERRUPTION_SECONDS: f64 = 0.25;
/// Fades around an interruption: short, but no click.
const EDGE_SECONDS: f64 = 0.01;

/// What is asked of the tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToneWish {
    /// In hertz, under half the sample rate.
    pub hz: f64,
    /// Of the sine, in both channels.
    pub level: Dbfs,
    /// Whether the left of two channels is interrupted.
    pub interrupted: bool,
}

/// Replaces audio by a tone.
#[derive(Clone, Copy, Debug)]
pub struct AlignmentTone {
    rate_hz: f64,
    wish: ToneWish,
    peak: f64,
    share: Ramp,
    fade_frames: u32,
    most_frames: u64,
    on: bool,
    /// Since it began.
    frames: u64,
}

impl AlignmentTone {
    /// Silent, for a tone that ends by itself `most_seconds` after it began, its fade included.
    #[must_use]
    pub fn prepare(rate: SampleRate, wish: ToneWish, most_seconds: f64) -> Self {
        Self {
            rate_hz: rate.hz(),
            wish,
            peak: wish.level.sine_peak(),
            share: Ramp::at(0.0),
            fade_frames: (rate.hz() * TONE_FADE_SECONDS).round() as u32,
            most_frames: (rate.hz() * most_seconds).round() as u64,
            on: false,
            frames: 0,
        }
    }

    /// Silent at once.
    pub fn reset(&mut self) {
        self.on = false;
        self.share = Ramp::at(0.0);
    }

    /// Begins to sound, from the next frame on; a tone that sounds already is left as it is.
    pub fn start(&mut self) {
        if !self.on {
            self.on = true;
            // One that is still going comes back where it is.
            if !self.sounds() {
                self.frames = 0;
            }
            self.share.head_for(1.0, self.fade_frames);
        }
    }

    /// Begins to go.
    pub fn stop(&mut self) {
        self.on = false;
        self.share.head_for(0.0, self.fade_frames);
    }

    /// Whether it is on and not about to go.
    #[must_use]
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// Whether anything of it is still heard.
    #[must_use]
    pub fn sounds(&self) -> bool {
        self.on || self.share.now() > 0.0
    }

    /// Puts the tone in place of the audio, as far as it is faded in. Never allocates.
    pub fn process(&mut self, audio: &mut [&mut [f64]]) {
        if !self.sounds() {
            return;
        }
        let frames = audio.iter().map(|samples| samples.len()).min().unwrap_or(0);
        for frame in 0..frames {
            if self.on && self.frames + u64::from(self.fade_frames) >= self.most_frames {
                self.stop();
            }
            let share = eased(self.share.next());
            let turns = (self.frames as f64 * (self.wish.hz / self.rate_hz)).fract();
            let sine = self.peak * (TAU * turns).sin();
            let stereo = audio.len() > 1;
            for (channel, samples) in audio.iter_mut().enumerate() {
                let gate = if self.wish.interrupted && stereo && channel % 2 == 0 {
                    self.gate()
                } else {
                    1.0
                };
                samples[frame] = samples[frame] * (1.0 - share) + sine * share * gate;
            }
            self.frames += 1;
        }
    }

    /// Share of the tone in the left channel: an interruption ends each period, so that it begins with
    /// a steady tone.
    fn gate(&self) -> f64 {
        let seconds = self.frames as f64 / self.rate_hz;
        // The last fade reaches into the next period.
        let at = (seconds + 0.5 * EDGE_SECONDS).rem_euclid(EVERY_SECONDS) - 0.5 * EDGE_SECONDS;
        let edge = |seconds: f64| eased((seconds / EDGE_SECONDS + 0.5).clamp(0.0, 1.0));
        let first = seconds < 0.5 * EDGE_SECONDS;
        let back = if first { 1.0 } else { edge(at) };
        back * (1.0 - edge(at - (EVERY_SECONDS - INTERRUPTION_SECONDS)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 48_000.0;

    fn tone(interrupted: bool, most_seconds: f64) -> AlignmentTone {
        let wish = ToneWish {
            hz: 1000.0,
            level: Dbfs(-18.0),
            interrupted,
        };
        let rate = SampleRate::new(RATE).expect("a served rate");
        AlignmentTone::prepare(rate, wish, most_seconds)
    }

    fn run(tone: &mut AlignmentTone, seconds: f64, before: f64) -> [Vec<f64>; 2] {
        let frames = (seconds * RATE) as usize;
        let (mut left, mut right) = (vec![before; frames], vec![before; frames]);
        // Blocks of an odd size: what comes must not depend on it.
        for (left, right) in left.chunks_mut(77).zip(right.chunks_mut(77)) {
            tone.process(&mut [left, right]);
        }
        [left, right]
    }

    fn rms(samples: &[f64]) -> f64 {
        (samples.iter().map(|s| s * s).sum::<f64>() / samples.len() as f64).sqrt()
    }

    #[test]
    fn it_is_silent_until_it_is_started_and_at_its_level_after_its_fade() {
        let mut tone = tone(false, 60.0);
        assert_eq!(run(&mut tone, 0.1, 0.5)[0], vec![0.5; 4800]);
        tone.start();
        let [left, right] = run(&mut tone, 0.2, 0.5);
        assert_eq!(left, right);
        // Nothing leaps: the offset fades over 50 ms at 1.5 times a straight line, the sine moves by
        // its own slope.
        let slope = TAU * 1000.0 / RATE * 0.126 + 1.51 * (0.5 + 0.126) / 2400.0;
        assert!(
            left.windows(2)
                .all(|pair| (pair[1] - pair[0]).abs() < slope)
        );
        // AES17: a full-scale sine is 0 dBFS; 4800 frames are whole periods.
        let level = Dbfs::from_rms(rms(&left[4800..]));
        assert!((level.0 + 18.0).abs() < 1e-9, "{level:?}");
        tone.stop();
        let [left, _] = run(&mut tone, 0.2, 0.5);
        assert!(left[2400..].iter().all(|sample| *sample == 0.5));
        assert!(!tone.sounds());
    }

    #[test]
    fn it_stops_by_itself_and_can_be_started_again() {
        let mut tone = tone(false, 2.0);
        tone.start();
        let [left, _] = run(&mut tone, 2.1, 0.0);
        assert!(rms(&left[91_200..93_600]) > 0.08);
        assert!(left[96_000..].iter().all(|sample| *sample == 0.0));
        assert!(!tone.is_on() && !tone.sounds());
        tone.start();
        assert!(tone.sounds());
        tone.reset();
        assert!(!tone.sounds());
    }

    #[test]
    fn left_is_interrupted_for_a_quarter_of_a_second_in_three() {
        let mut tone = tone(true, 60.0);
        tone.start();
        let [left, right] = run(&mut tone, 9.5, 0.0);
        let part = |samples: &[f64], from: f64, to: f64| {
            rms(&samples[(from * RATE) as usize..(to * RATE) as usize])
        };
        let full = Dbfs(-18.0).sine_peak() / 2f64.sqrt();
        for period in [0.0, 3.0, 6.0] {
            assert!((part(&left, period + 0.06, period + 2.74) / full - 1.0).abs() < 1e-3);
            assert!(part(&left, period + 2.756, period + 2.994) < 1e-9);
            assert!((part(&right, period + 0.06, period + 2.99) / full - 1.0).abs() < 1e-3);
        }
    }
}
