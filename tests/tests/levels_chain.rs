//! What trims, gain, attenuator, clipping and files do to the levels.

use std::f64::consts::PI;

use penstock_tests::levels::Levels;
use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, assert_near, json, json_in, python, run};
use serde_json::json as value;

const GAINS_DB: [f64; 7] = [28.0, 34.0, 40.0, 46.0, 52.0, 58.0, 64.0];

#[test]
fn each_gain_step_is_what_it_says() {
    // "mic_in terminals to preamp_out into 10 kohm, attenuator off, 1 kHz, small signal".
    for gain_db in GAINS_DB {
        let set = format!("preamp.gain_db={gain_db}");
        let levels = Levels::at(-60.0, &[&set]);
        let got = levels.dbu("preamp_out") - levels.dbu("mic_in");
        assert_near(&set, got, gain_db, 0.3);
    }
}

#[test]
fn small_signals_pass_in_proportion() {
    for gain in ["preamp.gain_db=28", "preamp.gain_db=64"] {
        let (low, high) = (Levels::at(-80.0, &[gain]), Levels::at(-60.0, &[gain]));
        for point in [
            "line_out",
            "mic_in",
            "transformer_in",
            "grid_1",
            "grid_2",
            "preamp_out",
        ] {
            assert_near(point, high.dbu(point) - low.dbu(point), 20.0, 0.02);
        }
    }
}

#[test]
fn the_attenuator_takes_20_db_before_the_transformer() {
    let off = Levels::at(-50.0, &[]);
    assert_near("off", off.dbu("transformer_in"), off.dbu("mic_in"), 0.001);
    let on = Levels::at(-50.0, &["preamp.attenuator_db=20"]);
    let lower = on.dbu("mic_in") - on.dbu("transformer_in");
    assert_near("on", lower, 20.0, 0.2);
    // The pad is designed for the input as it is then, so its own loss stays 40 dB (E96).
    assert_near("pad", on.dbu("line_out") - on.dbu("mic_in"), 40.0, 0.2);
    for point in ["grid_1", "grid_2", "preamp_out"] {
        // Before the transformer means before everything that follows.
        assert_near(point, off.dbu(point) - on.dbu(point), 20.0, 0.5);
    }
}

#[test]
fn send_trim_moves_the_line_and_not_the_bus() {
    let plain = Levels::at(-40.0, &[]);
    for trim_db in [-40.0, -6.5, 3.0, 12.0] {
        let set = format!("send.trim_db={trim_db}");
        let levels = Levels::at(-40.0, &[&set]);
        assert_near(&set, levels.get("bus", "dbfs"), -40.0, 1e-9);
        let moved = levels.dbu("line_out") - plain.dbu("line_out");
        assert_near(&set, moved, trim_db, 0.001);
    }
}

#[test]
fn return_trim_moves_the_return_alone() {
    let plain = Levels::at(-40.0, &[]);
    for trim_db in [-60.0, -3.25, 9.0, 40.0] {
        let set = format!("return.trim_db={trim_db}");
        let levels = Levels::at(-40.0, &[&set]);
        assert_near(
            &set,
            levels.dbu("preamp_out"),
            plain.dbu("preamp_out"),
            1e-6,
        );
        let moved = levels.get("return", "dbfs") - plain.get("return", "dbfs");
        assert_near(&set, moved, trim_db, 1e-6);
    }
}

#[test]
fn polarity_moves_no_level_of_a_small_sine() {
    let (plain, turned) = (
        Levels::at(-50.0, &[]),
        Levels::at(-50.0, &["send.polarity=inverted"]),
    );
    for point in ["line_out", "mic_in", "grid_1", "preamp_out"] {
        assert_near(point, turned.dbu(point), plain.dbu(point), 0.001);
    }
}

#[test]
fn the_send_clips_at_full_scale() {
    // Source: mean square of a sine of amplitude a > 1 clipped at 1, from its integral over a
    // quarter: (2/pi) (a^2/2 (t - sin t cos t) + pi/2 - t) with t = asin(1/a); a sine that just
    // fits has 1/2.
    let unclipped = Levels::at(-6.0, &[]);
    for trim_db in [9.0, 12.0] {
        let set = format!("send.trim_db={trim_db}");
        let a = 10f64.powf((trim_db - 6.0) / 20.0);
        let t = (1.0 / a).asin();
        let square = 2.0 / PI * (a * a / 2.0 * (t - t.sin() * t.cos()) + PI / 2.0 - t);
        let wanted = unclipped.dbu("line_out") + 6.0 + 10.0 * (square / 0.5).log10();
        let clipped = Levels::at(-6.0, &[&set]);
        // Samples, not instants, are clipped: at 48 samples a cycle that moves the RMS this much.
        assert_near(&set, clipped.dbu("line_out"), wanted, 0.05);

        let free = Levels::at(-6.0, &[&set, "rig.converters_clip=false"]);
        let moved = free.dbu("line_out") - unclipped.dbu("line_out");
        assert_near("not clipped", moved, trim_db, 0.001);
    }
}

#[test]
fn the_return_clips_at_full_scale() {
    let hot = ["preamp.gain_db=52", "rig.return.full_scale_dbu=4"];
    let clipped = Levels::at(-10.0, &hot);
    let sets = [hot[0], hot[1], "rig.converters_clip=false"];
    let free = Levels::at(-10.0, &sets);
    assert_near(
        "the preamp",
        clipped.dbu("preamp_out"),
        free.dbu("preamp_out"),
        0.001,
    );
    let (clipped, free) = (clipped.get("return", "dbfs"), free.get("return", "dbfs"));
    // A full-scale square wave, the most that fits, is +3.0103 dBFS (AES17).
    assert!(
        clipped < 3.02,
        "{clipped} dBFS out of a converter that clips"
    );
    assert!(free > 6.0, "{free} dBFS out of one that does not");
}

#[test]
fn the_returns_input_loads_the_preamp() {
    let light = Levels::at(-50.0, &["rig.return.in_ohms=100000"]);
    let heavy = Levels::at(-50.0, &["rig.return.in_ohms=600"]);
    let drop = light.dbu("preamp_out") - heavy.dbu("preamp_out");
    assert!(
        (0.05..12.0).contains(&drop),
        "600 ohm pull the output down by {drop} dB"
    );
}

#[test]
fn a_file_reads_as_its_rms() {
    // Source: numpy's RMS of the samples; by AES17 a full-scale sine (RMS 1/sqrt 2) is 0 dBFS.
    let dir = TempDir::new();
    Wave::sine(48_000, 1000.0, 0.1, 2.0).write(&dir.file("tone.wav"));
    let tone = Levels::from(&json_in(dir.path(), &["levels", "tone.wav"]));
    assert_near("tone", tone.get("bus", "dbfs"), -20.0, 0.001);
    // The chain's start-up at the edges of the file is part of its RMS.
    let steady = Levels::at(-20.0, &[]);
    for point in ["line_out", "mic_in", "grid_1", "preamp_out"] {
        assert_near(point, tone.dbu(point), steady.dbu(point), 0.02);
    }

    for path in [recordings::speech(), recordings::guitar_mono()] {
        let path = arg(&path);
        let measured = python("audio.py", &value!({ "describe": [path] }));
        let rms = measured[0]["rms"].as_f64().expect("the script prints it");
        let wanted = 20.0 * (rms * 2f64.sqrt()).log10();
        let levels = Levels::from(&json(&["levels", &path]));
        assert_near(&path, levels.get("bus", "dbfs"), wanted, 0.001);
        let line = levels.dbu("line_out");
        assert!(
            (line - (wanted + 22.0)).abs() < 0.2,
            "{path}: {line} dBu at the line output"
        );
    }
}

#[test]
fn silence_has_no_level() {
    // "Undefined or minus infinity is null"; the noise is off.
    let dir = TempDir::new();
    Wave::silence(48_000, 1.0).write(&dir.file("silence.wav"));
    let levels = Levels::from(&json_in(dir.path(), &["levels", "silence.wav"]));
    assert!(levels.raw("bus", "dbfs").is_null());
    for key in ["dbu", "dbv"] {
        assert!(levels.raw("line_out", key).is_null(), "{key}");
    }
    assert_near("volts", levels.get("line_out", "volts_rms"), 0.0, 0.0);
}

#[test]
fn text_for_people() {
    for args in [
        &["levels", "--level-dbfs", "-18"][..],
        &["levels", "--level-dbfs=-18"],
        &["pad", "--loss-db", "40"],
        &["pad", "--loss-db", "40,46"],
        &["--help"],
        &["--version"],
    ] {
        let outcome = run(args);
        assert_eq!(outcome.status, 0, "{args:?}: {}", outcome.stderr);
        assert!(!outcome.stdout.trim().is_empty(), "{args:?} prints nothing");
        assert!(
            !outcome.stdout.trim_start().starts_with('{'),
            "{args:?} prints JSON unasked"
        );
    }
}
