//! Routes of equal total gain sound different: the README's table, made here.

use penstock_tests::readme::assert_block;
use penstock_tests::{TempDir, Wave, json_in, number, python};
use serde_json::json;

/// Loss of the pad, of the preamp's attenuator, and the preamp's gain, in dB: the sum is 0 in each.
const ROUTES: [[i32; 3]; 5] = [
    [28, 0, 28],
    [34, 0, 34],
    [40, 0, 40],
    [52, 0, 52],
    [26, 20, 46],
];

/// A 1 kHz sine at -6 dBFS; with the default +22 dBu full scale, +16 dBu on the line.
const PEAK: f64 = 0.501_187_233_627_272_3;

/// What is measured of one route.
struct Heard {
    fundamental_dbfs: f64,
    h2_db: f64,
    h3_db: f64,
    thd_percent: f64,
}

/// Renders the tone along every route and measures it with numpy.
fn measure() -> Vec<Heard> {
    let dir = TempDir::new();
    Wave::sine(48_000, 1000.0, PEAK, 2.0).write(&dir.file("tone.wav"));
    let mut files = Vec::new();
    for [pad, attenuator, gain] in ROUTES {
        let to = format!("{pad}-{attenuator}-{gain}.wav");
        let sets = [
            format!("pad.loss_db={pad}"),
            format!("preamp.attenuator_db={attenuator}"),
            format!("preamp.gain_db={gain}"),
            "pad.series=ideal".to_owned(),
        ];
        let mut args = vec!["render", "tone.wav", &to];
        for set in &sets {
            args.extend(["--set", set]);
        }
        json_in(dir.path(), &args);
        files.push(dir.arg(&to));
    }
    let request = json!({ "files": files, "hz": 1000, "settle_seconds": 0.9 });
    let measured = python("harmonics.py", &request);
    let heard = measured.as_array().expect("one for each file").iter();
    heard
        .map(|tone| Heard {
            fundamental_dbfs: number(tone, "fundamental_dbfs"),
            h2_db: number(tone, "harmonics_db.0"),
            h3_db: number(tone, "harmonics_db.1"),
            thd_percent: number(tone, "thd_percent"),
        })
        .collect()
}

/// The table as it belongs into the README, between its marks.
fn markdown(heard: &[Heard]) -> String {
    let mut lines = vec![
        "| pad | attenuator | preamp gain | out of the return | H2 | H3 | THD |".to_owned(),
        "|---|---|---|---|---|---|---|".to_owned(),
    ];
    for ([pad, attenuator, gain], tone) in ROUTES.iter().zip(heard) {
        lines.push(format!(
            "| {pad} dB | {attenuator} dB | {gain} dB | {:.1} dBFS | {:.1} dB | {:.1} dB | {:.2} % |",
            tone.fundamental_dbfs, tone.h2_db, tone.h3_db, tone.thd_percent
        ));
    }
    lines.join("\n")
}

#[test]
fn equal_total_gain_and_different_harmonics() {
    let heard = measure();
    let level = heard[0].fundamental_dbfs;
    for (route, tone) in ROUTES.iter().zip(&heard) {
        // Each gain step is within 0.3 dB of its name, and compression at this level is less.
        let off = tone.fundamental_dbfs - level;
        assert!(
            off.abs() < 0.8,
            "{route:?} is {off:.2} dB from {:?}",
            ROUTES[0]
        );
    }
    for (first, second) in [(0, 2), (2, 3), (0, 3)] {
        let apart = (heard[first].h2_db - heard[second].h2_db).abs();
        let (one, other) = (ROUTES[first], ROUTES[second]);
        assert!(
            apart > 3.0,
            "H2 of {one:?} and of {other:?} are only {apart:.2} dB apart"
        );
    }

    let table = markdown(&heard);
    assert_block("routes", &table);
}
