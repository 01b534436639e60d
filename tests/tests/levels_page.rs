//! `penstock levels --html`: a page of its own, and nobody's file lost.

use penstock_tests::{TempDir, refused_in, run};
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
