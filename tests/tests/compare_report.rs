//! What `penstock compare` leaves behind: folders, renders, the report.

use std::fs;
use std::path::Path;

use penstock_tests::comparison::Comparison;
use penstock_tests::recordings::{self, arg};
use penstock_tests::temp::files_ending;
use penstock_tests::{TempDir, Wave, number, python, refused_in, run_in};
use serde_json::json;

/// 25 MB in all, and a little for the names around them.
const MOST_DATA_BYTES: usize = 26_500_000;

/// A mono second to compare quickly.
fn short(dir: &TempDir) -> &'static str {
    Wave::programme(48_000, 0.2, 1.0, 1).write(&dir.file("short.wav"));
    "short.wav"
}

#[track_caller]
fn assert_self_contained(html: &str) {
    for tag in ["<html", "<audio", "<svg", "<table", "data:audio/"] {
        assert!(html.contains(tag), "the report has no {tag}");
    }
    // The names of SVG and XHTML are addresses that nobody visits; nothing else may point away.
    let bare = html
        .replace("http://www.w3.org/2000/svg", "")
        .replace("http://www.w3.org/1999/", "");
    for away in [
        "http://", "https://", "src=\"//", "<link", "@import", "<iframe", "file://",
    ] {
        let place = bare
            .find(away)
            .map(|at| bare[at..].chars().take(80).collect::<String>());
        assert!(place.is_none(), "the report points away: {place:?}");
    }
    for part in html.split("src=\"").skip(1) {
        let start: String = part.chars().take(40).collect();
        assert!(
            part.starts_with("data:"),
            "a source outside the file: {start}"
        );
    }
}

/// How many bytes of the report are data URIs.
fn data_bytes(html: &str) -> usize {
    let uris = html
        .split("data:")
        .skip(1)
        .filter(|uri| uri.contains(";base64,"));
    uris.map(|uri| uri.find(['"', '\'', ')', '<', ' ']).unwrap_or(uri.len()))
        .sum()
}

#[test]
fn the_demo_three_routes_and_a_report() {
    let dir = TempDir::new();
    let comparison = Comparison::run(dir.path(), &[]);
    assert_eq!(
        comparison.settings.len(),
        3,
        "three routes of equal total gain"
    );
    let folder = dir.path().join("penstock-compare");
    assert_eq!(
        comparison.report.canonicalize().ok(),
        folder.join("report.html").canonicalize().ok()
    );
    let html = comparison.html();
    assert_self_contained(&html);
    // The source and every setting can be heard.
    assert!(
        html.matches("<audio").count() >= 4,
        "a player for the source and each setting"
    );
    assert!(
        html.to_lowercase().contains("invented"),
        "the demo says that it is invented"
    );
    assert!(
        data_bytes(&html) <= MOST_DATA_BYTES,
        "{} bytes of data",
        data_bytes(&html)
    );
    for setting in &comparison.settings {
        assert!(
            setting.file.starts_with(&folder),
            "{} lies elsewhere",
            setting.file.display()
        );
        let (wave, _, _) = Wave::read(&setting.file);
        assert!(
            wave.peak() > 0.01,
            "{} is next to silent",
            setting.file.display()
        );
        assert!(
            setting.number("thd_percent") > 0.0,
            "a tube preamp distorts"
        );
    }
    let files: Vec<String> = comparison
        .settings
        .iter()
        .map(|setting| setting.path())
        .collect();
    let loudness = python("loudness.py", &json!(files));
    for (index, setting) in comparison.settings.iter().enumerate() {
        let off = setting.number("lufs") - number(&loudness, &index.to_string());
        assert!(off.abs() <= 0.1, "setting {index}: {off} LU off pyloudnorm");
        let apart = number(&loudness, &index.to_string()) - number(&loudness, "0");
        assert!(
            apart.abs() <= 0.1,
            "setting {index}: {apart} LU from the first"
        );
    }
}

#[test]
fn folders_are_numbered_and_the_path_comes_last() {
    let dir = TempDir::new();
    let source = short(&dir);
    for name in [
        "penstock-compare",
        "penstock-compare-2",
        "penstock-compare-3",
    ] {
        let outcome = run_in(dir.path(), &["compare", source]);
        assert_eq!(outcome.status, 0, "{}", outcome.stderr);
        assert!(
            dir.file(name).join("report.html").is_file(),
            "no report in {name}"
        );
        let last = outcome.stdout.trim_end().lines().last().unwrap_or_default();
        assert!(
            last.contains(name),
            "the last line names the place: {last:?}"
        );
    }
    assert_eq!(
        fs::read_dir(dir.path())
            .expect("the folder can be read")
            .count(),
        4
    );
}

#[test]
fn a_folder_of_ones_own() {
    let dir = TempDir::new();
    let source = short(&dir);
    let comparison = Comparison::run(dir.path(), &[source, "--out", "mine"]);
    assert!(dir.file("mine/report.html").is_file());
    assert!(!dir.file("penstock-compare").exists());
    for setting in &comparison.settings {
        assert!(
            setting.file.starts_with(dir.file("mine")),
            "{}",
            setting.file.display()
        );
    }
    // A second run there would overwrite the first.
    let changed = [
        "compare",
        source,
        "--out",
        "mine",
        "--vary",
        "preamp.gain_db=34,46",
    ];
    refused_in(dir.path(), &changed, &["mine"]);
}

#[test]
fn every_combination_of_what_varies() {
    let dir = TempDir::new();
    let source = short(&dir);
    let vary = [
        "--vary",
        "preamp.gain_db=28,40,52",
        "--vary",
        "pad.network=U,H",
    ];
    let comparison = Comparison::run(dir.path(), &[&[source], &vary[..]].concat());
    assert_eq!(comparison.settings.len(), 6);
    for gain in ["28", "40", "52"] {
        for network in ["U", "H"] {
            let holds = |set: &str| set.contains(gain) && set.contains(network);
            let named = |set: &str| set.contains("gain_db") && set.contains("network");
            let with = comparison
                .settings
                .iter()
                .filter(|s| holds(&s.set) && named(&s.set));
            assert_eq!(with.count(), 1, "gain {gain}, network {network}");
        }
    }
    let frames = comparison
        .settings
        .iter()
        .map(|s| Wave::read(&s.file).0.frames());
    assert!(
        frames.into_iter().all(|frames| frames == 48_000),
        "full renders"
    );
}

#[test]
fn players_stay_within_25_megabytes() {
    // Eight players of 15 s of stereo at 48 kHz would be 31 MB even as 16-bit samples in base64.
    let dir = TempDir::new();
    let left = Wave::programme(48_000, 0.2, 16.0, 2);
    Wave::stereo(&left, &left.times(0.7)).write(&dir.file("long.wav"));
    let vary = ["--vary", "preamp.gain_db=28,34,40,46,52,58,64"];
    let comparison = Comparison::run(dir.path(), &[&["long.wav"], &vary[..]].concat());
    assert_eq!(comparison.settings.len(), 7);
    let html = comparison.html();
    assert_self_contained(&html);
    assert!(
        html.matches("<audio").count() >= 8,
        "a player for the source and each setting"
    );
    let bytes = data_bytes(&html);
    assert!(
        (1_000_000..=MOST_DATA_BYTES).contains(&bytes),
        "{bytes} bytes of data"
    );
}

#[test]
fn the_report_names_what_it_shows() {
    let dir = TempDir::new();
    let source = arg(&recordings::speech());
    let vary = ["--vary", "pad.loss_db=34,46"];
    let comparison = Comparison::run(dir.path(), &[&[source.as_str()], &vary[..]].concat());
    let html = comparison.html();
    assert_self_contained(&html);
    for point in [
        "bus",
        "line",
        "mic",
        "transformer",
        "grid",
        "preamp",
        "return",
    ] {
        assert!(
            html.to_lowercase().contains(point),
            "the level table has no {point}"
        );
    }
    for word in ["dBFS", "dBu", "loss_db", "0870"] {
        assert!(html.contains(word), "the report does not speak of {word}");
    }
    // Cautions: "lethal supply voltages in tube gear; phantom power into line outputs".
    for caution in ["lethal", "phantom"] {
        assert!(
            html.to_lowercase().contains(caution),
            "no caution about {caution}"
        );
    }
    assert!(
        !html.to_lowercase().contains("invented"),
        "a real recording is not invented"
    );
}

#[test]
fn one_bad_file_among_many() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.2, 0.6, 3).write(&dir.file("first.wav"));
    fs::write(dir.file("spoilt.wav"), b"not a recording").expect("the folder can be written");
    recordings::short_speech().write_integer(&dir.file("last.wav"), 16);
    let files = ["compare", "first.wav", "spoilt.wav", "last.wav"];
    let vary = ["--vary", "preamp.gain_db=34,46", "--out", "all"];
    let outcome = run_in(dir.path(), &[&files[..], &vary[..]].concat());
    assert_eq!(outcome.status, 1, "some files failed: {}", outcome.stderr);
    assert!(
        outcome.stderr.contains("spoilt.wav"),
        "reported: {}",
        outcome.stderr
    );
    for good in ["first", "last"] {
        let made = files_ending(&dir.file("all"), "wav");
        let wanted = |path: &Path| path.to_string_lossy().contains(good);
        let count = made.iter().filter(|path| wanted(path)).count();
        assert!(count >= 2, "two settings of {good}: {made:?}");
    }
    assert!(
        !files_ending(&dir.file("all"), "html").is_empty(),
        "a report on what went well"
    );
    let left = files_ending(&dir.file("all"), "wav");
    assert!(
        left.iter()
            .all(|path| !path.to_string_lossy().contains("spoilt")),
        "{left:?}"
    );
}
