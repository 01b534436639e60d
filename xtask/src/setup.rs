//! `cargo xtask setup`: installs what the machine lacks, or says exactly what to type.

pub mod debian;
pub mod python;

use std::path::PathBuf;

use crate::command::{self, Command};
use crate::needs::{CHROMIUM, DEBIAN, PYTHON};
use crate::tools;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "setup",
    arguments: "",
    summary: "Installs what the tests need and the machine lacks",
    details: "\
Looks first, and does nothing when everything is there. Debian packages are installed when it may
(as root, with apt-get); Python packages, each at one version, go into a folder of the project's own
(.venv). What it may not install it prints as lines to type, does the rest, and ends with exit
code 1. The list of needs, each with its purpose, is xtask/src/needs.rs.",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    command::no_arguments("setup", arguments)?;
    prepare(workspace)
}

/// Installs what is missing. An error says what still is, after everything possible was done.
pub fn prepare(workspace: &Workspace) -> Result<(), String> {
    let results = [debian::prepare(), python::prepare(workspace)];
    let lacking: Vec<String> = results.into_iter().filter_map(Result::err).collect();
    if lacking.is_empty() {
        println!(
            "setup: everything is here ({} Debian packages, {} Python packages)",
            DEBIAN.len(),
            PYTHON.len()
        );
        return Ok(());
    }
    Err(format!("setup is not complete: {}", lacking.join("; ")))
}

/// The browser that opens the report, when there is one.
pub fn chromium() -> Option<PathBuf> {
    tools::find_program(CHROMIUM)
}
