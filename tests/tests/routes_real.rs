//! Three routes of equal total gain on real recordings, at equal loudness: the README's table.

use std::path::PathBuf;

use penstock_tests::readme::assert_block;
use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, assert_near, json_in, number, python, text};
use serde_json::{Value, json};

/// Loss of the pad, of the preamp's attenuator, and the preamp's gain, in dB: the sum is 0 in each.
/// The first lets V1 work, the second spares both tubes, the third lets V2 work with little feedback.
const ROUTES: [[i32; 3]; 3] = [[34, 0, 34], [52, 0, 52], [44, 20, 64]];

/// What is measured of one route.
struct Heard {
    trim_db: f64,
    h2_db: f64,
    h3_db: f64,
    bass_h3_db: f64,
    /// Noise at the return with the trim, below the recording's loudness.
    floor_db: f64,
}

fn sets([pad, attenuator, gain]: [i32; 3]) -> [String; 3] {
    [
        format!("pad.loss_db={pad}"),
        format!("preamp.attenuator_db={attenuator}"),
        format!("preamp.gain_db={gain}"),
    ]
}

/// What `compare` says of one route.
fn compared(dir: &TempDir, source: &str, route: [i32; 3]) -> Value {
    let [pad, attenuator, gain] = sets(route);
    let out = route.map(|number| number.to_string()).join("-");
    json_in(
        dir.path(),
        &[
            "compare",
            source,
            "--out",
            &out,
            "--set",
            &pad,
            "--set",
            &attenuator,
            "--vary",
            &gain,
        ],
    )
}

/// Third harmonic of a 40 Hz sine of a peak, by numpy, for each route.
fn bass_thirds(dir: &TempDir, peak: f64) -> Vec<f64> {
    Wave::sine(48_000, 40.0, peak, 2.5).write(&dir.file("bass.wav"));
    let files = ROUTES.map(|route| {
        let [pad, attenuator, gain] = sets(route);
        let to = format!(
            "bass-{}.wav",
            route.map(|number| number.to_string()).join("-")
        );
        json_in(
            dir.path(),
            &[
                "render",
                "bass.wav",
                &to,
                "--set",
                &pad,
                "--set",
                &attenuator,
                "--set",
                &gain,
            ],
        );
        dir.arg(&to)
    });
    let request = json!({ "files": files, "hz": 40, "settle_seconds": 1.4 });
    let measured = python("harmonics.py", &request);
    let thirds = (0..ROUTES.len()).map(|n| number(&measured, &format!("{n}.harmonics_db.1")));
    thirds.collect()
}

/// Noise of each route without programme, 20 Hz to 20 kHz by numpy, in dBFS.
fn floors_dbfs(dir: &TempDir) -> Vec<f64> {
    Wave::silence(48_000, 5.0).write(&dir.file("silence.wav"));
    let files = ROUTES.map(|route| {
        let name = route.map(|number| number.to_string()).join("-");
        let to = format!("floor-{name}.wav");
        let mut args = vec!["render", "silence.wav", &to, "--set", "preamp.noise=on"];
        let sets = sets(route);
        for set in &sets {
            args.extend(["--set", set]);
        }
        json_in(dir.path(), &args);
        dir.arg(&to)
    });
    let request = json!({ "files": files, "settle_seconds": 1.0 });
    let measured = python("noise.py", &request);
    (0..ROUTES.len())
        .map(|n| number(&measured, &n.to_string()))
        .collect()
}

/// Every route on one recording; its renders must be as loud as it is (pyloudnorm).
fn measure(source: &str) -> Vec<Heard> {
    let dir = TempDir::new();
    let answers = ROUTES.map(|route| compared(&dir, source, route));
    let mut files = vec![source.to_owned()];
    files.extend(answers.iter().map(|answer| {
        let file = PathBuf::from(text(answer, "settings.0.file"));
        arg(&dir.path().join(file))
    }));
    let loudness = python("loudness.py", &json!(files));
    let source_lufs = number(&loudness, "0");
    for (n, file) in files.iter().enumerate().skip(1) {
        let lufs = number(&loudness, &n.to_string());
        assert_near(&format!("{file}: LUFS"), lufs, source_lufs, 0.1);
    }
    let peak_dbfs = number(&answers[0], "sources.0.peak_dbfs");
    let bass = bass_thirds(&dir, 10f64.powf(peak_dbfs / 20.0));
    let floors = floors_dbfs(&dir);
    answers
        .iter()
        .zip(bass.into_iter().zip(floors))
        .map(|(answer, (bass_h3_db, floor_dbfs))| {
            let trim_db = number(answer, "settings.0.trim_db");
            Heard {
                trim_db,
                h2_db: number(answer, "settings.0.h2_db"),
                h3_db: number(answer, "settings.0.h3_db"),
                bass_h3_db,
                floor_db: floor_dbfs + trim_db - source_lufs,
            }
        })
        .collect()
}

/// Where each route must differ from the others: what the circuit's page says of the steps.
fn assert_differences(name: &str, heard: &[Heard]) {
    let [thick, clean, heavy] = heard else {
        panic!("{name}: not three routes");
    };
    for route in heard {
        // Each gain step is within 0.3 dB of its name; peaks are compressed little.
        assert_near(&format!("{name}: trim"), route.trim_db, thick.trim_db, 0.8);
    }
    let apart = |more: f64, less: f64, what: &str| {
        assert!(more > less + 6.0, "{name}, {what}: {more} and {less} dB");
    };
    apart(thick.h2_db, heavy.h2_db, "mid H2 of V1's route and of V2's");
    apart(
        heavy.h2_db,
        clean.h2_db,
        "mid H2 of V2's route and of the clean one",
    );
    apart(
        heavy.bass_h3_db,
        clean.bass_h3_db,
        "bass H3 with little feedback",
    );
    apart(
        heavy.bass_h3_db,
        thick.bass_h3_db,
        "bass H3 with little feedback",
    );
    // What a pad takes away, gain must make up, and the noise of the first tube with it.
    apart(clean.floor_db, thick.floor_db, "noise behind a larger pad");
    apart(
        heavy.floor_db,
        clean.floor_db,
        "noise behind pad and attenuator",
    );
}

/// To a tenth, without the sign of a negative nothing.
fn unsigned_zero(db: f64) -> f64 {
    (10.0 * db).round() / 10.0 + 0.0
}

#[test]
fn three_routes_differ_on_real_recordings() {
    let mut lines = vec![
        "| recording | pad | attenuator | preamp gain | trim | 1 kHz: H2 | 1 kHz: H3 | 40 Hz: H3 | noise |"
            .to_owned(),
        "|---|---|---|---|---|---|---|---|---|".to_owned(),
    ];
    let recordings = [
        ("hand drums", recordings::drums_stereo()),
        ("speech", recordings::speech()),
    ];
    for (name, path) in recordings {
        let heard = measure(&arg(&path));
        assert_differences(name, &heard);
        for ([pad, attenuator, gain], route) in ROUTES.iter().zip(&heard) {
            lines.push(format!(
                "| {name} | {pad} dB | {attenuator} dB | {gain} dB | {:+.1} dB | {:.1} dB | {:.1} dB \
                 | {:.1} dB | {:.1} dB |",
                unsigned_zero(route.trim_db), route.h2_db, route.h3_db, route.bass_h3_db, route.floor_db
            ));
        }
    }
    assert_block("real-routes", &lines.join("\n"));
}
