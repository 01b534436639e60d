//! Statistics of a programme at every point: against numpy and scipy on the signal itself at that point, and
//! against closed forms of bursts.

use penstock_dsp::chain::{AnalogBlock, Chain, Observer};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use penstock_tests::check::at;
use penstock_tests::levels::POINTS;
use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, assert_near, json_in, list, number, python, text};
use serde_json::{Value, json as value};
use std::f64::consts::PI;
use std::fs;
use std::path::Path;

/// Keeps what passes every point, channel by channel.
struct Tape {
    points: Vec<[Vec<f64>; 8]>,
}

impl Observer for Tape {
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        self.points[channel][0].extend_from_slice(samples);
    }
    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        block.each(|volts| {
            for (tape, volts) in self.points[channel][1..7].iter_mut().zip(volts.in_order()) {
                tape.push(volts);
            }
        });
    }
    fn back(&mut self, channel: usize, samples: &[f64]) {
        self.points[channel][7].extend_from_slice(samples);
    }
}

/// A recording as planes, converted by libsndfile.
fn planes(dir: &TempDir, recording: &Path) -> (Vec<Vec<f64>>, f64) {
    let wav = arg(&dir.file("in.wav"));
    let job = value!({ "from": arg(recording), "to": &wav, "format": "WAV", "subtype": "FLOAT" });
    let said = python(
        "audio.py",
        &value!({ "convert": [job], "describe": [&wav] }),
    );
    let (wave, _, _) = Wave::read(&dir.file("in.wav"));
    let channels = number(&said[0], "channels") as usize;
    let plane = |n: usize| {
        wave.samples
            .iter()
            .skip(n)
            .step_by(channels)
            .map(|s| f64::from(*s))
            .collect()
    };
    (
        (0..channels).map(plane).collect(),
        number(&said[0], "sample_rate_hz"),
    )
}

/// The path run on it here, every point into a file of its own; gives the latency.
fn run_path(
    dir: &TempDir,
    planes: &[Vec<f64>],
    rate_hz: f64,
    plan: &Plan,
    setting: Oversampling,
) -> usize {
    let rate = SampleRate::new(rate_hz).expect("a served rate");
    let mut chain = Chain::prepare(plan, rate, planes.len(), setting).expect("a pad");
    let late = chain.latency_frames();
    let mut tape = Tape {
        points: planes.iter().map(|_| Default::default()).collect(),
    };
    let mut planes: Vec<Vec<f64>> = planes.to_vec();
    planes
        .iter_mut()
        .for_each(|plane| plane.extend(vec![0.0; late]));
    let mut audio: Vec<&mut [f64]> = planes.iter_mut().map(Vec::as_mut_slice).collect();
    chain.process(&mut audio, &mut tape);
    for (channel, points) in tape.points.iter().enumerate() {
        for (name, samples) in POINTS.iter().zip(points) {
            let bytes: Vec<u8> = samples.iter().flat_map(|s| s.to_le_bytes()).collect();
            fs::write(dir.file(&format!("{name}.{channel}")), bytes)
                .expect("the folder can be written");
        }
    }
    late
}

fn judge(recording: &Path, number_of_setting: u32, sets: &[&str]) {
    let dir = TempDir::new();
    let (planes, rate_hz) = planes(&dir, recording);
    let oversampling = number_of_setting.to_string();
    let mut args = vec!["levels", "in.wav", "--oversampling", &oversampling];
    let mut plan = Plan::default();
    for set in sets {
        args.extend(["--set", set]);
        plan.assign(set).expect("a plan");
    }
    let answer = json_in(dir.path(), &args);
    let setting = Oversampling::from_number(number_of_setting).expect("a setting");
    let late = run_path(&dir, &planes, rate_hz, &plan, setting);
    let rate = SampleRate::new(rate_hz).expect("a served rate");
    let seconds = planes[0].len() as f64 / rate_hz;
    assert_near(
        "seconds",
        number(&answer, "statistics.seconds"),
        seconds,
        1e-9,
    );
    let file = |name: &str, channel: usize| arg(&dir.file(&format!("{name}.{channel}")));
    for (channel, side) in ["left", "right"].into_iter().enumerate().take(planes.len()) {
        let found = list(&answer["statistics"], side);
        let points: Vec<Value> = found
            .iter()
            .map(|point| {
                let name = text(point, "name");
                let (kind, volts) = match name {
                    "bus" => ("bus", plan.rig.send_full_scale_of(channel).peak().0),
                    "return" => ("back", plan.rig.return_full_scale_of(channel).peak().0),
                    _ => ("analog", 1.0),
                };
                let levels: Vec<f64> = list(point, "above").iter().map(|a| number(a, "level_dbu")).collect();
                value!({ "file": file(name, channel), "kind": kind, "volts": volts, "levels_dbu": levels })
            })
            .collect();
        let request = value!({
            "rate_hz": rate_hz,
            "factor": setting.factor(rate),
            "bus": file("bus", channel),
            "line_out": file("line_out", channel),
            "late_back": late,
            "points": points,
        });
        let wanted = python("levels_statistics.py", &request);
        for (got, want) in found.iter().zip(wanted.as_array().expect("a list")) {
            compare(&format!("{side} {}", text(got, "name")), got, want);
        }
    }
    judge_loudness(&dir, &answer, planes.len(), rate_hz, late);
}

/// Of all channels together, by pyloudnorm's filters.
fn judge_loudness(dir: &TempDir, answer: &Value, channels: usize, rate_hz: f64, late: usize) {
    let file = |name: &str, channel: usize| arg(&dir.file(&format!("{name}.{channel}")));
    let jobs: Vec<Value> = [("bus", 0), ("return", late)]
        .map(|(name, late)| {
            let files: Vec<String> = (0..channels).map(|n| file(name, n)).collect();
            value!({ "files": files, "late": late })
        })
        .to_vec();
    let wanted = python(
        "levels_statistics.py",
        &value!({ "rate_hz": rate_hz, "loudness": jobs }),
    );
    for (got, want) in list(answer, "statistics.loudness")
        .iter()
        .zip(wanted.as_array().expect("a list"))
    {
        for key in ["p10", "p50", "p95", "max"] {
            let what = format!("{} {key}", text(got, "name"));
            // Tech 3341's own tolerance.
            assert_near(
                &what,
                number(got, &format!("{key}_lufs")),
                number(want, key),
                0.1,
            );
        }
    }
}

fn compare(what: &str, got: &Value, want: &Value) {
    println!("{what}: {want}");
    assert_near(
        what,
        number(got, "peak_dbu"),
        number(want, "peak_dbu"),
        1e-6,
    );
    let true_peak = number(got, "true_peak_dbu") - number(want, "true_peak_dbu");
    // Tech 3341: +0.2, -0.4 dB.
    assert!(
        (-0.4..=0.2).contains(&true_peak),
        "{what}: true peak off by {true_peak} dB"
    );
    for key in ["p10_dbu", "p50_dbu", "p95_dbu"] {
        assert_near(
            &format!("{what} {key}"),
            number(got, key),
            number(want, key),
            0.01,
        );
    }
    assert_near(
        &format!("{what} max_dbu"),
        number(got, "max_dbu"),
        number(want, "max_dbu"),
        1e-3,
    );
    let levels = list(got, "above").iter().zip(list(want, "above_seconds"));
    for (above, seconds) in levels {
        let what = format!("{what} over {}", text(above, "ceiling"));
        let seconds = seconds.as_f64().expect("a number");
        assert_near(&what, number(above, "above_seconds"), seconds, 1e-9);
        let passages = list(above, "list");
        assert_eq!(passages.is_empty(), seconds == 0.0, "{what}");
        assert_eq!(number(above, "over_db") > 0.0, seconds > 0.0, "{what}");
        let long: f64 = passages
            .iter()
            .map(|passage| number(passage, "seconds"))
            .sum();
        assert!(
            long >= seconds - 1e-9,
            "{what}: passages of {long} s, samples of {seconds} s"
        );
    }
}

#[test]
fn numpy_finds_the_same_of_real_music_in_stereo() {
    judge(&recordings::loud_stereo(), 1, &["send.trim_db=3"]);
}

#[test]
fn and_of_a_guitar_at_twice_the_rate() {
    let sets = ["preamp.gain_db=52", "return.pad_db=10", "pad.loss_db=30"];
    judge(&recordings::guitar_mono(), 2, &sets);
}

/// Bursts of a full-scale sine at known times, with silence in which the circuit rests.
fn bursts(dir: &TempDir, starts: &[f64], long: f64, seconds: f64) {
    let wave = Wave::mono(48_000, seconds, |at| {
        let since = starts
            .iter()
            .map(|start| at - start)
            .find(|since| (0.0..long).contains(since));
        since.map_or(0.0, |since| 0.999 * (2.0 * PI * 997.0 * since).sin())
    });
    wave.write(&dir.file("bursts.wav"));
}

#[test]
fn passages_begin_when_the_bursts_do_at_every_point() {
    let dir = TempDir::new();
    // The first after 13 s and the last after 14 s of silence: the circuit rests for some of both.
    let starts = [13.0, 13.8, 15.0, 30.0];
    bursts(&dir, &starts, 0.4, 31.0);
    // At gains where a stage is blocked by a burst, it stays above its ceilings for longer.
    let sets = ["--set", "send.trim_db=3"];
    let args = [&["levels", "bursts.wav", "--oversampling", "2"][..], &sets].concat();
    let answer = json_in(dir.path(), &args);
    let mut judged = 0;
    for point in list(&answer, "statistics.left") {
        for above in list(point, "above") {
            // Where it is passed clearly, the first crests are enough.
            if number(above, "over_db") < 0.5 {
                continue;
            }
            let what = format!("{} over {}", text(point, "name"), text(above, "ceiling"));
            // The second begins within 0.5 s of the end of the first.
            assert_near(&what, number(above, "passages"), 3.0, 0.0);
            let passages = list(above, "list");
            for (passage, (start, long)) in
                passages.iter().zip([(13.0, 1.2), (15.0, 0.4), (30.0, 0.4)])
            {
                assert_near(&what, number(passage, "start_seconds"), start, 0.002);
                assert_near(&what, number(passage, "seconds"), long, 0.01);
            }
            judged += 1;
        }
    }
    assert!(judged >= 5, "{judged}");
    assert!(answer["statistics"]["right"].is_null());
}

#[test]
fn time_above_a_level_is_that_of_a_sine() {
    // Source: a sine of peak a is above c in magnitude for 2/pi acos(c/a) of the time.
    let dir = TempDir::new();
    bursts(&dir, &[1.0], 2.0, 4.0);
    for trim_db in [1.0, 6.0] {
        let set = format!("send.trim_db={trim_db}");
        let args = ["levels", "bursts.wav", "--oversampling", "1", "--set", &set];
        let answer = json_in(dir.path(), &args);
        let bus = at(&answer, "statistics.left.0");
        let clip = list(bus, "above")
            .iter()
            .find(|above| text(above, "ceiling") == "clip");
        let clip = clip.expect("converters clip");
        let share = 10_f64.powf(-trim_db / 20.0) / 0.999;
        let wanted = 2.0 * 2.0 / PI * share.acos();
        assert_near(&set, number(clip, "above_seconds"), wanted, 0.005);
        let over = trim_db + 20.0 * 0.999_f64.log10();
        assert_near(&set, number(clip, "over_db"), over, 0.01);
        // The same samples as the renderer counts.
        let rendered = json_in(
            dir.path(),
            &["render", "bursts.wav", "out.wav", "--force", "--set", &set],
        );
        let frames = number(&rendered, "clipped_send_frames");
        assert_near(&set, number(clip, "above_seconds"), frames / 48_000.0, 1e-9);
    }
}

#[test]
fn what_is_too_short_or_no_recording_has_no_percentiles() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.2, 2.9, 1).write(&dir.file("short.wav"));
    let answer = json_in(dir.path(), &["levels", "short.wav", "--oversampling", "1"]);
    let mic = at(&answer, "statistics.left.2");
    assert!(
        mic["p50_dbu"].is_null() && mic["peak_dbu"].is_number(),
        "{mic}"
    );
    assert!(answer["statistics"]["loudness"][0]["p50_lufs"].is_null());
    let sine = json_in(dir.path(), &["levels", "--level-dbfs", "-18"]);
    assert!(sine["statistics"].is_null() && sine["fail_over"].is_null());
    assert!(at(&sine, "ceilings.left.2")["thd"].is_null());
    assert!(at(&sine, "floors.right.2")["flat_dbu"].is_number());
}
