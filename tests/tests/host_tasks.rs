//! What somebody who has never seen the window wants of it, done with a real pointer and real keys in
//! a CLAP host while music plays, and counted.
//!
//! The rule: one click, one text typed and closed with Enter, one key, one turn of the wheel, one drag, each is
//! one action; looking and waiting are none. Every click is counted, also those that only unfold something. Each
//! task may take six. That it is done is not believed of the window: parameters are read from the host's
//! side, sound is measured.

use std::f64::consts::TAU;
use std::process::Command;

use penstock_tests::host::MAP;
use penstock_tests::run::finish;
use penstock_tests::table::preferred;
use penstock_tests::tools::settings_dir;
use penstock_tests::{TempDir, Wave, assert_near, bundle, number, python, text};
use serde_json::{Value, json};

/// What a task may take.
const MOST: f64 = 6.0;

/// What came of a task.
struct Done {
    dir: TempDir,
    said: String,
    changed: Value,
}

impl Done {
    fn wave(&self, name: &str) -> Wave {
        Wave::read(&self.dir.file(name)).0
    }

    /// Loudness of files it left. Source: pyloudnorm (ITU-R BS.1770).
    fn lufs<const N: usize>(&self, names: [&str; N]) -> [f64; N] {
        let measured = python(
            "loudness.py",
            &json!(names.map(|name| self.dir.arg(name)).to_vec()),
        );
        std::array::from_fn(|k| number(&measured, &k.to_string()))
    }
}

/// Has the task done by somebody whose rig is remembered, or who starts the plugin for the first time.
fn done(task: &str, remembered: bool) -> Done {
    let dir = TempDir::new();
    let settings = if remembered {
        settings_dir()
    } else {
        dir.file("settings")
    };
    let mut user = Command::new(env!("CARGO_BIN_EXE_clap_tasks"));
    user.arg(bundle("Penstock.clap"))
        .args([task, &dir.arg("")])
        .env(MAP, dir.file("map.json"))
        .env("PENSTOCK_CONFIG_FOLDER", settings)
        .env("HOME", dir.path());
    let outcome = finish(user);
    assert_eq!(outcome.status, 0, "{task}: {}", outcome.stderr);
    let answer: Value = serde_json::from_str(&outcome.stdout).expect("JSON");
    let actions = number(&answer, "actions");
    let comparing = number(&answer, "comparing");
    println!("{task}: {actions} actions, comparing {comparing}; {answer}");
    for taken in [actions, comparing] {
        assert!(taken <= MOST, "{task} took {taken} actions");
    }
    Done {
        said: text(&answer, "said").to_owned(),
        changed: answer["changed"].clone(),
        dir,
    }
}

const TWENTY: &str = "+20 dBu";

#[test]
fn converters_are_set_to_20_dbu_by_whoever_starts_it_first() {
    let done = done("first-rig", false);
    assert_eq!(
        done.changed,
        json!({"rig.send.full_scale_dbu": TWENTY, "rig.return.full_scale_dbu": TWENTY})
    );
    // It is remembered, in a plan file, and the controls of the loop are there.
    let rig = std::fs::read_to_string(done.dir.file("settings/rig.toml")).expect("the rig is kept");
    assert_eq!(rig.matches("full_scale_dbu = 20").count(), 2, "{rig}");
    assert_eq!(done.said, "40 dB");
}

#[test]
fn converters_are_set_to_20_dbu_later() {
    let done = done("rig", true);
    assert_eq!(
        done.changed,
        json!({"rig.send.full_scale_dbu": TWENTY, "rig.return.full_scale_dbu": TWENTY})
    );
}

#[test]
fn a_pad_of_46_db_is_designed_in_e24() {
    let done = done("pad", true);
    assert_eq!(
        done.changed,
        json!({"pad.loss_db": "46 dB", "pad.series": "E24"})
    );
    // "2 x 2200 ohm, shunt 22 ohm: 46.1 dB loaded, ...": only values of IEC 60063, and about the loss.
    let (resistors, result) = done.said.split_once(": ").expect("the pad in words");
    let values: Vec<f64> = resistors
        .split_whitespace()
        .filter_map(|word| word.parse().ok())
        .filter(|ohms| *ohms != 2.0)
        .collect();
    assert!(values.len() >= 2, "{resistors}");
    let series = preferred("E24");
    for ohms in values {
        let digits = ohms / 10f64.powf(ohms.log10().floor());
        let known = series.iter().any(|value| (value - digits).abs() < 1e-6);
        assert!(known, "{ohms} ohm is not in E24: {resistors}");
    }
    let loss: f64 = result
        .split_whitespace()
        .next()
        .and_then(|word| word.parse().ok())
        .expect("the loss in words");
    // E24 steps by 10 %, a resistor is off by 5 % at most: 0.42 dB, twice as a ratio of two.
    assert_near("the loss as built", loss, 46.0, 0.85);
}

/// Harmonics 2 to 20 of a 1 kHz tone against it, in percent, over whole cycles of the second half.
fn thd_percent(wave: &Wave) -> f64 {
    let samples = &wave.channel(0).samples[wave.frames() / 2..];
    let bin = |k: u32| {
        let step = TAU * f64::from(k) * 1_000.0 / f64::from(wave.rate_hz);
        let part = |turn: fn(f64) -> f64| -> f64 {
            let each = samples.iter().enumerate();
            each.map(|(n, x)| f64::from(*x) * turn(step * n as f64))
                .sum()
        };
        part(f64::cos).hypot(part(f64::sin))
    };
    let harmonics: f64 = (2..=20).map(|k| bin(k).powi(2)).sum();
    100.0 * harmonics.sqrt() / bin(1)
}

#[test]
fn the_gain_that_puts_the_loudest_passage_at_1_percent_is_found() {
    let done = done("distortion", true);
    let changed = done.changed.as_object().expect("parameters");
    assert!(changed.contains_key("preamp.gain_db"), "{changed:?}");
    let level = ["preamp.gain_db", "send.trim_db", "pad.loss_db"];
    assert!(
        changed.keys().all(|id| level.contains(&id.as_str())),
        "{changed:?}"
    );
    // A sine of the passage's peak sounds so through the plugin; half a dB less is less, half a dB more is more.
    let thd =
        ["under", "at", "over"].map(|name| thd_percent(&done.wave(&format!("tone-{name}.wav"))));
    println!("THD at the passage's peak and half a dB around: {thd:.3?} %");
    assert!(thd[0] < 1.0 && thd[2] > 1.0, "{thd:?} %");
}

/// Bypass is on and off again in two; while it is on, the bus passes as it is.
#[test]
fn the_loudness_trim_is_set_and_the_result_compared_with_bypass() {
    let done = done("loudness", true);
    let changed = done.changed.as_object().expect("parameters");
    assert_eq!(changed.keys().collect::<Vec<_>>(), ["return.trim_db"]);
    let [bypassed, heard] = done.lufs(["bypassed.wav", "out.wav"]);
    println!("{bypassed:.2} LUFS with bypass, {heard:.2} without");
    assert_near("loudness", heard, bypassed, 0.5);
    assert_eq!(
        done.wave("bypassed.wav").samples,
        done.wave("in.wav").samples
    );
}
