//! `cargo xtask check`: everything that can be said without running the program, fastest first.

use crate::command::{self, Command};
use crate::steps::Steps;
use crate::test::suite::WINDOW;
use crate::tidy;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "check",
    arguments: "",
    summary: "Format, house rules, lints, documentation, licences; fastest first",
    details: "\
Stops at the first failure and says how to repeat it alone:
  format     cargo fmt --check
  tidy       the house rules (cargo xtask help tidy)
  clippy     every target of the workspace, warnings are errors
  window     the same for the plugin with its window and the tests of it, which the workspace's
             default leaves out
  doc        every package's documentation, warnings are errors
  deny       licences, bans and sources by .deny.toml, when cargo-deny is installed",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    command::no_arguments("check", arguments)?;
    all(workspace)
}

/// Runs every check, up to the first that fails.
pub fn all(workspace: &Workspace) -> Result<(), String> {
    let mut steps = Steps::default();
    steps
        .command("format", &mut workspace.cargo(["fmt", "--all", "--check"]))
        .map_err(|error| format!("{error}; to mend it: cargo fmt --all"))?;
    println!("\ntidy: cargo xtask tidy");
    steps.task("tidy", || tidy::all(workspace))?;
    // Clippy and rustdoc both use the dev profile, so dependencies are read once for the two.
    let everywhere = [
        "clippy",
        "--workspace",
        "--exclude",
        WINDOW,
        "--all-targets",
        "--",
        "-D",
        "warnings",
    ];
    steps.command("clippy", &mut workspace.cargo(everywhere))?;
    let mut window = workspace.cargo(["clippy", "--package", "penstock", "--all-targets"]);
    window.args(["--package", WINDOW]);
    window.args(["--no-default-features", "--features", "editor"]);
    window.args(["--", "-D", "warnings"]);
    steps.command("window", &mut window)?;
    // The library and the program of one package share a name, hence the libraries alone; xtask,
    // which has none, is added by name.
    let mut doc = workspace.cargo(["doc", "--workspace", "--no-deps", "--lib", "--bin", "xtask"]);
    doc.args(["--exclude", WINDOW]);
    steps.command(
        "doc",
        doc.env("RUSTDOCFLAGS", with_denied_warnings("RUSTDOCFLAGS")),
    )?;
    if workspace.has_cargo("deny") {
        let mut deny = workspace.cargo(["deny", "--config", ".deny.toml", "--log-level", "error"]);
        steps.command("deny", deny.args(["check", "licenses", "bans", "sources"]))?;
    } else {
        println!(
            "\ndeny: skipped, for cargo-deny is not installed: cargo install cargo-deny --locked"
        );
    }
    println!(
        "\ncheck: passed ({}) in {:.1} s",
        steps.names(),
        steps.total().as_secs_f64()
    );
    Ok(())
}

/// The user's own flags in this variable, and warnings as errors.
fn with_denied_warnings(variable: &str) -> String {
    let own = std::env::var(variable).unwrap_or_default();
    format!("{own} -D warnings").trim_start().to_owned()
}
