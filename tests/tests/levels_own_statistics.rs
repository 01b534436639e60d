//! Statistics of a recording with an own preamplifier are the unit's.
//!
//! Sources: voltage dividers by hand; how long a sine is above a level, and the RMS of a sine whose crests are
//! cut off, in closed form (its integral up to the angle at which it is cut); the loudness of what is rendered.

use penstock_dsp::chain::{Chain, Point};
use penstock_dsp::diagram::{Limit, LimitKind};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::statistics::StatisticsMeter;
use penstock_dsp::units::{Dbu, SampleRate};
use penstock_tests::levels::POINTS;
use penstock_tests::run::Outcome;
use penstock_tests::{TempDir, Wave, assert_near, json_in, list, number, run_in, text};
use serde_json::Value;
use std::f64::consts::{FRAC_2_PI, FRAC_PI_2, TAU};
use std::fs;

/// 2.4 kohm behind a U of twice 6.9 kohm and 150 ohm; 50 ohm drive it.
const RIG: [&str; 4] = [
    "rig.preamp.kind=own",
    "rig.preamp.in_ohms=2400",
    "pad.network=U",
    "pad.resistors_ohms=6900,150",
];
const HZ: f64 = 997.0;
/// What only our circuit has.
const INSIDE: [&str; 3] = ["transformer_in", "grid_1", "grid_2"];

fn db(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Sines at bus, line output, terminals and output in dBu, of a bus peak and a gain, by the dividers.
fn by_hand(peak: f64, gain_db: f64) -> [(&'static str, f64); 4] {
    let shunt = 150.0 * 2_400.0 / 2_550.0;
    let into = 2.0 * 6_900.0 + shunt;
    let bus = 22.0 + db(peak);
    let line = bus + db(into / (into + 50.0));
    let mic = line + db(shunt / into);
    [
        ("bus", bus),
        ("line_out", line),
        ("mic_in", mic),
        ("preamp_out", mic + gain_db),
    ]
}

fn args<'a>(sets: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    let mut args = vec!["levels", "in.wav", "--oversampling", "2"];
    args.extend_from_slice(more);
    for set in RIG.iter().chain(sets) {
        args.extend(["--set", set]);
    }
    args
}

fn at<'a>(answer: &'a Value, side: &str, name: &str) -> &'a Value {
    let points = list(&answer["statistics"], side);
    let found = points.iter().find(|point| text(point, "name") == name);
    found.expect("every point")
}

/// Quiet, but for half a second of a sine from 1.0 s on.
fn passage(dir: &TempDir, peak: f64) {
    let wave = Wave::mono(48_000, 4.0, |at| {
        let loud = (1.0..1.5).contains(&at);
        let level = if loud { peak } else { 0.01 * peak };
        level * (TAU * HZ * (at - 1.0)).sin()
    });
    wave.write(&dir.file("in.wav"));
}

#[test]
fn a_steady_sine_stands_where_dividers_and_gain_put_it() {
    let dir = TempDir::new();
    Wave::sine(48_000, HZ, 0.25, 5.0).write(&dir.file("in.wav"));
    // 70 dB: what is heard in the unit's place is far beyond its limits.
    for (gain, gain_db) in [("preamp.gain_db=50", 50.0), ("preamp.gain_db=70", 70.0)] {
        let sets = [gain, "rig.converters_clip=false", "return.trim_db=-4"];
        let answer = json_in(dir.path(), &args(&sets, &[]));
        let hand = by_hand(0.25, gain_db);
        // The return's 10 kohm have no pad before them.
        let back = ("return", hand[3].1 - 4.0);
        for (name, want) in hand.into_iter().chain([back]) {
            let point = at(&answer, "left", name);
            for key in ["peak_dbu", "true_peak_dbu"] {
                assert_near(
                    &format!("{gain} {name} {key}"),
                    number(point, key),
                    want,
                    0.01,
                );
            }
            for key in ["p10_dbu", "p50_dbu", "p95_dbu", "max_dbu"] {
                assert_near(
                    &format!("{gain} {name} {key}"),
                    number(point, key),
                    want,
                    0.015,
                );
            }
        }
        let back = at(&answer, "left", "return");
        assert_near("dBFS", number(back, "peak_dbfs"), hand[3].1 - 26.0, 0.01);
        assert_near("dBFS", number(back, "p50_dbfs"), hand[3].1 - 26.0, 0.015);
    }
}

#[test]
fn a_loud_passage_is_above_the_data_sheet_for_as_long_as_its_crests_are() {
    let dir = TempDir::new();
    passage(&dir, 0.5);
    let limits = ["rig.preamp.max_in_dbu=-26", "rig.preamp.max_out_dbu=21"];
    let sets = [&["preamp.gain_db=50"][..], &limits].concat();
    let outcome = run_in(
        dir.path(),
        &args(&sets, &["--json", "--fail-over", "data-sheet"]),
    );
    assert_eq!(outcome.status, 3, "{}", outcome.stderr);
    let answer: Value = serde_json::from_str(&outcome.stdout).expect("JSON");
    let [.., (_, mic), (_, out)] = by_hand(0.5, 50.0);
    for (name, over) in [("mic_in", mic + 26.0), ("preamp_out", out - 21.0)] {
        let above = &list(at(&answer, "left", name), "above");
        let above = above.iter().find(|a| text(a, "ceiling") == "data-sheet");
        let above = above.expect("a limit");
        let share = 1.0 - FRAC_2_PI * 10_f64.powf(-over / 20.0).asin();
        assert_near(name, number(above, "over_db"), over, 0.01);
        assert_near(name, number(above, "above_seconds"), 0.5 * share, 0.001);
        assert_near(name, number(above, "first_seconds"), 1.0, 0.000_3);
        assert_eq!(number(above, "passages"), 1.0, "{name}");
    }
    // The output is passed by more, and so first; all is well once the trim takes that off.
    let verdict = &answer["fail_over"];
    assert_eq!(text(verdict, "point"), "preamp_out");
    assert!(outcome.stderr.contains("preamp_out") && outcome.stderr.contains("mic_in"));
    let trim = number(verdict, "send_trim_db");
    let rest = out - 21.0 + trim;
    assert!((-0.25..=0.0).contains(&rest), "{trim}: {rest}");
}

/// The circuit that is heard has other gain steps: what it does against the limit is not what the unit does.
#[test]
fn the_unit_is_judged_and_not_what_is_heard_for_it() {
    let dir = TempDir::new();
    passage(&dir, 0.5);
    let fails = |sets: &[&str]| -> Outcome {
        run_in(dir.path(), &args(sets, &["--fail-over", "data-sheet"]))
    };
    for (gain_db, gain, heard, limit, limit_db, code) in [
        (
            50.0,
            "preamp.gain_db=50",
            "preamp.gain_db=52",
            "rig.preamp.max_out_dbu=26.9",
            26.9,
            0,
        ),
        (
            48.5,
            "preamp.gain_db=48.5",
            "preamp.gain_db=46",
            "rig.preamp.max_out_dbu=23.2",
            23.2,
            3,
        ),
    ] {
        let passes = by_hand(0.5, gain_db)[3].1 > limit_db;
        assert_eq!(passes, code == 3, "{gain}");
        let outcome = fails(&[gain, limit]);
        assert_eq!(outcome.status, code, "{gain}: {}", outcome.stderr);
        // Our circuit itself at that setting is on the other side of the limit.
        let ours = ["rig.preamp.kind=model", heard, "rig.converters_clip=false"];
        let answer = json_in(dir.path(), &args(&ours, &[]));
        let peak = number(at(&answer, "left", "preamp_out"), "peak_dbu");
        assert_eq!(peak > limit_db, code == 0, "{heard}: {peak}");
    }
}

/// Each channel's converter has its own full scale, and gives nothing beyond it.
#[test]
fn the_return_clips_by_channel() {
    let dir = TempDir::new();
    let sine = Wave::sine(48_000, HZ, 0.5, 5.0);
    Wave::stereo(&sine, &sine).write(&dir.file("in.wav"));
    let sets = [
        "preamp.gain_db=50",
        "rig.return.full_scale_dbu=22",
        "rig.return.right_db=6",
        "return.trim_db=-3",
    ];
    let answer = json_in(dir.path(), &args(&sets, &[]));
    let out = by_hand(0.5, 50.0)[3].1;
    // Cut off at the angle where the crest passes full scale; RMS re a full-scale sine.
    let crest = 10_f64.powf((out - 22.0) / 20.0);
    let cut = (1.0 / crest).asin();
    let below = 0.5 * crest * crest * (cut - cut.sin() * cut.cos());
    let square = (below + FRAC_PI_2 - cut) / FRAC_PI_2;
    let cut_off = db((2.0 * square).sqrt()) - 3.0;
    let right = out - 28.0 - 3.0;
    for (side, peak, rms) in [("left", -3.0, cut_off), ("right", right, right)] {
        let back = at(&answer, side, "return");
        assert_near(side, number(back, "peak_dbfs"), peak, 0.01);
        assert_near(side, number(back, "p50_dbfs"), rms, 0.015);
        // The table of levels says the same.
        let level = &list(&answer["channels"], side)[7];
        assert_near(side, number(level, "dbfs"), rms, 0.01);
        let full_scale = if side == "left" { 22.0 } else { 28.0 };
        let peak_dbu = db(number(level, "volts_peak") / (1.2_f64).sqrt());
        assert_near(side, peak_dbu - full_scale, peak, 0.01);
        let sent = at(&answer, side, "preamp_out");
        assert_near(side, number(sent, "peak_dbu"), out, 0.01);
    }
}

/// A burst begins at the same time at every point, the return too, whatever the filters delay.
#[test]
fn every_point_is_on_the_recordings_time() {
    // The circuit rests before the second burst: no point may lose that time.
    for (rate_hz, setting) in [
        (48_000.0, Oversampling::One),
        (48_000.0, Oversampling::Four),
        (96_000.0, Oversampling::Four),
    ] {
        let mut plan = Plan::default();
        for set in RIG.iter().chain(&["preamp.gain_db=45"]) {
            plan.assign(set).expect("a plan");
        }
        let rate = SampleRate::new(rate_hz).expect("a served rate");
        let starts = [0.5, 14.5];
        let sample = |n: usize| {
            let since = starts.map(|start| n as f64 / rate_hz - start);
            let inside = since.iter().find(|since| (0.0..0.2).contains(*since));
            inside.map_or(0.0, |since| 0.5 * (TAU * HZ * since).sin())
        };
        // Half of each point's own crest is passed a twelfth of a period after the beginning.
        let hand = by_hand(0.5, 45.0);
        let half = |name: &str| {
            let name = if name == "return" { "preamp_out" } else { name };
            let level = hand.iter().find(|(known, _)| *known == name)?.1;
            let (kind, level) = (LimitKind::DataSheet, Dbu(level - db(2.0)));
            Some(Limit { kind, level })
        };
        let limits: [Vec<Limit>; 8] = POINTS.map(|name| half(name).into_iter().collect());
        let limits = [limits.clone(), limits];
        let mut chain = Chain::prepare(&plan, rate, 1, setting).expect("a pad");
        let mut meter = StatisticsMeter::prepare(&plan, rate, 1, setting, &limits);
        let frames = (14.8 * rate_hz) as usize;
        let mut audio: Vec<f64> = (0..frames).map(sample).collect();
        chain.process(&mut [&mut audio], &mut meter);
        let found = meter.read();
        for (_, point) in found.points().filter(|(_, point)| point.is_there()) {
            let passages = &point.above[0].kept;
            assert_eq!(passages.len(), 2, "{} at {rate_hz}", point.point.name());
            for (passage, start) in passages.iter().zip(starts) {
                let want = start + 1.0 / (12.0 * HZ);
                let what = format!("{} at {rate_hz} {setting:?}", point.point.name());
                assert_near(&what, passage.start_seconds, want, 1.0 / rate_hz);
            }
        }
        let there = found.points().filter(|(_, point)| point.is_there()).count();
        assert_eq!(there, Point::ALL.len() - INSIDE.len());
    }
}

#[test]
fn there_are_no_figures_of_what_is_not_there() {
    let dir = TempDir::new();
    passage(&dir, 0.5);
    let sets = ["preamp.gain_db=50", "rig.preamp.max_out_dbu=21"];
    let files = ["--csv", "out.csv", "--html", "out.html"];
    let answer = json_in(dir.path(), &args(&sets, &files));
    let said = run_in(dir.path(), &args(&sets, &["--meter", "vu"]));
    let csv = fs::read_to_string(dir.file("out.csv")).expect("a table");
    let table = csv
        .split("\r\n\r\n")
        .find(|table| table.starts_with("statistics,"));
    let table = table.expect("statistics");
    let page = fs::read_to_string(dir.file("out.html")).expect("a page");
    for (name, label) in INSIDE
        .into_iter()
        .zip(["Transformer in", "Grid 1", "Grid 2"])
    {
        let point = at(&answer, "left", name);
        for (key, value) in point.as_object().expect("a point") {
            let empty = value.is_null() || value.as_array().is_some_and(Vec::is_empty);
            assert!(empty || key == "name", "{name} {key}: {value}");
        }
        let row = table.lines().find(|row| row.starts_with(name));
        let row = row.expect("a row").trim_start_matches(name);
        assert!(row.starts_with(",left,"), "{row}");
        assert_eq!(row.trim_start_matches(",left").trim_matches(','), "");
        let dashes = format!("{label}, dBu</th>{}</tr>", "<td>–</td>".repeat(6));
        assert!(page.contains(&dashes), "no {dashes}");
        assert!(!said.stdout.contains(name), "{}", said.stdout);
    }
    assert!(!said.stdout.contains("NaN") && said.stdout.contains("over data-sheet"));
    // Silence has no level, but its points are there.
    Wave::silence(48_000, 1.0).write(&dir.file("in.wav"));
    let silent = run_in(dir.path(), &args(&sets, &[]));
    let statistics = silent.stdout.split("Statistics").nth(1);
    let statistics = statistics.expect("statistics");
    for name in ["bus", "mic_in", "preamp_out"] {
        let row = |line: &str| line.starts_with(name) && line.contains("-inf");
        assert!(statistics.lines().any(row), "no {name}: {statistics}");
    }
}

/// Nobody hears the unit: loudness is of what is heard.
#[test]
fn loudness_is_that_of_what_is_rendered() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.9, 6.0, 7).write(&dir.file("in.wav"));
    let sets = ["preamp.gain_db=52.5"];
    let answer = json_in(dir.path(), &args(&sets, &[]));
    let mut render = args(&sets, &[]);
    render[0] = "render";
    render.insert(2, "out.wav");
    assert_eq!(run_in(dir.path(), &render).status, 0);
    fs::rename(dir.file("out.wav"), dir.file("in.wav")).expect("the folder can be written");
    let heard = json_in(dir.path(), &args(&sets, &[]));
    let most = |answer: &Value, n: usize| {
        let place = &list(&answer["statistics"], "loudness")[n];
        ["p10_lufs", "p50_lufs", "max_lufs"].map(|key| number(place, key))
    };
    for (got, want) in most(&answer, 1).into_iter().zip(most(&heard, 0)) {
        assert_near("LUFS", got, want, 0.02);
    }
}
