//! How loud a render is, against closed forms, `penstock levels` and pyloudnorm.

use std::path::Path;

use penstock_tests::check::at;
use penstock_tests::levels::Levels;
use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, assert_near, json_in, number, python};
use serde_json::{Value, json};

fn render(dir: &Path, from: &str, to: &str, sets: &[&str]) -> (Value, Wave) {
    let mut args = vec!["render", from, to, "--force"];
    for set in sets {
        args.extend(["--set", set]);
    }
    let answer = json_in(dir, &args);
    (answer, Wave::read(&dir.join(to)).0)
}

#[test]
fn a_sample_is_the_preamps_volts_over_the_returns_full_scale() {
    let dir = TempDir::new();
    for (peak_dbfs, sets) in [
        (-40.0, &["preamp.gain_db=40"][..]),
        (-20.0, &["preamp.gain_db=28", "pad.loss_db=34"]),
        (
            -12.0,
            &["preamp.gain_db=46", "rig.return.full_scale_dbu=24"],
        ),
        (
            -30.0,
            &[
                "preamp.gain_db=58",
                "preamp.attenuator_db=20",
                "return.trim_db=-7.5",
            ],
        ),
    ] {
        let what = format!("{peak_dbfs} dBFS, {sets:?}");
        let tone = Wave::sine(48_000, 1000.0, 10f64.powf(peak_dbfs / 20.0), 2.0);
        tone.write(&dir.file("tone.wav"));
        let (_, out) = render(dir.path(), "tone.wav", "out.wav", sets);
        // By AES17 a sine's dBFS is its RMS against that of a full-scale sine. One second, the
        // second one, holds whole cycles of the settled tone but for the file's last frames.
        let mut settled = out.clone();
        settled.samples.truncate(48_000 * 19 / 10);
        let out_dbfs = 20.0 * (settled.rms_after(0.9) * 2f64.sqrt()).log10();
        let levels = Levels::at(peak_dbfs, sets);
        assert_near(&what, out_dbfs, levels.get("return", "dbfs"), 0.01);
        let volts_peak = levels.get("preamp_out", "volts_peak");
        let trimmed = sets.iter().any(|set| set.starts_with("return.trim"));
        if !trimmed {
            let full_scale_dbu = if peak_dbfs == -12.0 { 24.0 } else { 22.0 };
            let full_scale = 0.6f64.sqrt() * 10f64.powf(full_scale_dbu / 20.0) * 2f64.sqrt();
            let mut second = settled.clone();
            second.samples.drain(..48_000 * 9 / 10);
            // The peak between frames of the distorted tone may pass the highest frame by a hair.
            assert_near(&what, second.peak() * full_scale / volts_peak, 1.0, 0.005);
        }
    }
}

#[test]
fn silence_renders_to_silence() {
    let dir = TempDir::new();
    Wave::silence(48_000, 1.0).write(&dir.file("in.wav"));
    let (answer, out) = render(dir.path(), "in.wav", "out.wav", &["preamp.gain_db=64"]);
    assert_near("samples", out.peak(), 0.0, 1e-6);
    assert!(at(&answer, "in_lufs").is_null(), "silence has no loudness");
}

#[test]
fn trims_scale_the_result() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.02, 0.5, 1).write(&dir.file("in.wav"));
    let (_, plain) = render(dir.path(), "in.wav", "plain.wav", &[]);
    let (_, trimmed) = render(dir.path(), "in.wav", "trimmed.wav", &["return.trim_db=6.5"]);
    let factor = 10f64.powf(6.5 / 20.0) as f32;
    let off = trimmed.distance(&plain.times(factor)) / trimmed.peak();
    assert_near("return trim", off, 0.0, 1e-6);
    let (_, sent) = render(dir.path(), "in.wav", "sent.wav", &["send.trim_db=-20"]);
    // At these levels the preamp is linear to a fraction of a percent.
    let off = sent.times(10.0).distance(&plain) / plain.peak();
    assert_near("send trim", off, 0.0, 0.02);
}

#[test]
fn loudness_is_what_pyloudnorm_says() {
    let dir = TempDir::new();
    recordings::short_speech().write_integer(&dir.file("speech.wav"), 16);
    Wave::programme(48_000, 0.5, 3.0, 2).write(&dir.file("programme48.wav"));
    let left = Wave::programme(96_000, 0.25, 2.0, 3);
    Wave::stereo(&left, &left.times(0.5)).write(&dir.file("programme96.wav"));
    let sources = [
        arg(&recordings::drums_stereo()),
        arg(&recordings::guitar_mono()),
        arg(&recordings::speech()),
        dir.arg("speech.wav"),
        dir.arg("programme48.wav"),
        dir.arg("programme96.wav"),
    ];
    let (mut files, mut said) = (Vec::new(), Vec::new());
    for (index, source) in sources.iter().enumerate() {
        let to = format!("{index}.wav");
        let (answer, _) = render(dir.path(), source, &to, &[]);
        for (key, path) in [("in_lufs", source.clone()), ("out_lufs", dir.arg(&to))] {
            said.push((format!("{key} of {source}"), number(&answer, key)));
            files.push(path);
        }
    }
    // Source: pyloudnorm (ITU-R BS.1770) on the files themselves.
    let measured = python("loudness.py", &json!(files));
    for (index, (what, lufs)) in said.iter().enumerate() {
        assert_near(what, *lufs, number(&measured, &index.to_string()), 0.1);
    }
}

#[test]
fn the_peak_is_the_files_peak() {
    let dir = TempDir::new();
    for gain in ["preamp.gain_db=34", "preamp.gain_db=46"] {
        let source = arg(&recordings::guitar_mono());
        let (answer, out) = render(dir.path(), &source, "out.wav", &[gain]);
        assert_near(
            gain,
            number(&answer, "peak_dbfs"),
            20.0 * out.peak().log10(),
            1e-3,
        );
    }
}

/// A quiet stereo second with overloads, and in how many frames there is one.
fn with_overloads() -> (Wave, usize) {
    let quiet = Wave::programme(48_000, 0.05, 1.0, 4);
    let (mut left, mut right) = (quiet.clone(), quiet);
    left.samples[10_000..10_040].fill(1.5);
    right.samples[10_030..10_050].fill(-1.25);
    right.samples[30_000] = 1.0001;
    // Full scale itself is still inside.
    left.samples[40_000] = -1.0;
    (Wave::stereo(&left, &right), 50 + 1)
}

#[test]
fn frames_clipped_at_the_send_are_counted() {
    let dir = TempDir::new();
    let (wave, overloads) = with_overloads();
    wave.write(&dir.file("in.wav"));
    let (answer, clipped) = render(dir.path(), "in.wav", "out.wav", &[]);
    let counted = number(&answer, "clipped_send_frames");
    assert_near("frames with an overload", counted, overloads as f64, 0.0);
    // What the converter does to the samples, done beforehand, leaves nothing to clip.
    let mut before = wave.clone();
    before
        .samples
        .iter_mut()
        .for_each(|sample| *sample = sample.clamp(-1.0, 1.0));
    before.write(&dir.file("before.wav"));
    let (answer, out) = render(dir.path(), "before.wav", "before-out.wav", &[]);
    assert_near(
        "nothing to clip",
        number(&answer, "clipped_send_frames"),
        0.0,
        0.0,
    );
    assert_near("clipped samples", out.distance(&clipped), 0.0, 1e-6);
    let (_, free) = render(
        dir.path(),
        "in.wav",
        "free.wav",
        &["rig.converters_clip=false"],
    );
    assert!(
        free.distance(&clipped) > 0.01,
        "without clipping the overloads get through"
    );
}

#[test]
fn the_send_trim_comes_before_the_send_clips() {
    let dir = TempDir::new();
    let (wave, _) = with_overloads();
    wave.write(&dir.file("in.wav"));
    let (answer, _) = render(dir.path(), "in.wav", "out.wav", &["send.trim_db=-12"]);
    assert_near(
        "turned down",
        number(&answer, "clipped_send_frames"),
        0.0,
        0.0,
    );
    let tone = Wave::sine(48_000, 1000.0, 0.5, 1.0);
    tone.write(&dir.file("tone.wav"));
    let (answer, _) = render(dir.path(), "tone.wav", "tone-out.wav", &["send.trim_db=12"]);
    // Of the 48 samples of a cycle those clip that pass full scale when trimmed.
    let over = (0..48).filter(|n| {
        let sample = 0.5 * (std::f64::consts::TAU * f64::from(*n) / 48.0).sin();
        sample.abs() * 10f64.powf(12.0 / 20.0) > 1.0
    });
    let wanted = over.count() as f64 * 1000.0;
    assert_near(
        "turned up",
        number(&answer, "clipped_send_frames"),
        wanted,
        0.0,
    );
}

#[test]
fn frames_clipped_at_the_return_are_counted() {
    let dir = TempDir::new();
    Wave::sine(48_000, 1000.0, 0.5, 1.0).write(&dir.file("tone.wav"));
    let hot = ["preamp.gain_db=52", "rig.return.full_scale_dbu=15"];
    let (answer, clipped) = render(dir.path(), "tone.wav", "out.wav", &hot);
    let counted = number(&answer, "clipped_return_frames");
    assert!(
        (1000.0..=48_000.0).contains(&counted),
        "{counted} frames of 48000"
    );
    assert_near(
        "at the send",
        number(&answer, "clipped_send_frames"),
        0.0,
        0.0,
    );
    let free = [hot[0], hot[1], "rig.converters_clip=false"];
    let (_, free) = render(dir.path(), "tone.wav", "free.wav", &free);
    assert!(
        free.peak() > 1.2 * clipped.peak(),
        "{} against {}",
        free.peak(),
        clipped.peak()
    );
    // A sine held at full scale cannot carry more than a square wave does: +3.01 dBFS (AES17).
    assert!(
        clipped.rms_after(0.2) <= 1.001,
        "{}",
        clipped.rms_after(0.2)
    );

    let quiet = ["preamp.gain_db=28"];
    let (answer, _) = render(dir.path(), "tone.wav", "quiet.wav", &quiet);
    assert_near(
        "far below",
        number(&answer, "clipped_return_frames"),
        0.0,
        0.0,
    );
}
