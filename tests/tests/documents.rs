//! What the documents say is what the code says.

use penstock_tests::readme::assert_block;
use penstock_tests::tools::{browse, workspace_dir};
use penstock_tests::{TempDir, json_in, text};

#[test]
fn the_readme_shows_the_table_of_plan_keys() {
    assert_block("keys", &penstock_dsp::plan::markdown());
}

/// A browser is the outside truth about a page: it must find players, plots and tables in it.
#[test]
fn the_report_opens_in_a_browser() {
    let dir = TempDir::new();
    let answer = json_in(
        dir.path(),
        &["compare", "--out", "demo", "--oversampling", "1"],
    );
    let report = dir.file(text(&answer, "report"));
    let picture = dir.file("report.png");
    let run = |extra: &str| {
        let options = ["--hide-scrollbars", "--window-size=1200,4000", extra];
        browse(dir.path(), &report, &options)
    };
    let page = String::from_utf8_lossy(&run("--dump-dom").stdout).into_owned();
    // Four players (source and three settings), at least a diagram, waveforms, spectra, harmonics.
    assert_eq!(page.matches("<audio").count(), 4);
    assert!(page.matches("<svg").count() >= 4);
    assert!(page.matches("<table").count() >= 4);
    run(&format!("--screenshot={}", picture.display()));
    let bytes = std::fs::metadata(&picture).map_or(0, |file| file.len());
    assert!(
        bytes > 100_000,
        "a picture of {bytes} bytes shows next to nothing"
    );
    assert!(workspace_dir().join("README.md").is_file());
}
