//! `penstock tone`: the file against the definition of a sine at a level (AES17), worked out here.

use penstock_tests::{TempDir, Wave, assert_near, json_in, keys, number, refused_in, run_in};
use serde_json::json as value;
use std::f64::consts::TAU;

fn read(dir: &TempDir, name: &str) -> Wave {
    Wave::read(&dir.file(name)).0
}

fn dbfs(wave: &Wave, from_seconds: f64) -> f64 {
    // AES17: a full-scale sine is 0 dBFS.
    20.0 * (wave.rms_after(from_seconds) * 2f64.sqrt()).log10()
}

#[test]
fn it_is_one_kilohertz_at_minus_18_for_a_minute_unless_said_otherwise() {
    let dir = TempDir::new();
    let said = json_in(dir.path(), &["tone", "tone.wav"]);
    keys(
        &said,
        "frames channels sample_rate_hz tone_hz level_dbfs fade_seconds interrupted_left reads",
    );
    assert_near("frames", number(&said, "frames"), 60.0 * 48_000.0, 0.0);
    let wave = read(&dir, "tone.wav");
    assert_eq!(
        (wave.rate_hz, wave.channels, wave.frames()),
        (48_000, 2, 2_880_000)
    );
    let left = wave.channel(0);
    assert_eq!(left.distance(&wave.channel(1)), 0.0);
    let peak = 10f64.powf(-18.0 / 20.0);
    // Sample by sample after the fade; 32-bit floats hold 24 bits.
    for n in (2_400..2_880_000 - 2_400).step_by(7) {
        let wanted = peak * (TAU * 1000.0 * n as f64 / 48_000.0).sin();
        assert!(
            (f64::from(left.samples[n]) - wanted).abs() < 1e-7,
            "frame {n}"
        );
    }
    // The fades are 50 ms long: half way the sine is at about half its level, the ends are silent.
    let most = |from: usize, to: usize| {
        left.samples[from..to]
            .iter()
            .fold(0.0f64, |most, s| most.max(f64::from(s.abs())))
    };
    assert!(most(0, 48) < 0.01 * peak && most(2_880_000 - 48, 2_880_000) < 0.01 * peak);
    assert_near("half way in", most(1_176, 1_224) / peak, 0.5, 0.05);
    assert_near(
        "half way out",
        most(2_880_000 - 1_224, 2_880_000 - 1_176) / peak,
        0.5,
        0.05,
    );
}

#[test]
fn frequency_level_rate_and_channels_are_what_was_asked() {
    let dir = TempDir::new();
    for (hz, level_dbfs, rate_hz, channels) in [
        (40.0, -20.0, 44_100, 1),
        (400.0, -9.0, 96_000, 2),
        (10_000.0, 0.0, 48_000, 2),
        (15_000.0, -60.0, 192_000, 1),
    ] {
        let words = [
            hz.to_string(),
            format!("{level_dbfs}"),
            rate_hz.to_string(),
            channels.to_string(),
        ];
        let args = [
            "tone",
            "t.wav",
            "--seconds",
            "2",
            "--tone-hz",
            &words[0],
            "--level-dbfs",
            &words[1],
            "--rate",
            &words[2],
            "--channels",
            &words[3],
            "--force",
        ];
        json_in(dir.path(), &args);
        let wave = read(&dir, "t.wav");
        assert_eq!((wave.rate_hz, wave.channels), (rate_hz, channels));
        assert_eq!(wave.frames(), 2 * rate_hz as usize);
        let left = wave.channel(0);
        // The middle second holds whole periods of each.
        let second = rate_hz as usize;
        let middle = &left.samples[second / 2..second / 2 + second];
        let (mut re, mut im) = (0.0, 0.0);
        let turn = |n: usize| (TAU * (hz * n as f64 / second as f64).fract()).sin_cos();
        for (n, sample) in middle.iter().enumerate() {
            let (sin, cos) = turn(n);
            re += 2.0 * f64::from(*sample) * cos / second as f64;
            im += 2.0 * f64::from(*sample) * sin / second as f64;
        }
        // AES17: of peak 1 it is 0 dBFS.
        let level = 10.0 * (re * re + im * im).log10();
        assert_near("level at the frequency", level, level_dbfs, 0.001);
        // Nothing beside it but the rounding to 32-bit floats, half of 2^-23 at most.
        let rest = |(n, sample): (usize, &f32)| {
            let (sin, cos) = turn(n);
            (f64::from(*sample) - re * cos - im * sin).abs()
        };
        let rest = middle.iter().enumerate().map(rest).fold(0.0, f64::max);
        let peak = re.hypot(im);
        assert!(rest < 0.6e-7 * peak + 1e-12, "{hz} Hz: {rest:e} of {peak}");
    }
}

#[test]
fn left_is_interrupted_when_asked_and_right_is_not() {
    let dir = TempDir::new();
    let said = json_in(
        dir.path(),
        &["tone", "t.wav", "--seconds", "9.5", "--interrupt-left"],
    );
    assert_eq!(said["interrupted_left"], value!(true));
    let wave = read(&dir, "t.wav");
    // EBU Tech 3304, from memory: 250 ms of silence in every 3 s of the left channel.
    let loud = |side: usize| -> Vec<bool> {
        let channel = wave.channel(side);
        let parts = channel.samples.chunks(480);
        parts
            .map(|part| part.iter().any(|s| s.abs() > 1e-6))
            .collect()
    };
    let gaps = |side: usize| loud(side).iter().filter(|loud| !**loud).count();
    // Three gaps of 240 ms that are silent throughout, in pieces of 10 ms.
    assert!((69..=75).contains(&gaps(0)), "{} pieces", gaps(0));
    assert_eq!(gaps(1), 0);
    assert_near("right", dbfs(&wave.channel(1), 0.0), -18.0, 0.05);
}

#[test]
fn dithered_24_bits_hold_the_level() {
    let dir = TempDir::new();
    json_in(
        dir.path(),
        &["tone", "t.wav", "--seconds", "2", "--format", "s24"],
    );
    let (wave, format, bits) = Wave::read(&dir.file("t.wav"));
    assert_eq!((format, bits), (hound::SampleFormat::Int, 24));
    assert_near("level", dbfs(&wave, 0.5), -18.0, 0.2);
    let second = Wave {
        samples: wave.samples[48_000..3 * 48_000].to_vec(),
        ..wave
    };
    assert_near("level", dbfs(&second, 0.0), -18.0, 0.001);
}

#[test]
fn it_never_overwrites_unasked_and_leaves_nothing_half_written() {
    let dir = TempDir::new();
    std::fs::write(dir.file("mine.wav"), "mine").expect("the folder can be written");
    refused_in(dir.path(), &["tone", "mine.wav"], &["mine.wav", "--force"]);
    for (args, words) in [
        (&["tone", "t.wav", "--tone-hz", "24000"][..], "23520"),
        (&["tone", "t.wav", "--level-dbfs", "1"], "nearest is 0"),
        (&["tone", "t.wav", "--seconds", "0"], "0.2"),
        (&["tone", "t.wav", "--rate", "4000"], "8000"),
        (&["tone", "t.wav", "--channels", "3"], "nearest is 2"),
        (
            &["tone", "t.wav", "--channels", "1", "--interrupt-left"],
            "two channels",
        ),
    ] {
        refused_in(dir.path(), args, &[words]);
    }
    let outcome = run_in(
        dir.path(),
        &["tone", "mine.wav", "--seconds", "1", "--force"],
    );
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    assert_eq!(read(&dir, "mine.wav").frames(), 48_000);
}
