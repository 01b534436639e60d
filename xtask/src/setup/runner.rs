//! The program that runs valgrind for the bench of instructions: of the library's own version, in a
//! folder of the project's own.

use std::path::PathBuf;
use std::process::Command;

use crate::instructions;
use crate::tools;
use crate::workspace::Workspace;

/// The library that the bench is written with.
const LIBRARY: &str = "gungraun";
/// Its program.
const PROGRAM: &str = "gungraun-runner";

/// The folder that holds the program, which need not exist yet.
pub fn folder(workspace: &Workspace) -> PathBuf {
    workspace.target.join("tools").join("bin")
}

/// Installs the program when it is missing or of another version; nothing where it could not run.
pub fn prepare(workspace: &Workspace) -> Result<(), String> {
    if instructions::idle_because().is_some() {
        return Ok(());
    }
    let version = version(workspace)?;
    let is_here = || {
        let output = Command::new(folder(workspace).join(PROGRAM))
            .arg("--version")
            .output();
        let words = output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned());
        words.is_ok_and(|words| words.trim() == format!("{PROGRAM} {version}"))
    };
    if is_here() {
        return Ok(());
    }
    println!("setup: installing {PROGRAM} {version} into target/tools (about two minutes)");
    let mut install = workspace.cargo(["install", PROGRAM, "--locked", "--quiet", "--force"]);
    // Unoptimised, which builds in half the time: it is valgrind that works.
    install.args(["--debug", "--version", &format!("={version}"), "--root"]);
    install.arg(workspace.target.join("tools"));
    install.env("CARGO_PROFILE_DEV_DEBUG", "0");
    tools::run(&mut install).map_err(|error| {
        let line = tools::command_line(&install);
        format!("{PROGRAM} not installed ({error}); to try it by hand: {line}")
    })?;
    if is_here() {
        return Ok(());
    }
    Err(format!(
        "{PROGRAM} {version} was installed, yet is not what runs"
    ))
}

/// The library's version as the manifests pin it.
fn version(workspace: &Workspace) -> Result<String, String> {
    let packages = workspace.packages.iter();
    let mut dependencies =
        packages.flat_map(|package| package["dependencies"].as_array().into_iter().flatten());
    dependencies
        .find(|dependency| dependency["name"] == LIBRARY)
        .and_then(|dependency| dependency["req"].as_str()?.strip_prefix('='))
        .map(str::to_owned)
        .ok_or_else(|| format!("no manifest pins {LIBRARY} to one version (\"=1.2.3\")"))
}
