//! Which files a render reads and writes.

use std::fs;

use hound::SampleFormat;
use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, assert_near, json_in, number, python, refused_in, run_in};
use serde_json::json;

/// One step of 24 bits, full scale being 1.
const STEP: f64 = 1.0 / 8_388_608.0;

#[test]
fn every_format_that_is_promised_is_read() {
    // Source of the files: libsndfile. All hold the same 16-bit samples, so all renders are one.
    let dir = TempDir::new();
    let left = Wave::programme(44_100, 0.4, 0.5, 1);
    let right = Wave::programme(44_100, 0.4, 0.5, 2);
    for (name, wave) in [
        ("mono", left.clone()),
        ("stereo", Wave::stereo(&left, &right)),
    ] {
        let base = format!("{name}.wav");
        wave.write_integer(&dir.file(&base), 16);
        let kinds = [
            ("WAV", "PCM_24", "wav"),
            ("WAV", "PCM_32", "wav"),
            ("WAV", "FLOAT", "wav"),
            ("WAV", "DOUBLE", "wav"),
            ("WAVEX", "PCM_24", "wav"),
            ("WAVEX", "FLOAT", "wav"),
            ("FLAC", "PCM_16", "flac"),
            ("FLAC", "PCM_24", "flac"),
            ("AIFF", "PCM_16", "aiff"),
            ("AIFF", "PCM_24", "aif"),
        ];
        let named = |(format, subtype, extension): &(&str, &str, &str)| {
            format!("{name}-{format}-{subtype}.{extension}")
        };
        let jobs: Vec<_> = kinds
            .iter()
            .map(|kind| {
                let (from, to) = (dir.arg(&base), dir.arg(&named(kind)));
                json!({ "from": from, "to": to, "format": kind.0, "subtype": kind.1 })
            })
            .collect();
        let _ = python("audio.py", &json!({ "convert": jobs }));
        json_in(dir.path(), &["render", &base, "want.wav", "--force"]);
        let want = Wave::read(&dir.file("want.wav")).0;
        for kind in &kinds {
            let from = named(kind);
            json_in(dir.path(), &["render", &from, "got.wav", "--force"]);
            let got = Wave::read(&dir.file("got.wav")).0;
            assert_eq!(
                (got.rate_hz, got.channels),
                (want.rate_hz, want.channels),
                "{from}"
            );
            assert_near(&from, got.distance(&want), 0.0, 1e-6);
        }
    }
}

#[test]
fn chunks_around_the_samples_are_tolerated() {
    let dir = TempDir::new();
    let wave = Wave::programme(48_000, 0.3, 0.3, 3);
    wave.write_integer(&dir.file("plain.wav"), 16);
    let plain = fs::read(dir.file("plain.wav")).expect("just written");
    let data = plain
        .windows(4)
        .position(|tag| tag == b"data")
        .expect("a WAV file has samples");
    // Odd-sized chunks are followed by a byte that their size does not count (RIFF).
    let odd = |tag: &[u8; 4], text: &[u8]| {
        assert!(text.len() % 2 == 1);
        [&tag[..], &(text.len() as u32).to_le_bytes(), text, &[0]].concat()
    };
    let (before, after) = (
        odd(b"note", b"a remark"[..7].as_ref()),
        odd(b"LIST", b"INFOabc"),
    );
    let mut bytes = [&plain[..data], &before, &plain[data..], &after].concat();
    let size = (bytes.len() as u32 - 8).to_le_bytes();
    bytes[4..8].copy_from_slice(&size);
    fs::write(dir.file("chunks.wav"), bytes).expect("the folder can be written");
    json_in(dir.path(), &["render", "plain.wav", "plain-out.wav"]);
    let answer = json_in(dir.path(), &["render", "chunks.wav", "chunks-out.wav"]);
    assert_near(
        "frames",
        number(&answer, "frames"),
        wave.frames() as f64,
        0.0,
    );
    let read = |name: &str| Wave::read(&dir.file(name)).0;
    assert_eq!(read("chunks-out.wav"), read("plain-out.wav"));
}

#[test]
fn twenty_four_bits_with_dither() {
    let dir = TempDir::new();
    let left = Wave::programme(48_000, 0.3, 1.0, 4);
    Wave::stereo(&left, &left.times(0.5)).write(&dir.file("in.wav"));
    json_in(dir.path(), &["render", "in.wav", "float.wav"]);
    json_in(
        dir.path(),
        &["render", "in.wav", "s24.wav", "--format", "s24"],
    );
    let (float, _, _) = Wave::read(&dir.file("float.wav"));
    let (integer, format, bits) = Wave::read(&dir.file("s24.wav"));
    assert_eq!((format, bits), (SampleFormat::Int, 24));
    assert_eq!((integer.rate_hz, integer.channels), (48_000, 2));
    assert_eq!(integer.frames(), float.frames());
    let pairs = float.samples.iter().zip(&integer.samples);
    let errors: Vec<f64> = pairs
        .map(|(f, i)| (f64::from(*i) - f64::from(*f)) / STEP)
        .collect();
    let most = errors
        .iter()
        .fold(0.0, |most: f64, error| error.abs().max(most));
    assert!(most <= 4.0, "{most} steps off");
    // Rounding alone has an error of 1/sqrt(12) = 0.29 steps RMS, with triangular dither of two
    // steps 0.5, with a rectangular one of a step 0.41 (Lipshitz, Wannamaker, Vanderkooy 1992).
    let rms = (errors.iter().map(|error| error * error).sum::<f64>() / errors.len() as f64).sqrt();
    assert!(
        (0.35..1.0).contains(&rms),
        "{rms} steps RMS is no dithered rounding"
    );
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    assert_near("no bias", mean, 0.0, 0.02);
}

#[test]
fn nothing_is_overwritten_unless_forced() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.3, 0.2, 5).write(&dir.file("in.wav"));
    fs::write(dir.file("taken.wav"), b"dear to somebody").expect("the folder can be written");
    refused_in(
        dir.path(),
        &["render", "in.wav", "taken.wav"],
        &["taken.wav", "--force"],
    );
    refused_in(dir.path(), &["render", "in.wav", "in.wav"], &["in.wav"]);
    json_in(dir.path(), &["render", "in.wav", "taken.wav", "--force"]);
    assert_eq!(Wave::read(&dir.file("taken.wav")).0.frames(), 9600);
    let names = fs::read_dir(dir.path())
        .expect("the folder can be read")
        .count();
    assert_eq!(names, 2, "no temporary file stays behind");
}

#[test]
fn a_plan_file_and_settings_from_left_to_right() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.3, 6).write(&dir.file("in.wav"));
    let plan = "[rig.send]\nfull_scale_dbu = 18\n[pad]\nnetwork = \"H\"\nloss_db = 46\n\
                [preamp]\ngain_db = 46\n[return]\ntrim_db = -3.5\n";
    fs::write(dir.file("plan.toml"), plan).expect("the folder can be written");
    let as_sets = [
        "rig.send.full_scale_dbu=18",
        "pad.network=H",
        "pad.loss_db=46",
        "preamp.gain_db=46",
        "return.trim_db=-3.5",
    ];
    let mut args = vec![
        "render",
        "in.wav",
        "by-sets.wav",
        "--set",
        "preamp.gain_db=28",
    ];
    for set in as_sets {
        args.extend(["--set", set]);
    }
    json_in(dir.path(), &args);
    json_in(
        dir.path(),
        &["render", "in.wav", "by-plan.wav", "--plan", "plan.toml"],
    );
    let read = |name: &str| Wave::read(&dir.file(name)).0;
    assert_eq!(read("by-plan.wav"), read("by-sets.wav"));
    let more = ["--set", "preamp.gain_db=40"];
    let args = [
        "render",
        "in.wav",
        "changed.wav",
        "--plan",
        "plan.toml",
        more[0],
        more[1],
    ];
    json_in(dir.path(), &args);
    assert_ne!(
        read("changed.wav"),
        read("by-plan.wav"),
        "a setting goes before the plan"
    );
}

#[test]
fn a_real_recording_renders_as_text_for_people_too() {
    let dir = TempDir::new();
    let source = arg(&recordings::speech());
    let outcome = run_in(dir.path(), &["render", &source, "out.wav"]);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    assert_eq!(Wave::read(&dir.file("out.wav")).0.frames(), 113_600);
}
