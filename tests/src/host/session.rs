//! A fresh instance made ready to process, and comparisons of what comes out.

use super::audio::{Audio, Change, Running, blocks_of};
use super::bundle::Bundle;
use super::plan::{Setting, number_of};
use super::plugin::Plugin;

/// +6.02 dBFS: the plugin puts out no more.
pub const BOUND: f32 = 2.0;

/// A loud drive: distortion everywhere, so that nothing can hide in a linear circuit.
pub const LOUD: [(&str, &str); 2] = [("preamp.gain_db", "52 dB"), ("send.trim_db", "3 dB")];

/// An active instance with what it runs on.
pub struct Session {
    /// The instance.
    pub plugin: Plugin,
    /// Its audio side.
    pub running: Running,
}

impl Session {
    /// A fresh instance with `texts` set, active at a rate for blocks of up to `most` frames.
    #[must_use]
    pub fn new(rate_hz: f64, most: u32, channels: usize, texts: &[(&'static str, &str)]) -> Self {
        let mut plugin = Bundle::load().instance();
        plugin.choose_channels(channels);
        plugin.set_texts(&settings(texts));
        let running = plugin.activate(rate_hz, most, channels);
        Self { plugin, running }
    }

    /// A typed text as a change at a frame.
    pub fn change(&mut self, frame: usize, id: &str, text: &str) -> Change {
        let value = self.plugin.value_of(id, text);
        let id = number_of(id);
        Change { frame, id, value }
    }

    /// Audio through it.
    pub fn run(&mut self, audio: &Audio, blocks: impl IntoIterator<Item = usize>) -> Audio {
        self.running.run(audio, blocks, &[])
    }

    /// Seconds of silence until exactly nothing comes back for one.
    ///
    /// # Panics
    /// When that does not come about within 60 s, or what comes back is not bounded.
    pub fn rest(&mut self, rate_hz: usize, channels: usize) -> usize {
        let second = vec![vec![0.0; rate_hz]; channels];
        for seconds in 1..60 {
            let got = self.run(&second, blocks_of(512));
            assert_bounded("silence", &got);
            if got.iter().flatten().all(|sample| *sample == 0.0) {
                return seconds;
            }
        }
        panic!("still sounding after 60 s of silence");
    }

    /// Deactivates it.
    pub fn end(mut self) {
        self.plugin.deactivate(self.running);
    }
}

/// Settings from literals.
#[must_use]
pub fn settings(texts: &[(&'static str, &str)]) -> Vec<Setting> {
    let owned = |(id, text): &(&'static str, &str)| (*id, (*text).to_owned());
    texts.iter().map(owned).collect()
}

/// Asserts equality bit by bit.
///
/// # Panics
/// At the first frame that differs.
#[track_caller]
pub fn assert_same(what: &str, got: &Audio, want: &Audio) {
    for (channel, (got, want)) in got.iter().zip(want).enumerate() {
        let differs = got
            .iter()
            .zip(want)
            .position(|(a, b)| a.to_bits() != b.to_bits());
        if let Some(frame) = differs {
            let (got, want) = (got[frame], want[frame]);
            panic!("{what}: channel {channel}, frame {frame}: {got:e}, want {want:e}");
        }
        assert_eq!(got.len(), want.len(), "{what}: frames");
    }
    assert_eq!(got.len(), want.len(), "{what}: channels");
}

/// Asserts that every sample is a number and none is above +6.02 dBFS.
///
/// # Panics
/// At the first that is not.
#[track_caller]
pub fn assert_bounded(what: &str, audio: &Audio) {
    for (channel, samples) in audio.iter().enumerate() {
        let bad = samples
            .iter()
            .position(|x| !x.is_finite() || x.abs() > BOUND);
        if let Some(frame) = bad {
            panic!(
                "{what}: channel {channel}, frame {frame}: {}",
                samples[frame]
            );
        }
    }
}

/// Root of the mean square.
#[must_use]
pub fn rms(samples: &[f32]) -> f64 {
    let squares: f64 = samples.iter().map(|x| f64::from(*x).powi(2)).sum();
    (squares / samples.len() as f64).sqrt()
}
