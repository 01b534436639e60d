//! Renders against ngspice: the null of each golden clip, level and harmonics.
//!
//! A clip is the simulator's answer to the program's own deck, extrapolated to an endless number of steps
//! (`python/golden.py`). Both sides are compared from rest, so nothing of the start is left out; both
//! pass one filter that ends at 20 kHz, where the render's own filters begin.

use penstock_tests::check::at;
use penstock_tests::golden::{Clip, clips, folder, full_scale_volts};
use penstock_tests::tools::program;
use penstock_tests::{TempDir, json_in, list, number, python, text};
use serde_json::{Value, json};

/// Above this the output, were it linear, is called hot: the null is then shown, not judged.
const HOT_DBU: f64 = 35.0;
/// Harmonics below this, re fundamental, are not judged.
const LEAST_HARMONIC_DB: f64 = -100.0;
/// The clip that is made anew wherever the tests run.
const MADE_ANEW: &str = "nominal-1k-p4";

/// Renders the clips' signals at an oversampling and has each judged.
fn judged(clips: &[Clip], oversampling: &str) -> Vec<Value> {
    let dir = TempDir::new();
    let pair = |clip: &Clip| {
        let (bus, out) = (
            format!("{}.in.wav", clip.name()),
            format!("{}.wav", clip.name()),
        );
        clip.bus().write(&dir.file(&bus));
        let mut args = vec![
            "render".to_owned(),
            bus,
            out.clone(),
            "--oversampling".to_owned(),
            oversampling.to_owned(),
        ];
        for set in clip.sets() {
            args.extend(["--set".to_owned(), set]);
        }
        json_in(dir.path(), &args);
        json!({
            "name": clip.name(),
            "render": dir.arg(&out),
            "full_scale_volts": full_scale_volts(),
            "hz": clip.hz(),
        })
    };
    let pairs: Vec<Value> = clips.iter().map(pair).collect();
    let answer = python(
        "golden_nulls.py",
        &json!({ "folder": folder(), "pairs": pairs }),
    );
    answer.as_array().expect("a list, an entry a pair").clone()
}

/// The deepest null a clip must reach at 8x.
fn bound_db(clip: &Clip) -> f64 {
    match clip.name() {
        "nominal-tones-p4" => -90.0,
        "nominal-tones-p20" => -70.0,
        _ if clip.linear_dbu() <= HOT_DBU => -55.0,
        _ => f64::INFINITY,
    }
}

/// One row of the table that is printed.
fn line(clip: &Clip, judged: &Value) -> String {
    let harmonics = list(judged, "harmonics").iter().map(|harmonic| {
        let (clip_db, render_db) = (number(harmonic, "clip_db"), number(harmonic, "render_db"));
        format!("  {clip_db:7.2} {:+.4}", render_db - clip_db)
    });
    format!(
        "{:26} {:+5.0} dBu  null {:7.1} dB  level {:+.5} dB{}",
        clip.name(),
        clip.linear_dbu(),
        number(judged, "null_db"),
        number(judged, "level_db"),
        harmonics.collect::<String>()
    )
}

/// What is wrong with one render.
fn faults(clip: &Clip, judged: &Value) -> Vec<String> {
    let hot = clip.linear_dbu() > HOT_DBU;
    let mut faults = Vec::new();
    let (null_db, level_db) = (number(judged, "null_db"), number(judged, "level_db"));
    if null_db > bound_db(clip) {
        faults.push(format!(
            "{}: null {null_db:.1} dB, not {}",
            clip.name(),
            bound_db(clip)
        ));
    }
    if hot && level_db.abs() > 0.1 {
        faults.push(format!("{}: level off by {level_db:.3} dB", clip.name()));
    }
    let tolerance_db = if hot { 0.2 } else { 0.02 };
    for harmonic in list(judged, "harmonics") {
        let (clip_db, render_db) = (number(harmonic, "clip_db"), number(harmonic, "render_db"));
        if clip_db > LEAST_HARMONIC_DB && (render_db - clip_db).abs() > tolerance_db {
            faults.push(format!(
                "{}: H{} {render_db:.3} dB, ngspice {clip_db:.3} dB",
                clip.name(),
                at(harmonic, "order")
            ));
        }
    }
    faults
}

#[test]
fn every_clip_is_met_at_8x() {
    let clips = clips();
    assert!(clips.len() >= 30, "only {} clips", clips.len());
    let judged = judged(&clips, "8");
    println!(
        "clip, linear output, null, level; H2 to H5 of ngspice in dB and how far the render is off"
    );
    let mut wrong = Vec::new();
    for (clip, judged) in clips.iter().zip(&judged) {
        assert_eq!(clip.name(), text(judged, "name"));
        println!("{}", line(clip, judged));
        wrong.extend(faults(clip, judged));
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn the_nominal_tones_null_at_4x() {
    let clips: Vec<Clip> = clips()
        .into_iter()
        .filter(|clip| clip.name() == "nominal-tones-p4")
        .collect();
    let judged = judged(&clips, "4");
    println!("at 4x: {}", line(&clips[0], &judged[0]));
    let null_db = number(&judged[0], "null_db");
    assert!(null_db <= -75.0, "null {null_db:.1} dB");
}

#[test]
fn the_clips_are_of_todays_decks_and_can_be_made_again() {
    let request = json!({
        "do": "check",
        "folder": folder(),
        "program": program(),
        "clips": [MADE_ANEW],
    });
    let answer = python("golden.py", &request);
    let stale = list(&answer, "stale");
    assert!(
        stale.is_empty(),
        "to be made by cargo xtask golden: {stale:?}"
    );
    let null_db = number(&answer["null_db"], MADE_ANEW);
    println!("{MADE_ANEW} made anew: {null_db:.1} dB");
    assert!(null_db <= -120.0, "{MADE_ANEW}: {null_db:.1} dB");
}
