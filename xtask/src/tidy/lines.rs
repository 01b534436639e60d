//! What every line and every file must keep: first line, length, white space, portable paths.

use super::Finding;

/// Longest Rust file, in lines.
const MOST_LINES: usize = 600;
/// In one of the first lines of a file that is a table of data, and so may be longer.
const TABLE_MARK: &str = "tidy: table";
/// How many first lines may hold the mark.
const MARK_WITHIN: usize = 10;
/// Kinds of file whose white space belongs to whoever made them.
const FOREIGN: &[&str] = &["Cargo.lock", ".csv", ".tsv", ".svg", ".cir", ".raw"];
/// Starts of paths that exist on one machine only. Taken apart, for this file is read as well.
const MACHINE_PATHS: &[&str] = &[
    concat!("/", "root/"),
    concat!("/", "home/"),
    concat!("/", "tmp/"),
    concat!("/", "work/"),
    concat!("/", "Users/"),
];

/// Checks one text file.
pub fn check(path: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    if path.ends_with(".rs") {
        findings.extend(first_line(path, text));
        findings.extend(length(path, text));
    }
    if !FOREIGN.iter().any(|end| path.ends_with(end)) {
        findings.extend(white_space(path, text));
        findings.extend(machine_paths(path, text));
    }
    findings
}

fn first_line(path: &str, text: &str) -> Option<Finding> {
    let says = text
        .strip_prefix("//! ")
        .and_then(|rest| rest.lines().next());
    match says {
        Some(words) if !words.trim().is_empty() => None,
        _ => Some(Finding::new(
            path,
            1,
            "the first line must say, after `//!`, what the file is",
        )),
    }
}

fn length(path: &str, text: &str) -> Option<Finding> {
    let lines = text.lines().count();
    let is_table = text
        .lines()
        .take(MARK_WITHIN)
        .any(|line| line.contains(TABLE_MARK));
    (lines > MOST_LINES && !is_table).then(|| {
        let what =
            format!("the file has {lines} lines; at most {MOST_LINES}, unless it is a table");
        Finding::new(path, MOST_LINES + 1, what)
    })
}

fn white_space(path: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    // Not `lines()`, which forgives a carriage return.
    for (index, line) in text.split('\n').enumerate() {
        if line.contains('\t') {
            findings.push(Finding::new(path, index + 1, "a tab; indent with spaces"));
        }
        if line.ends_with(char::is_whitespace) {
            findings.push(Finding::new(
                path,
                index + 1,
                "white space at the end of the line",
            ));
        }
    }
    if !text.is_empty() && (!text.ends_with('\n') || text.ends_with("\n\n")) {
        let last = text.lines().count();
        findings.push(Finding::new(
            path,
            last,
            "the file must end with exactly one line feed",
        ));
    }
    findings
}

fn machine_paths(path: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, line) in text.lines().enumerate() {
        for start in MACHINE_PATHS {
            // Below a project's own folder the same names are nobody's machine.
            let absolute = |at: usize| {
                !line[..at].ends_with(|c: char| c.is_alphanumeric() || "_-.}/*".contains(c))
            };
            if line.match_indices(start).any(|(at, _)| absolute(at)) {
                let what = format!("'{start}' starts a path of one machine; say it without");
                findings.push(Finding::new(path, index + 1, what));
            }
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_good_file_passes() {
        assert_eq!(check("a.rs", "//! A sample.\n\nfn main() {}\n"), []);
        assert_eq!(
            check(
                "notes.md",
                "# Notes\n\nSee `/usr/share` and target/tmp/x.\n"
            ),
            []
        );
    }

    #[test]
    fn a_file_that_does_not_say_what_it_is_is_caught() {
        for text in [
            "use a;\n",
            "// Sample.\n",
            "//!\n",
            "\n//! Late.\n",
            "#!/bin/x\n//! S.\n",
        ] {
            assert_eq!(check("a.rs", text).len(), 1, "{text:?} passed");
        }
    }

    #[test]
    fn a_long_file_is_caught_unless_it_is_a_table() {
        let tail = "// line\n".repeat(600);
        let findings = check("a.rs", &format!("//! Long.\n{tail}"));
        assert_eq!(findings.len(), 1);
        assert!(findings[0].what.contains("601 lines"), "{}", findings[0]);
        assert_eq!(
            check("a.rs", &format!("//! Long.\n//! tidy: table\n{tail}")),
            []
        );
        assert_eq!(
            check("a.rs", &format!("//! Long.\n{tail}// tidy: table\n")).len(),
            1
        );
    }

    #[test]
    fn white_space_is_caught() {
        let places = |text: &str| {
            check("a.md", text)
                .into_iter()
                .map(|finding| finding.line)
                .collect::<Vec<_>>()
        };
        assert_eq!(places("one\n\ttwo\n"), [2]);
        assert_eq!(places("one \ntwo\n"), [1]);
        assert_eq!(places("one\r\ntwo\r\n"), [1, 2]);
        assert_eq!(places("one\ntwo"), [2]);
        assert_eq!(places("one\n\n"), [2]);
        assert_eq!(check("Cargo.lock", "\tone \n"), []);
    }

    #[test]
    fn a_path_of_one_machine_is_caught() {
        for start in MACHINE_PATHS {
            for before in ["", "see ", "(", "`", "\"", "=", ":"] {
                let text = format!("{before}{start}mix.wav\n");
                assert_eq!(check("a.md", &text).len(), 1, "{text:?} passed");
            }
            assert_eq!(check("a.md", &format!("target{start}mix.wav\n")), []);
        }
    }
}
