//! What a render keeps: length, channels, rate, place in time, polarity.

use std::path::Path;

use hound::SampleFormat;
use penstock_tests::check::at;
use penstock_tests::{TempDir, Wave, assert_near, json_in, keys, number, python};
use serde_json::{Value, json};

const RATES_HZ: [u32; 6] = [8000, 16_000, 44_100, 48_000, 96_000, 192_000];
const OVERSAMPLINGS: [&str; 4] = ["1", "2", "4", "8"];

/// Low enough that the preamp is linear: what comes out has the shape of what went in.
const LOW: f64 = 0.01;

fn render(dir: &Path, from: &str, to: &str, more: &[&str]) -> Value {
    let mut args = vec!["render", from, to];
    args.extend(more);
    json_in(dir, &args)
}

#[test]
fn length_channels_and_rate_at_every_rate() {
    let dir = TempDir::new();
    for rate_hz in RATES_HZ {
        let left = Wave::programme(rate_hz, 0.3, 0.6, 1);
        let right = Wave::programme(rate_hz, 0.3, 0.6, 2);
        for (name, wave) in [
            ("mono", left.clone()),
            ("stereo", Wave::stereo(&left, &right)),
        ] {
            let (from, to) = (
                format!("{name}{rate_hz}.wav"),
                format!("{name}{rate_hz}-out.wav"),
            );
            wave.write(&dir.file(&from));
            let answer = render(dir.path(), &from, &to, &[]);
            keys(
                &answer,
                "frames channels sample_rate_hz oversampling latency_frames",
            );
            keys(
                &answer,
                "clipped_send_frames clipped_return_frames peak_dbfs in_lufs out_lufs",
            );
            assert_near(&to, number(&answer, "frames"), wave.frames() as f64, 0.0);
            assert_near(
                &to,
                number(&answer, "channels"),
                f64::from(wave.channels),
                0.0,
            );
            assert_near(
                &to,
                number(&answer, "sample_rate_hz"),
                f64::from(rate_hz),
                0.0,
            );
            assert_near(&to, number(&answer, "clipped_send_frames"), 0.0, 0.0);
            let (written, format, bits) = Wave::read(&dir.file(&to));
            assert_eq!((format, bits), (SampleFormat::Float, 32), "{to}");
            assert_eq!(
                (written.rate_hz, written.channels),
                (rate_hz, wave.channels),
                "{to}"
            );
            assert_eq!(written.frames(), wave.frames(), "{to}");
            assert!(
                written.samples.iter().all(|sample| sample.is_finite()),
                "{to}"
            );
            assert!(written.peak() > 0.05, "{to}: next to nothing came out");
        }
    }
}

#[test]
fn odd_lengths_and_single_frames() {
    let dir = TempDir::new();
    for frames in [1, 2, 31, 33, 4095, 4097] {
        let mut wave = Wave::programme(48_000, 0.1, 0.2, 3);
        wave.samples.truncate(frames);
        wave.write(&dir.file("in.wav"));
        let answer = render(dir.path(), "in.wav", "out.wav", &["--force"]);
        assert_near("frames", number(&answer, "frames"), frames as f64, 0.0);
        assert_eq!(Wave::read(&dir.file("out.wav")).0.frames(), frames);
        assert!(
            at(&answer, "in_lufs").is_null(),
            "less than one gating block has no loudness"
        );
    }
}

#[test]
fn channels_stay_apart() {
    let dir = TempDir::new();
    let tone = Wave::programme(48_000, 0.3, 0.5, 4);
    let nothing = Wave::silence(48_000, 0.5);
    tone.write(&dir.file("mono.wav"));
    Wave::stereo(&tone, &nothing).write(&dir.file("left.wav"));
    Wave::stereo(&nothing, &tone).write(&dir.file("right.wav"));
    Wave::stereo(&tone, &tone.times(-0.5)).write(&dir.file("both.wav"));
    let [mono, left, right, both] = ["mono", "left", "right", "both"].map(|name| {
        render(
            dir.path(),
            &format!("{name}.wav"),
            &format!("{name}-out.wav"),
            &[],
        );
        Wave::read(&dir.file(&format!("{name}-out.wav"))).0
    });
    assert_near("left alone", left.channel(0).distance(&mono), 0.0, 1e-6);
    assert_near("nothing on the right", left.channel(1).peak(), 0.0, 1e-6);
    assert_near("right alone", right.channel(1).distance(&mono), 0.0, 1e-6);
    assert_near("nothing on the left", right.channel(0).peak(), 0.0, 1e-6);
    assert_near("beside another", both.channel(0).distance(&mono), 0.0, 1e-6);
}

#[test]
fn the_result_lies_where_the_source_lies() {
    // Source: cross-correlation by numpy. The circuit itself, flat to tens of kilohertz, may delay
    // by some microseconds, as the real one does; whole frames at 48 kHz it may not.
    let dir = TempDir::new();
    let (mut pairs, mut names) = (Vec::new(), Vec::new());
    for rate_hz in RATES_HZ {
        let from = format!("{rate_hz}.wav");
        Wave::programme(rate_hz, LOW, 0.5, 5).write(&dir.file(&from));
        for oversampling in OVERSAMPLINGS {
            let to = format!("{rate_hz}-{oversampling}.wav");
            render(dir.path(), &from, &to, &["--oversampling", oversampling]);
            pairs.push(json!([dir.arg(&from), dir.arg(&to)]));
            names.push((rate_hz, to));
        }
    }
    let lags = python("alignment.py", &Value::Array(pairs));
    for (index, (rate_hz, name)) in names.iter().enumerate() {
        let lag = number(&lags, &format!("{index}.lag_frames"));
        let most = (10e-6 * f64::from(*rate_hz)).max(0.5);
        assert_near(&format!("{name}: frames late"), lag, 0.0, most);
        assert_near(
            &format!("{name}: sign"),
            number(&lags, &format!("{index}.sign")),
            1.0,
            0.0,
        );
        if index % 4 == 3 {
            // 2, 4 and 8 carry the same promise, so they lie on one another.
            for other in [index - 2, index - 1] {
                let other = number(&lags, &format!("{other}.lag_frames"));
                assert_near(
                    &format!("{name}: against less oversampling"),
                    other,
                    lag,
                    0.1,
                );
            }
        }
    }
}

#[test]
fn a_click_stays_in_its_frame() {
    let dir = TempDir::new();
    for rate_hz in [44_100, 48_000] {
        for (frame, sign) in [(0usize, 1.0), (5000, 1.0), (5001, -1.0), (9999, 1.0)] {
            let mut wave = Wave::silence(rate_hz, 1.0);
            wave.samples.truncate(10_000);
            wave.samples[frame] = (sign * LOW) as f32;
            wave.write(&dir.file("click.wav"));
            for oversampling in OVERSAMPLINGS {
                let more = ["--oversampling", oversampling, "--force"];
                render(dir.path(), "click.wav", "out.wav", &more);
                let out = Wave::read(&dir.file("out.wav")).0.samples;
                let top = (0..out.len()).max_by(|a, b| out[*a].abs().total_cmp(&out[*b].abs()));
                let what = format!("{rate_hz} Hz, oversampling {oversampling}");
                assert_eq!(top, Some(frame), "{what}: the click's place");
                assert_eq!(
                    f64::from(out[frame]).signum(),
                    sign,
                    "{what}: the click's sign"
                );
            }
        }
    }
}

#[test]
fn latency_is_one_number_for_each_rate() {
    let dir = TempDir::new();
    for rate_hz in RATES_HZ {
        Wave::programme(rate_hz, LOW, 0.1, 6).write(&dir.file("in.wav"));
        let latencies = OVERSAMPLINGS.map(|oversampling| {
            let more = ["--oversampling", oversampling, "--force"];
            let answer = render(dir.path(), "in.wav", "out.wav", &more);
            let latency = at(&answer, "latency_frames");
            latency
                .as_u64()
                .unwrap_or_else(|| panic!("{rate_hz} Hz: no whole number: {latency}"))
        });
        assert!(
            latencies.iter().all(|l| *l == latencies[0]),
            "{rate_hz} Hz: {latencies:?}"
        );
        if rate_hz == 48_000 {
            assert!(latencies[0] <= 64, "{} frames at 48 kHz", latencies[0]);
        }
    }
}

#[test]
fn oversampling_is_4_unless_asked_for() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.3, 0.2, 7).write(&dir.file("in.wav"));
    let plain = render(dir.path(), "in.wav", "plain.wav", &[]);
    assert_near("default", number(&plain, "oversampling"), 4.0, 0.0);
    let four = render(dir.path(), "in.wav", "four.wav", &["--oversampling", "4"]);
    assert_near("asked for", number(&four, "oversampling"), 4.0, 0.0);
    let read = |name: &str| Wave::read(&dir.file(name)).0;
    assert_eq!(read("plain.wav"), read("four.wav"));
    render(dir.path(), "in.wav", "two.wav", &["--oversampling", "2"]);
    assert_ne!(
        read("two.wav"),
        read("four.wav"),
        "another oversampling computes something else"
    );
}

#[test]
fn polarity_turned_at_the_send_is_turned_back_at_the_return() {
    // The preamp is not symmetric: what an inverted send gives must be what the mirrored programme
    // gives, mirrored back. And high up that is not what the programme itself gives.
    let dir = TempDir::new();
    let wave = Wave::programme(48_000, 0.7, 0.5, 8);
    wave.write(&dir.file("in.wav"));
    wave.times(-1.0).write(&dir.file("mirrored.wav"));
    let hot = ["--set", "pad.loss_db=28", "--set", "preamp.gain_db=28"];
    let inverted = [
        hot[0],
        hot[1],
        hot[2],
        hot[3],
        "--set",
        "send.polarity=inverted",
    ];
    render(dir.path(), "in.wav", "normal.wav", &hot);
    render(dir.path(), "in.wav", "inverted.wav", &inverted);
    render(dir.path(), "mirrored.wav", "mirrored-out.wav", &hot);
    let read = |name: &str| Wave::read(&dir.file(name)).0;
    let (normal, turned, mirrored) = (
        read("normal.wav"),
        read("inverted.wav"),
        read("mirrored-out.wav"),
    );
    assert_near(
        "mirrored back",
        turned.distance(&mirrored.times(-1.0)),
        0.0,
        1e-6,
    );
    assert!(
        normal.distance(&turned) > 1e-3,
        "an asymmetric preamp hears the difference"
    );
    let pairs = ["normal.wav", "inverted.wav"].map(|to| json!([dir.arg("in.wav"), dir.arg(to)]));
    let signs = python("alignment.py", &json!(pairs));
    assert_near("normal", number(&signs, "0.sign"), 1.0, 0.0);
    assert_near("inverted", number(&signs, "1.sign"), 1.0, 0.0);
}

#[test]
fn the_same_request_gives_the_same_samples() {
    let dir = TempDir::new();
    Wave::programme(44_100, 0.5, 0.3, 9).write(&dir.file("in.wav"));
    render(dir.path(), "in.wav", "one.wav", &[]);
    render(dir.path(), "in.wav", "two.wav", &[]);
    let read = |name: &str| Wave::read(&dir.file(name)).0;
    assert_eq!(read("one.wav"), read("two.wav"));
}
