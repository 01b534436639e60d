//! `cargo xtask tidy`: the house rules that a compiler does not know.

mod functions;
mod lines;
mod links;
mod masked;
mod remnants;
mod rooms;
mod tree;

use std::fmt;

use crate::command::{self, Command};
use crate::workspace::Workspace;
use masked::Masked;
use tree::Tree;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "tidy",
    arguments: "",
    summary: "The house rules alone (a part of check; a second)",
    details: "\
Over every file that git tracks or would track:
  - a Rust file starts with a `//!` line and has at most 600 lines, unless one of its first ten
    lines says `tidy: table`; a function has at most 70 lines
  - no tabs, no white space at the end of a line, one line feed at the end of a file
  - nothing left over: unfinished code, debugging output, notes to mend something later
  - no path that exists on one machine only
  - the top level holds the agreed rooms and dot-files, nothing else
  - the signal code (dsp) depends on nothing that opens files, windows, devices or connections;
    xtask on no other room
  - links and pictures in the documents lead to files that are there, and to headings that exist",
    run,
};

/// One breach of a rule.
#[derive(Debug, PartialEq, Eq)]
pub struct Finding {
    /// The file, relative to the workspace's root, with forward slashes.
    pub path: String,
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong and what is allowed, in a sentence.
    pub what: String,
}

impl Finding {
    /// A breach at a line of a file.
    pub fn new(path: &str, line: usize, what: impl Into<String>) -> Self {
        Self {
            path: path.to_owned(),
            line,
            what: what.into(),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}:{}: {}", self.path, self.line, self.what)
    }
}

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    command::no_arguments("tidy", arguments)?;
    all(workspace)
}

/// Applies every rule; every breach is printed, the error counts them.
pub fn all(workspace: &Workspace) -> Result<(), String> {
    let Some(tree) = Tree::read(&workspace.root)? else {
        println!("tidy: skipped, for without git nobody knows which files are the project's");
        return Ok(());
    };
    let mut findings = rooms::top_level(&tree.paths);
    findings.extend(rooms::dependencies(&workspace.packages));
    for file in &tree.files {
        findings.extend(lines::check(&file.path, &file.text));
        if file.path.ends_with(".rs") {
            findings.extend(rust_file(&file.path, &file.text));
        }
        if file.path.ends_with(".md") {
            findings.extend(links::check(&tree, file));
        }
    }
    if findings.is_empty() {
        println!("tidy: passed ({} files)", tree.files.len());
        return Ok(());
    }
    for finding in &findings {
        println!("{finding}");
    }
    Err(format!(
        "tidy found {} breaches (above); to repeat it: cargo xtask tidy",
        findings.len()
    ))
}

/// The rules that need code told apart from comments and strings.
fn rust_file(path: &str, text: &str) -> Vec<Finding> {
    let masked = Masked::new(text);
    let mut findings = functions::check(path, &masked);
    findings.extend(remnants::check(path, &masked));
    findings.extend(rooms::closed_modules(path, &masked));
    findings
}

/// The line, counted from 1, in which this byte stands.
fn line_of(text: &str, at: usize) -> usize {
    text.as_bytes()[..at]
        .iter()
        .filter(|&&byte| byte == b'\n')
        .count()
        + 1
}
