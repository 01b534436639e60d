//! The golden clips: what ngspice says of the program's own decks (`cargo xtask golden`).

use std::f64::consts::{PI, SQRT_2, TAU};
use std::fs;
use std::path::{Path, PathBuf};

use crate::table::{Row, Table};
use crate::wave::Wave;

const RATE_HZ: u32 = 48_000;
/// Full scale of the send and the return in the default plan, by which the clips were made.
const FULL_SCALE_DBU: f64 = 22.0;
/// The start of a tone in the deck.
const START_SECONDS: f64 = 0.02;
/// What a render gets beyond the clip, so that the end of its filters lies outside it.
const BEYOND_FRAMES: usize = 2_400;

/// One clip as the index names it.
#[derive(Clone, Debug)]
pub struct Clip {
    row: Row,
}

/// Where the clips are.
#[must_use]
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/golden")
}

/// Every clip of the index.
///
/// # Panics
/// When the list of clips has one that the index lacks, or has otherwise.
#[must_use]
pub fn clips() -> Vec<Clip> {
    let index = Table::load("golden/index.txt");
    for wanted in Table::load("golden/clips.txt").rows() {
        let label = wanted.label();
        let made = index
            .rows()
            .iter()
            .any(|row| row.label().starts_with(&label));
        assert!(made, "not made: {label}; cargo xtask golden makes it");
    }
    let rows = index.rows().iter().cloned();
    rows.map(|row| Clip { row }).collect()
}

/// Peak volts of full scale at send and return.
#[must_use]
pub fn full_scale_volts() -> f64 {
    0.6f64.sqrt() * 10f64.powf(FULL_SCALE_DBU / 20.0) * SQRT_2
}

impl Clip {
    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.row.text("name")
    }

    /// Its tone in hertz; None for a recording.
    #[must_use]
    pub fn hz(&self) -> Option<f64> {
        match self.row.text("signal") {
            "1k" => Some(1_000.0),
            "30" => Some(30.0),
            _ => None,
        }
    }

    /// What the output would be in dBu without any distortion, to the decibel.
    #[must_use]
    pub fn linear_dbu(&self) -> f64 {
        let number = |name| self.row.number(name);
        number("line_dbu") - number("loss") - number("attenuator") + number("gain")
    }

    /// The plan it was made by, as changes of the default.
    #[must_use]
    pub fn sets(&self) -> Vec<String> {
        let keys = [
            ("rig.return.in_ohms", "load_ohms"),
            ("pad.network", "network"),
            ("pad.loss_db", "loss"),
            ("pad.series", "series"),
            ("preamp.gain_db", "gain"),
            ("preamp.attenuator_db", "attenuator"),
        ];
        let set = |(key, column): (&str, &str)| format!("{key}={}", self.row.text(column));
        // The clips are of pads whose every resistor is the nearest to its ideal value.
        let always = ["rig.converters_clip=false", "pad.parts=nearest"];
        always
            .map(str::to_owned)
            .into_iter()
            .chain(keys.into_iter().map(set))
            .collect()
    }

    /// What the bus carries, and some more at the end.
    ///
    /// # Panics
    /// When the recorded signal is missing.
    #[must_use]
    pub fn bus(&self) -> Wave {
        let frames = self.row.number("frames") as usize + BEYOND_FRAMES;
        let rms = 10f64.powf((self.row.number("line_dbu") - FULL_SCALE_DBU) / 20.0) / SQRT_2;
        if let Some(hz) = self.hz() {
            let seconds = frames as f64 / f64::from(RATE_HZ);
            return Wave::mono(RATE_HZ, seconds, |t| {
                let start = 0.5 - 0.5 * (PI * (t / START_SECONDS).min(1.0)).cos();
                SQRT_2 * rms * start * (TAU * hz * t).sin()
            });
        }
        let path = folder().join(format!("signal-{}.f32", self.row.text("signal")));
        let bytes = fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let words = bytes
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        let mut samples: Vec<f32> = words.map(|s| (f64::from(s) * rms) as f32).collect();
        samples.resize(frames, 0.0);
        Wave {
            rate_hz: RATE_HZ,
            channels: 1,
            samples,
        }
    }
}
