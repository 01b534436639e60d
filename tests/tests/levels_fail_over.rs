//! `penstock levels --fail-over`: exit codes, and a sentence that helps.

use penstock_tests::run::Outcome;
use penstock_tests::{TempDir, Wave, assert_near, number, refused, refused_in, run_in, text};
use serde_json::Value;

/// Quiet, but for half a second of a sine from 1.0 s on.
fn programme(dir: &TempDir, peak: f64) {
    let wave = Wave::mono(48_000, 3.0, |at| {
        let loud = (1.0..1.5).contains(&at);
        let level = if loud { peak } else { 0.01 * peak };
        level * (std::f64::consts::TAU * 1_000.0 * at).sin()
    });
    Wave::stereo(&wave.times(0.5), &wave).write(&dir.file("in.wav"));
}

fn over(dir: &TempDir, ceiling: &str, more: &[&str]) -> Outcome {
    let args = [
        "levels",
        "in.wav",
        "--oversampling",
        "2",
        "--fail-over",
        ceiling,
    ];
    run_in(dir.path(), &[&args[..], more].concat())
}

#[test]
fn quiet_programme_passes() {
    let dir = TempDir::new();
    programme(&dir, 0.02);
    for ceiling in ["0.1%", "1%", "3 %", "clip", "grid"] {
        let outcome = over(&dir, ceiling, &["--json"]);
        assert_eq!(outcome.status, 0, "{ceiling}: {}", outcome.stderr);
        let answer: Value = serde_json::from_str(&outcome.stdout).expect("JSON");
        assert_eq!(answer["fail_over"]["exceeded"], false, "{ceiling}");
        assert!(answer["fail_over"]["point"].is_null(), "{ceiling}");
    }
}

#[test]
fn loud_programme_fails_with_point_time_and_remedy() {
    let dir = TempDir::new();
    programme(&dir, 0.9);
    for (ceiling, more) in [
        ("0.1%", &[][..]),
        ("1%", &["--set", "preamp.gain_db=58"]),
        ("clip", &["--set", "send.trim_db=4"]),
    ] {
        let outcome = over(&dir, ceiling, &[more, &["--json"]].concat());
        assert_eq!(outcome.status, 3, "{ceiling}: {}", outcome.stderr);
        let answer: Value = serde_json::from_str(&outcome.stdout).expect("JSON, and nothing else");
        let verdict = &answer["fail_over"];
        assert_eq!(verdict["exceeded"], true);
        assert_eq!(text(verdict, "ceiling"), ceiling);
        assert_eq!(text(verdict, "channel"), "right");
        assert_near(ceiling, number(verdict, "first_seconds"), 1.0, 0.003);
        assert!(number(verdict, "over_db") > 0.0 && number(verdict, "above_seconds") > 0.0);
        let said = outcome.stderr.trim();
        assert_eq!(said.lines().count(), 1, "{said}");
        println!("{said}");
        let trim = number(verdict, "send_trim_db");
        let set = format!("send.trim_db={trim}");
        for needed in [
            text(verdict, "point"),
            "right",
            "0:01.00",
            "dB",
            ceiling,
            &set,
        ] {
            assert!(said.contains(needed), "no {needed}: {said}");
        }
        // What is said to help does, and half a decibel more does not.
        let helped = over(&dir, ceiling, &[more, &["--set", &set]].concat());
        assert_eq!(helped.status, 0, "{set}: {}", helped.stderr);
        let set = format!("send.trim_db={}", trim + 0.5);
        let too_much = over(&dir, ceiling, &[more, &["--set", &set]].concat());
        assert_eq!(too_much.status, 3, "{set}");
    }
}

#[test]
fn what_is_no_ceiling_is_refused() {
    let dir = TempDir::new();
    programme(&dir, 0.1);
    for ceiling in ["2%", "loud", "", "-1%"] {
        let args = ["levels", "in.wav", "--fail-over", ceiling];
        refused_in(dir.path(), &args, &["--fail-over"]);
    }
    let args = ["levels", "in.wav", "--fail-over", "2%"];
    refused_in(dir.path(), &args, &["2%", "0.1%", "1%", "3%", "clip"]);
    refused(
        &["levels", "--level-dbfs", "-6", "--fail-over", "1%"],
        &["file"],
    );
    let unclipped = ["--fail-over", "clip", "--set", "rig.converters_clip=false"];
    refused_in(
        dir.path(),
        &[&["levels", "in.wav"][..], &unclipped].concat(),
        &["rig.converters_clip"],
    );
    refused_in(
        dir.path(),
        &["levels", "in.wav", "--fail-over", "data-sheet"],
        &["data sheet"],
    );
}
