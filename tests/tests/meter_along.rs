//! `penstock levels --meter`: what meters on the desk would read, each on its own scale.
//!
//! Sources: 0 VU = +4 dBu (IEC 60268-17); Type I: 0 dB = +6 dBu, Type IIa: mark 4 = 0 dBu, 4 dB a mark
//! (IEC 60268-10); dBFS by AES17.

use penstock_tests::{TempDir, Wave, assert_near, json, json_in, list, number, refused, text};
use serde_json::Value;

/// The left channel's readings of a call: name, reading, unit.
fn readings(answer: &Value) -> Vec<(String, f64, String)> {
    let points = list(answer, "meter.left.points");
    let one = |point: &Value| {
        (
            text(point, "name").to_owned(),
            number(point, "reading"),
            text(point, "unit").to_owned(),
        )
    };
    points.iter().map(one).collect()
}

/// A tone of -18 dBFS through converters of +22 dBu is +4 dBu at bus and, less the pad's loading of 50 ohm,
/// at the line: every meter says so in its own unit.
#[test]
fn an_alignment_tone_reads_what_the_standards_say() {
    for (meter, unit, bus, allowed) in [
        ("vu", "VU", 0.0, 0.02),
        ("ppm1", "dB", -2.0, 0.02),
        ("ppm2a", "PPM", 5.0, 0.005),
        ("rms", "dBFS", -18.0, 0.01),
        ("peak", "dBFS", -18.0, 0.01),
        ("true-peak", "dBTP", -18.0, 0.03),
    ] {
        let answer = json(&["levels", "--level-dbfs", "-18", "--meter", meter]);
        assert_eq!(text(&answer, "meter.of"), "steady");
        let readings = readings(&answer);
        assert_eq!(readings.len(), 8);
        let (name, reading, got_unit) = &readings[0];
        println!("{meter}: {reading:.3} {got_unit}");
        assert_eq!((name.as_str(), got_unit.as_str()), ("bus", unit));
        assert_near(meter, *reading, bus, allowed);
        // What the same call says of the line's level, on the meter's scale.
        let line = number(&answer, "points.1.dbu");
        let want = match meter {
            "vu" => line - 4.0,
            "ppm1" => line - 6.0,
            "ppm2a" => 4.0 + line / 4.0,
            _ => line,
        };
        assert_near(
            &format!("{meter} at the line"),
            readings[1].1,
            want,
            allowed,
        );
    }
}

/// A file: the highest reading, left and right apart, DC, and overs.
#[test]
fn a_file_has_its_highest_reading_dc_and_overs() {
    let dir = TempDir::new();
    let tone = |t: f64, peak: f64| {
        // Loud in the middle second only.
        let gain = if (1.0..2.0).contains(&t) { 1.0 } else { 0.1 };
        gain * peak * (std::f64::consts::TAU * 1_000.0 * t).sin()
    };
    let left = Wave::mono(48_000, 3.0, |t| tone(t, 0.5));
    let right = Wave::mono(48_000, 3.0, |t| tone(t, 0.25) + 0.125);
    Wave::stereo(&left, &right).write(&dir.file("in.wav"));
    let answer = json_in(dir.path(), &["levels", "in.wav", "--meter", "vu"]);
    assert_eq!(text(&answer, "meter.of"), "highest");
    // -6.02 dBFS is +15.98 dBu or +11.98 VU; the pointer goes over by 1.0 to 1.5 % (0.09 to 0.13 dB).
    assert_near("left", readings(&answer)[0].1, 11.98 + 0.11, 0.05);
    // 0.125 of full scale, a sine of +22 dBu: 0.125 * sqrt(2) * 9.7517 V.
    let dc = number(&answer, "meter.right.points.0.dc_volts");
    assert_near("DC", dc, 1.724, 0.01);
    assert_eq!(number(&answer, "meter.left.bus_overs"), 0.0);
    let full = Wave::sine(48_000, 1_000.0, 1.0, 1.0);
    full.write(&dir.file("full.wav"));
    let answer = json_in(dir.path(), &["levels", "full.wav", "--meter", "peak"]);
    assert!(answer["meter"]["right"].is_null());
    // One a half-wave, whose peak is a sample: 48 of them a period.
    assert_eq!(number(&answer, "meter.left.bus_overs"), 2_000.0);
    assert_near("full scale", readings(&answer)[0].1, 0.0, 1e-3);
}

#[test]
fn another_meter_is_refused_by_the_names_there_are() {
    let args = ["levels", "--level-dbfs", "-18", "--meter", "vu2"];
    refused(&args, &["vu2", "ppm2a", "true-peak"]);
}
