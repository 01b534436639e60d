//! Alignment by a measured level: set it, play the tone, read the same number back at that point.
//!
//! "Outside" here is the person with a meter: what was read goes in, the same must come out of the whole
//! path, within the 0.1 dB to which people set levels. Voltage dividers are worked out in this file.

use penstock_tests::{TempDir, assert_near, json_in, keys, number, refused_in, run_in, text};
use serde_json::Value;

/// To which levels are set.
const SET_DB: f64 = 0.1;
const SIDES: [&str; 2] = ["left", "right"];

/// The tone played into a plan: the level of one channel at a point.
fn played(dir: &TempDir, sets: &[&str]) -> Value {
    let mut args = vec!["levels", "tone.wav"];
    for set in sets {
        args.extend(["--set", set]);
    }
    json_in(dir.path(), &args)
}

fn at(levels: &Value, side: &str, point: &str, key: &str) -> f64 {
    let points = levels["channels"][side].as_array().expect(side);
    let named = points.iter().find(|one| text(one, "name") == point);
    number(named.expect(point), key)
}

fn tone(dir: &TempDir, extra: &[&str]) -> Value {
    // Ten seconds: the two fades of 50 ms then take less than 0.03 dB of the RMS.
    let mut args = vec!["tone", "tone.wav", "--seconds", "10", "--force"];
    args.extend(extra);
    json_in(dir.path(), &args)
}

/// What the pad in use shows the send, as the program states it.
fn pad_ohms(dir: &TempDir) -> f64 {
    number(&json_in(dir.path(), &["pad"])["as_built"], "in_ohms")
}

#[test]
fn what_a_meter_reads_at_the_send_is_read_there_again() {
    let dir = TempDir::new();
    tone(&dir, &[]);
    let pad_ohms = pad_ohms(&dir);
    // A meter that loads like the pad reads what stands at the pad's input.
    for (left_dbu, right_dbu) in [(4.0, 4.0), (4.0, 3.3), (-2.5, -1.9), (6.1, 8.4)] {
        let left = format!("rig.send.reading=-18 reads {left_dbu} dBu into {pad_ohms}");
        let right = format!("rig.send.right_reading=-18 reads {right_dbu} dBu into {pad_ohms}");
        let levels = played(&dir, &[&left, &right]);
        for (side, wanted) in SIDES.into_iter().zip([left_dbu, right_dbu]) {
            assert_near(&left, at(&levels, side, "line_out", "dbu"), wanted, SET_DB);
            assert_near(&left, at(&levels, side, "bus", "dbfs"), -18.0, SET_DB);
        }
    }
}

#[test]
fn a_meter_of_600_ohm_and_one_that_does_not_load_agree_with_the_divider() {
    let dir = TempDir::new();
    tone(&dir, &[]);
    let (pad_ohms, source_ohms) = (pad_ohms(&dir), 50.0);
    // Voltage divider: unloaded = reading (Z + R) / Z; at the pad = unloaded P / (P + R).
    let divided = |ohms: f64| 20.0 * (ohms / (ohms + source_ohms)).log10();
    let at_pad = divided(pad_ohms);
    for (reading, unloaded_dbu) in [
        ("-18 reads +3.4 dBu into 600", 3.4 - divided(600.0)),
        ("-18 reads +4 dBu", 4.0),
        // 0 dBu is sqrt(0.6) V (IEC 60268-17 gives 0.775 V), 0 dBV 1 V.
        ("-18 reads 1.1 V", 20.0 * (1.1 / 0.6f64.sqrt()).log10()),
        (
            "-20 reads -2 dBV into 10k",
            2.0 - 2.0 - 10.0 * 0.6f64.log10() - divided(10e3),
        ),
    ] {
        let set = format!("rig.send.reading={reading}");
        let levels = played(&dir, &[&set]);
        for side in SIDES {
            assert_near(
                reading,
                at(&levels, side, "line_out", "dbu"),
                unloaded_dbu + at_pad,
                SET_DB,
            );
        }
    }
    // The program says beforehand what such a meter will read of its tone.
    let said = tone(
        &dir,
        &["--set", "rig.send.reading=-18 reads +3.4 dBu into 600"],
    );
    keys(
        &said,
        "frames channels sample_rate_hz tone_hz level_dbfs fade_seconds interrupted_left reads",
    );
    for side in SIDES {
        assert_near(
            "said",
            number(&said["reads"][side], "into_600_ohms_dbu"),
            3.4,
            0.001,
        );
        assert_near(
            "said",
            number(&said["reads"][side], "into_pad_dbu"),
            3.4 - divided(600.0) + at_pad,
            0.001,
        );
    }
}

#[test]
fn what_stands_at_the_return_reads_there_what_it_was_set_to() {
    let dir = TempDir::new();
    tone(&dir, &[]);
    let unequal = "rig.send.right_db=-0.7";
    let before = played(&dir, &[unequal]);
    let stands = SIDES.map(|side| at(&before, side, "preamp_out", "dbu"));
    assert_near("right stands lower", stands[1] - stands[0], -0.7, SET_DB);
    for (left_dbfs, right_dbfs) in [(-18.0, -18.0), (-20.0, -19.2), (-14.3, -16.0)] {
        let left = format!("rig.return.reading={left_dbfs} reads {} dBu", stands[0]);
        let right = format!(
            "rig.return.right_reading={right_dbfs} reads {} dBu",
            stands[1]
        );
        let levels = played(&dir, &[unequal, &left, &right]);
        for (side, wanted) in SIDES.into_iter().zip([left_dbfs, right_dbfs]) {
            assert_near(&left, at(&levels, side, "return", "dbfs"), wanted, SET_DB);
        }
    }
    // From a generator of 600 ohm the input of 10 kohm divides.
    let generator_dbu = stands[0] - 20.0 * (10e3f64 / 10.6e3).log10();
    let from = format!("rig.return.reading=-18 reads {generator_dbu} dBu from 600");
    let levels = played(&dir, &[unequal, &from]);
    assert_near(&from, at(&levels, "left", "return", "dbfs"), -18.0, SET_DB);
}

#[test]
fn send_and_return_are_set_apart() {
    let dir = TempDir::new();
    tone(&dir, &[]);
    let plain = played(&dir, &[]);
    let sets = [
        ("rig.send.reading=-18 reads +5 dBu", 1.0, 1.0, "line_out"),
        (
            "rig.send.right_reading=-18 reads +5 dBu",
            0.0,
            1.0,
            "line_out",
        ),
        ("rig.return.reading=-18 reads +5 dBu", -1.0, -1.0, "return"),
        (
            "rig.return.right_reading=-18 reads +5 dBu",
            0.0,
            -1.0,
            "return",
        ),
    ];
    for (set, left_db, right_db, point) in sets {
        let levels = played(&dir, &[set]);
        for (side, wanted) in SIDES.into_iter().zip([left_db, right_db]) {
            let moved = at(&levels, side, point, "dbu") - at(&plain, side, point, "dbu");
            let moved = if point == "return" {
                at(&levels, side, point, "dbfs") - at(&plain, side, point, "dbfs")
            } else {
                moved
            };
            // The right channel's offset follows the left's, unless it has its own reading.
            assert_near(&format!("{set}: {side}"), moved, wanted, SET_DB);
        }
    }
}

#[test]
fn a_mismatch_is_shown_in_text_and_json() {
    let dir = TempDir::new();
    let mut args = vec!["levels", "--level-dbfs", "-18"];
    let alike = run_in(dir.path(), &args);
    assert!(
        !alike.stdout.contains("aligned differently"),
        "{}",
        alike.stdout
    );
    args.extend([
        "--set",
        "rig.send.full_scale_dbu=24",
        "--set",
        "rig.return.right_db=0.5",
    ]);
    let outcome = run_in(dir.path(), &args);
    // 24 - 22 dB, less 10 kohm loading 50 ohm (0.04 dB), on -18; right another 0.5 lower.
    for words in [
        "aligned differently",
        "-16.0 dBFS left, -16.5 right",
        "Right is not left",
    ] {
        assert!(
            outcome.stdout.contains(words),
            "{words}: {}",
            outcome.stdout
        );
    }
    let alignment = &json_in(dir.path(), &args)["alignment"];
    assert_near(
        "left",
        number(&alignment["send_over_return_db"], "left"),
        2.0,
        1e-9,
    );
    assert_near(
        "right",
        number(&alignment["send_over_return_db"], "right"),
        1.5,
        1e-9,
    );
    let cable_db = 2.0 + 20.0 * (10_000.0f64 / 10_050.0).log10();
    assert_near(
        "cable",
        number(&alignment["through_a_cable_db"], "left"),
        cable_db,
        1e-9,
    );
}

#[test]
fn readings_that_cannot_be_are_refused_with_the_nearest() {
    let dir = TempDir::new();
    for (set, words) in [
        ("rig.send.reading=-18 reads 4", "dBu, dBV, V or mV"),
        ("rig.send.reading=-18 reads +4 dBu from 600", "into 600"),
        ("rig.send.reading=-18 reads +20 dBu", "+12 dBu"),
        ("rig.return.reading=-70 reads +4 dBu", "-60 reads +4 dBu"),
        ("rig.return.right_reading=3 reads +4 dBu", "0 reads +4 dBu"),
    ] {
        refused_in(
            dir.path(),
            &["levels", "--level-dbfs", "-18", "--set", set],
            &[words],
        );
    }
}
