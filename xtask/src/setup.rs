//! `cargo xtask setup`: installs what the machine lacks, or says exactly what to type.

pub mod debian;
pub mod python;
pub mod runner;

use std::path::PathBuf;

use crate::command::Command;
use crate::needs::{CHROMIUM, PYTHON};
use crate::tools;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "setup",
    arguments: "[--long]",
    summary: "Installs what the tests need and the machine lacks",
    details: "\
Looks first, and does nothing when everything is there. Debian packages are installed when it may
(as root, with apt-get); Python packages, each at one version, go into a folder of the project's own
(.venv), the program that counts instructions into target/tools. What it may not install it prints as
lines to type, does the rest, and ends with exit code 1. The list of needs, each with its purpose, is xtask/src/needs.rs.

  --long    also what only the slow cases need",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    match arguments {
        [] => prepare(workspace, false),
        [option] if option == "--long" => prepare(workspace, true),
        _ => Err(format!("'setup' takes {}", COMMAND.arguments)),
    }
}

/// Installs what is missing. An error says what still is, after everything possible was done.
pub fn prepare(workspace: &Workspace, long: bool) -> Result<(), String> {
    let results = [
        debian::prepare(long),
        python::prepare(workspace),
        runner::prepare(workspace),
    ];
    let lacking: Vec<String> = results.into_iter().filter_map(Result::err).collect();
    if lacking.is_empty() {
        println!(
            "setup: everything is here ({} Debian packages, {} Python packages)",
            debian::needs(long).count(),
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
