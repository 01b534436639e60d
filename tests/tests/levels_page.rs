//! `penstock levels --html`: a page of its own, and nobody's file lost.

use penstock_tests::{TempDir, Wave, refused_in, run, run_in};
use std::fs;

#[test]
fn a_file_that_is_there_is_kept() {
    let dir = TempDir::new();
    fs::write(dir.file("page.html"), "precious").expect("the folder can be written");
    let args = ["levels", "--level-dbfs", "-18", "--html", "page.html"];
    refused_in(dir.path(), &args, &["page.html", "--force"]);
    let kept = fs::read_to_string(dir.file("page.html")).expect("it is still there");
    assert_eq!(kept, "precious");
}

#[test]
fn the_page_stands_alone_and_names_every_point() {
    let dir = TempDir::new();
    let page = dir.file("page.html");
    let path = page.to_str().expect("a path in characters");
    let outcome = run(&["levels", "--level-dbfs", "-18", "--html", path]);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    let text = fs::read_to_string(&page).expect("a page");
    for needed in [
        "<svg",
        "<table",
        "Mic in",
        "Grid 1",
        "Preamp out",
        "</html>",
    ] {
        assert!(text.contains(needed), "no {needed}");
    }
    for outside in ["src=\"http", "href=\"http", "@import", "url(http"] {
        assert!(!text.contains(outside), "{outside}");
    }
}

/// Left and right stand apart where they differ, and once where they do not.
#[test]
fn channels_are_apart_in_tables_text_and_picture_when_they_differ() {
    let dir = TempDir::new();
    let left = Wave::programme(48_000, 0.6, 4.0, 1);
    for (name, right, differ) in [
        ("apart", left.times(0.4), true),
        ("alike", left.times(1.0), false),
    ] {
        let (wav, html) = (format!("{name}.wav"), format!("{name}.html"));
        Wave::stereo(&left, &right).write(&dir.file(&wav));
        let args = ["levels", &wav, "--html", &html, "--oversampling", "1"];
        let outcome = run_in(dir.path(), &args);
        assert_eq!(outcome.status, 0, "{}", outcome.stderr);
        let page = fs::read_to_string(dir.file(&html)).expect("a page");
        for needed in [
            "Statistics of the programme",
            "Time above each ceiling",
            "Distortion of each stage",
            "THD+N",
            "Response from send",
            "LUFS",
        ] {
            assert!(page.contains(needed), "{name}: no {needed}");
        }
        for apart in ["peak R", "RMS L", ">right</caption>"] {
            assert_eq!(page.contains(apart), differ, "{name}: {apart}");
        }
        let heads = |word: &str| {
            outcome
                .stdout
                .lines()
                .filter(|line| line.starts_with(word))
                .count()
        };
        let times = if differ { 2 } else { 0 };
        assert_eq!(
            (heads("left "), heads("right ")),
            (times, times),
            "{}",
            outcome.stdout
        );
    }
}
