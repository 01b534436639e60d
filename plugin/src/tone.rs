//! The alignment tone as the window asks for it and the audio thread plays it. It is no parameter and
//! no part of a project: off in a new plugin, whenever a project loads, and when the window closes.

use penstock_dsp::alignment::{EBU_R68, SMPTE_RP155};
use penstock_dsp::chain::{AlignmentTone, ToneWish};
use penstock_dsp::units::SampleRate;
use std::sync::atomic::{AtomicU8, Ordering};

/// The tone ends by itself after this long.
pub const MOST_SECONDS: f64 = 60.0;
/// Its frequency.
const HZ: f64 = 1000.0;

/// Which tone; none is louder than -18 dBFS.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tone {
    /// None.
    #[default]
    Off,
    /// -18 dBFS (EBU R68).
    Ebu,
    /// The same, its left channel interrupted.
    EbuInterrupted,
    /// -20 dBFS (SMPTE RP 155).
    Smpte,
    /// The same, its left channel interrupted.
    SmpteInterrupted,
}

impl Tone {
    /// Every one, off first.
    pub const ALL: [Self; 5] = [
        Self::Off,
        Self::Ebu,
        Self::EbuInterrupted,
        Self::Smpte,
        Self::SmpteInterrupted,
    ];

    /// For people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Off => "Off",
            Self::Ebu => "1 kHz, -18 dBFS",
            Self::EbuInterrupted => "1 kHz, -18 dBFS, left interrupted",
            Self::Smpte => "1 kHz, -20 dBFS",
            Self::SmpteInterrupted => "1 kHz, -20 dBFS, left interrupted",
        }
    }

    /// What is played; `None` when it is off.
    #[must_use]
    pub fn wish(self) -> Option<ToneWish> {
        let (level, interrupted) = match self {
            Self::Off => return None,
            Self::Ebu => (EBU_R68, false),
            Self::EbuInterrupted => (EBU_R68, true),
            Self::Smpte => (SMPTE_RP155, false),
            Self::SmpteInterrupted => (SMPTE_RP155, true),
        };
        Some(ToneWish {
            hz: HZ,
            level,
            interrupted,
        })
    }
}

/// What is asked for, reached from both sides without locks.
#[derive(Debug, Default)]
pub struct ToneSwitch(AtomicU8);

impl ToneSwitch {
    /// What is asked for. From any thread.
    #[must_use]
    pub fn get(&self) -> Tone {
        let place = usize::from(self.0.load(Ordering::Relaxed));
        Tone::ALL.get(place).copied().unwrap_or_default()
    }

    /// Asks for a tone, or for none. From any thread.
    pub fn set(&self, tone: Tone) {
        self.0.store(tone as u8, Ordering::Relaxed);
    }

    /// Says that `tone` is over, unless another has been asked for meanwhile. From the audio thread.
    fn over(&self, tone: Tone) {
        let (was, off) = (tone as u8, Tone::Off as u8);
        // Whoever has asked for another one is right.
        let _: Result<u8, u8> =
            self.0
                .compare_exchange(was, off, Ordering::Relaxed, Ordering::Relaxed);
    }
}

/// Plays what is asked for, on the audio thread.
#[derive(Clone, Copy, Debug)]
pub struct TonePlayer {
    rate: SampleRate,
    playing: Tone,
    tone: AlignmentTone,
}

impl TonePlayer {
    /// Silent.
    #[must_use]
    pub fn prepare(rate: SampleRate) -> Self {
        let wish = ToneWish {
            hz: HZ,
            level: EBU_R68,
            interrupted: false,
        };
        Self {
            rate,
            playing: Tone::Off,
            tone: AlignmentTone::prepare(rate, wish, MOST_SECONDS),
        }
    }

    /// Silent at once.
    pub fn reset(&mut self, switch: &ToneSwitch) {
        switch.set(Tone::Off);
        self.playing = Tone::Off;
        self.tone.reset();
    }

    /// Follows what is asked for; a tone gives way to another by its own fade. Without a window, whose
    /// user could stop it, there is none. Never allocates.
    pub fn attend(&mut self, switch: &ToneSwitch, open: bool) {
        if !open {
            switch.set(Tone::Off);
        }
        let wanted = switch.get();
        if wanted == self.playing {
            if wanted != Tone::Off && !self.tone.is_on() {
                switch.over(wanted);
            }
        } else if self.tone.is_on() {
            self.tone.stop();
        } else if !self.tone.sounds() {
            self.playing = wanted;
            if let Some(wish) = wanted.wish() {
                self.tone = AlignmentTone::prepare(self.rate, wish, MOST_SECONDS);
                self.tone.start();
            }
        }
    }

    /// Puts the tone in place of what came back. Never allocates.
    pub fn process(&mut self, back: &mut [&mut [f64]]) {
        self.tone.process(back);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::params::PlanParams;
    use nice_plug::prelude::Params;
    use std::collections::BTreeMap;

    const RATE: f64 = 48_000.0;
    const BLOCK: usize = 100;

    struct Bench {
        switch: ToneSwitch,
        player: TonePlayer,
    }

    impl Bench {
        fn new() -> Self {
            let rate = SampleRate::new(RATE).expect("a served rate");
            Self {
                switch: ToneSwitch::default(),
                player: TonePlayer::prepare(rate),
            }
        }

        /// Largest magnitude of so many seconds in place of silence, and of its last block.
        fn run(&mut self, seconds: f64, open: bool) -> (f64, f64) {
            let (mut most, mut last) = (0.0f64, 0.0);
            for _ in 0..(seconds * RATE) as usize / BLOCK {
                let mut block = [0.0; BLOCK];
                self.player.attend(&self.switch, open);
                self.player.process(&mut [&mut block]);
                last = block.iter().fold(0.0, |most: f64, s| most.max(s.abs()));
                most = most.max(last);
            }
            (most, last)
        }
    }

    #[test]
    fn no_tone_is_louder_than_minus_18_dbfs_and_the_switch_keeps_each() {
        let switch = ToneSwitch::default();
        assert_eq!(switch.get(), Tone::Off);
        for tone in Tone::ALL {
            switch.set(tone);
            assert_eq!(switch.get(), tone);
            assert!(tone.wish().is_none_or(|wish| wish.level.0 <= -18.0));
        }
    }

    #[test]
    fn it_sounds_when_asked_for_and_gives_way_to_another() {
        let mut bench = Bench::new();
        assert_eq!(bench.run(0.2, true).0, 0.0);
        bench.switch.set(Tone::Ebu);
        // A full-scale sine peaks at 1 (AES17): -18 dBFS is 0.12589.
        assert!((bench.run(0.2, true).1 - 0.125_89).abs() < 1e-4);
        bench.switch.set(Tone::Smpte);
        assert!((bench.run(0.3, true).1 - 0.1).abs() < 1e-4);
        bench.switch.set(Tone::Off);
        assert_eq!(bench.run(0.2, true).1, 0.0);
    }

    #[test]
    fn it_ends_after_a_minute_and_the_switch_says_so() {
        let mut bench = Bench::new();
        bench.switch.set(Tone::Ebu);
        assert!(bench.run(59.9, true).1 > 0.1);
        assert_eq!(bench.switch.get(), Tone::Ebu);
        assert_eq!(bench.run(0.2, true).1, 0.0);
        assert_eq!(bench.switch.get(), Tone::Off);
        bench.switch.set(Tone::Ebu);
        assert!(bench.run(0.2, true).1 > 0.1);
    }

    #[test]
    fn it_ends_when_the_window_closes_and_stays_off() {
        let mut bench = Bench::new();
        bench.switch.set(Tone::Ebu);
        bench.run(0.2, true);
        assert_eq!(bench.run(0.1, false).1, 0.0);
        assert_eq!(bench.switch.get(), Tone::Off);
        assert_eq!(bench.run(0.2, true).0, 0.0);
    }

    #[test]
    fn it_is_off_in_a_new_plugin_and_whenever_a_project_loads() {
        let params = PlanParams::default();
        assert_eq!(params.tone.get(), Tone::Off);
        params.tone.set(Tone::Smpte);
        assert!(
            params
                .serialize_fields()
                .keys()
                .all(|key| !key.contains("tone"))
        );
        params.deserialize_fields(&BTreeMap::new());
        assert_eq!(params.tone.get(), Tone::Off);
    }
}
