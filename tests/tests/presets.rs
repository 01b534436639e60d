//! Presets of the program: they leave the rig alone, come back about as loud as they went, and each sounds
//! different from every other.

use penstock::presets::{FACTORY, markdown};
use penstock_tests::readme::assert_block;
use penstock_tests::{assert_near, json, list, number, refused, text};
use serde_json::Value;

#[test]
fn the_readme_shows_the_table_of_presets() {
    assert_block("presets", &markdown());
}

#[test]
fn an_unknown_name_is_refused_with_those_there_are() {
    let args = ["levels", "--level-dbfs", "-20", "--preset", "no-such"];
    refused(&args, &["no-such", "bus-light", "parallel-send"]);
}

fn point<'a>(answer: &'a Value, name: &str) -> &'a Value {
    let points = list(answer, "points").iter();
    let mut found = points.filter(|point| text(point, "name") == name);
    found.next().expect("the point is there")
}

/// The rig of the plan stays, a key set after the preset holds, and the sound is that of the preset's keys.
#[test]
fn a_preset_is_its_keys_over_the_rig() {
    let rig = "rig.send.full_scale_dbu=18";
    let base = ["levels", "--level-dbfs", "-20", "--set", rig, "--set"];
    let asked = |more: &[&str]| json(&[&base[..], more].concat());
    let by_name = asked(&["return.trim_db=1", "--preset", "bus-light"]);
    let by_keys = asked(&["return.trim_db=1"]);
    assert_eq!(by_name, by_keys, "its keys are the defaults");
    let by_name = asked(&["return.trim_db=1", "--preset", "bus-medium"]);
    let by_keys = asked(&[
        "return.trim_db=1",
        "--set",
        "pad.loss_db=31",
        "--set",
        "preamp.gain_db=34",
        "--set",
        "return.pad_db=6",
    ]);
    assert_eq!(by_name, by_keys);
    // -20 dBFS of a converter whose full scale is +18 dBu, but for the pad's load.
    let line = number(point(&by_name, "line_out"), "dbu");
    assert_near("line_out", line, -2.0, 0.3);
}

/// Under a tone of -6 dBFS. Common practice, no source: 3 dB more or less of a harmonic that is there is
/// heard; under -90 dB it is not.
#[test]
fn each_comes_back_as_it_went_and_sounds_different_from_every_other() {
    let mut figures: Vec<[f64; 2]> = Vec::new();
    for preset in FACTORY {
        let quiet = json(&["levels", "--level-dbfs", "-40", "--preset", preset.id]);
        let back = number(point(&quiet, "return"), "dbfs");
        assert_near(preset.id, back, -40.0, 1.0);
        let args = ["levels", "--level-dbfs", "-6", "--distortion", "--preset"];
        let loud = json(&[&args[..], &[preset.id]].concat());
        let out = list(&loud, "distortion")
            .last()
            .expect("the preamp's output");
        let level = |key| number(out, key).max(-90.0);
        let now = [level("h2_db"), level("h3_db")];
        let thd = number(out, "thd_percent");
        println!(
            "{}: H2 {:.1} dB, H3 {:.1} dB, THD {thd:.2} %",
            preset.id, now[0], now[1]
        );
        for (other, then) in FACTORY.iter().zip(&figures) {
            let most = (now[0] - then[0]).abs().max((now[1] - then[1]).abs());
            assert!(most > 3.0, "{} and {}: {most:.1} dB", preset.id, other.id);
        }
        figures.push(now);
    }
    // What is called light, medium and strong is so.
    for three in [&figures[..3], &figures[3..6]] {
        let sum = |f: &[f64; 2]| 10.0 * (10f64.powf(f[0] / 10.0) + 10f64.powf(f[1] / 10.0)).log10();
        assert!(sum(&three[0]) + 3.0 < sum(&three[1]), "{three:?}");
        assert!(sum(&three[1]) + 3.0 < sum(&three[2]), "{three:?}");
    }
}
