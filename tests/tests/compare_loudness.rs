//! Settings at equal loudness, judged by pyloudnorm on the files, and their other figures.

use penstock_tests::comparison::Comparison;
use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, assert_near, json_in, number, python};
use serde_json::{Value, json};

/// "pyloudnorm on the trimmed renders (0.1 LU)".
const TOLERANCE_LU: f64 = 0.1;

/// LUFS of the source, then of each setting's file.
fn loudness(source: &str, comparison: &Comparison) -> Vec<f64> {
    let mut files = vec![source.to_owned()];
    files.extend(comparison.settings.iter().map(|setting| setting.path()));
    let measured = python("loudness.py", &json!(files));
    (0..files.len())
        .map(|index| number(&measured, &index.to_string()))
        .collect()
}

#[track_caller]
fn assert_as_loud_as_the_source(source: &str, args: &[&str]) {
    let dir = TempDir::new();
    let comparison = Comparison::run(dir.path(), &[&[source], args].concat());
    let measured = loudness(source, &comparison);
    for (setting, lufs) in comparison.settings.iter().zip(&measured[1..]) {
        let what = format!("{source}, {}", setting.set);
        assert_near(
            &format!("{what}: to the source"),
            *lufs,
            measured[0],
            TOLERANCE_LU,
        );
        assert_near(
            &format!("{what}: as told"),
            setting.number("lufs"),
            *lufs,
            TOLERANCE_LU,
        );
        let (wave, _, _) = Wave::read(&setting.file);
        let peak_dbfs = 20.0 * wave.peak().log10();
        assert_near(
            &format!("{what}: peak"),
            setting.number("peak_dbfs"),
            peak_dbfs,
            0.01,
        );
    }
}

#[test]
fn stereo_music() {
    assert_as_loud_as_the_source(&arg(&recordings::drums_stereo()), &[]);
}

#[test]
fn mono_music() {
    let vary = [
        "--vary",
        "preamp.gain_db=28,46",
        "--vary",
        "pad.loss_db=40,52",
    ];
    let turned_down = ["--set", "send.trim_db=-6"];
    let args = [&vary[..], &turned_down[..]].concat();
    assert_as_loud_as_the_source(&arg(&recordings::guitar_mono()), &args);
}

#[test]
fn speech() {
    assert_as_loud_as_the_source(&arg(&recordings::speech()), &[]);
}

#[test]
fn a_programme_up_to_full_scale() {
    // Where a peak would clip, everything else comes down instead: the settings stay as loud as
    // one another, whatever became of the source.
    let dir = TempDir::new();
    let source = arg(&recordings::loud_stereo());
    let vary = ["--vary", "preamp.gain_db=28,52"];
    let comparison = Comparison::run(dir.path(), &[&[source.as_str()], &vary[..]].concat());
    let measured = loudness(&source, &comparison);
    assert_near("one another", measured[1], measured[2], TOLERANCE_LU);
    for (setting, lufs) in comparison.settings.iter().zip(&measured[1..]) {
        assert_near("as told", setting.number("lufs"), *lufs, TOLERANCE_LU);
    }
}

#[test]
fn the_trim_is_fixed_and_nothing_else() {
    // What lies beside the report is what `render` makes with the trim that is told.
    let dir = TempDir::new();
    recordings::short_speech()
        .times(0.5)
        .write_integer(&dir.file("speech.wav"), 16);
    let vary = ["--vary", "preamp.gain_db=28,52"];
    let comparison = Comparison::run(dir.path(), &[&["speech.wav"], &vary[..]].concat());
    for (setting, gain) in comparison.settings.iter().zip(["28", "52"]) {
        assert!(
            setting.set.contains(gain),
            "in the order given: {}",
            setting.set
        );
        let sets = [
            format!("preamp.gain_db={gain}"),
            format!("return.trim_db={}", setting.number("trim_db")),
        ];
        let to = format!("{gain}.wav");
        let args = [
            "render",
            "speech.wav",
            &to,
            "--set",
            &sets[0],
            "--set",
            &sets[1],
        ];
        json_in(dir.path(), &args);
        let (rendered, _, _) = Wave::read(&dir.file(&to));
        let (compared, _, _) = Wave::read(&setting.file);
        assert_near(
            gain,
            rendered.distance(&compared) / compared.peak(),
            0.0,
            1e-4,
        );
    }
}

#[test]
fn harmonics_are_those_of_a_tone_at_the_programmes_peak() {
    // Source: numpy's Fourier transform of the rendered tone. A 1 kHz sine as programme is its own
    // "1 kHz sine of the programme's peak".
    let dir = TempDir::new();
    Wave::sine(48_000, 1000.0, 0.5, 2.0).write(&dir.file("tone.wav"));
    let vary = ["--vary", "pad.loss_db=28,40", "--set", "preamp.gain_db=34"];
    let comparison = Comparison::run(dir.path(), &[&["tone.wav"], &vary[..]].concat());
    let files: Vec<String> = comparison
        .settings
        .iter()
        .map(|setting| setting.path())
        .collect();
    let request = json!({ "files": files, "hz": 1000, "settle_seconds": 0.9 });
    let measured = python("harmonics.py", &request);
    for (index, setting) in comparison.settings.iter().enumerate() {
        let heard: &Value = &measured[index];
        let percent = number(heard, "thd_percent");
        assert_near("THD", setting.number("thd_percent") / percent, 1.0, 0.03);
        for (order, key) in ["h2_db", "h3_db", "h4_db", "h5_db"].into_iter().enumerate() {
            let decibels = number(heard, &format!("harmonics_db.{order}"));
            // Below this the renders' 32-bit samples no longer carry it to a tenth of a decibel.
            if decibels > -120.0 {
                assert_near(
                    &format!("{}: {key}", setting.set),
                    setting.number(key),
                    decibels,
                    0.3,
                );
            }
        }
    }
}
