//! `cargo xtask test`: everything, from set-up to the last test, with the time each step took.

use std::process::{Command as Process, Stdio};

use crate::check;
use crate::command::Command;
use crate::setup;
use crate::steps::Steps;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "test",
    arguments: "[--long] [FILTER...]",
    summary: "Set-up, checks, the release program, and every test",
    details: "\
In this order: setup, check, the program in the release profile, the examples in the documentation,
the tests (by cargo-nextest when it is installed). Checks that fail end it; a failing example or
test does not keep the others from running. Ends with the wall time of each step, and with exit
code 1 when any step failed.

  --long    adds the slow cases
  FILTER    only tests whose name contains one of these words (examples are then left out)

The tests are told, in their environment:
  PENSTOCK_BIN        the program just built
  PENSTOCK_PYTHON     the interpreter that has the Python packages
  PENSTOCK_CHROMIUM   the browser that opens the report, when there is one
  PENSTOCK_LONG       1 with --long",
    run,
};

/// What was typed after `test`.
struct Options {
    long: bool,
    filters: Vec<String>,
}

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    let options = parse(arguments)?;
    let mut steps = Steps::default();
    let mut failures = Vec::new();
    let outcome = all(workspace, &options, &mut steps, &mut failures);
    failures.extend(outcome.err());
    println!("\n{}", steps.table());
    match failures.as_slice() {
        [] => {
            println!("\ntest: everything passed");
            Ok(())
        }
        several => Err(several.join("\nerror: ")),
    }
}

fn parse(arguments: &[String]) -> Result<Options, String> {
    let mut options = Options {
        long: false,
        filters: Vec::new(),
    };
    for argument in arguments {
        match argument.as_str() {
            "--long" => options.long = true,
            flag if flag.starts_with('-') => {
                return Err(format!(
                    "'test' knows no '{flag}'; it knows --long and test names"
                ));
            }
            name => options.filters.push(name.to_owned()),
        }
    }
    Ok(options)
}

/// Runs the steps. A failure after which nothing else makes sense is returned; the others are added
/// to `failures`.
fn all(
    workspace: &Workspace,
    options: &Options,
    steps: &mut Steps,
    failures: &mut Vec<String>,
) -> Result<(), String> {
    // What could not be installed fails the run at its end, but need not hide the other results.
    failures.extend(
        steps
            .task("setup", || setup::prepare(workspace, options.long))
            .err(),
    );
    steps.task("check", || check::all(workspace))?;
    // The default members, as the README's first command builds them, so that both share the work.
    steps.command("program", &mut workspace.cargo(["build", "--release"]))?;
    if options.filters.is_empty() {
        failures.extend(doctests(workspace, options, steps).err());
    }
    // Last, so that the run closes with the count of the tests.
    failures.extend(tests(workspace, options, steps).err());
    Ok(())
}

/// The examples in the documentation, among them those that must not compile.
fn doctests(workspace: &Workspace, options: &Options, steps: &mut Steps) -> Result<(), String> {
    let mut command = workspace.cargo(["test", "--workspace", "--doc", "--release"]);
    command.arg("--no-fail-fast");
    tell(&mut command, workspace, options);
    steps.command("doctests", &mut command)
}

/// Every other test.
fn tests(workspace: &Workspace, options: &Options, steps: &mut Steps) -> Result<(), String> {
    let mut command = if workspace.has_cargo("nextest") {
        workspace.cargo([
            "nextest",
            "run",
            "--workspace",
            "--release",
            "--no-fail-fast",
        ])
    } else {
        steps.task("count", || some_test_matches(workspace, options))?;
        let mut plain = workspace.cargo(["test", "--workspace", "--release", "--no-fail-fast"]);
        plain.args(["--lib", "--bins", "--tests", "--"]);
        plain
    };
    command.args(&options.filters);
    tell(&mut command, workspace, options);
    steps.command("tests", &mut command)
}

/// Tells the tests where things are, in their environment.
fn tell(command: &mut Process, workspace: &Workspace, options: &Options) {
    let program = format!("penstock{}", std::env::consts::EXE_SUFFIX);
    command.env(
        "PENSTOCK_BIN",
        workspace.target.join("release").join(program),
    );
    command.env("PENSTOCK_PYTHON", setup::python::interpreter(workspace));
    if let Some(chromium) = setup::chromium() {
        command.env("PENSTOCK_CHROMIUM", chromium);
    }
    if options.long {
        command.env("PENSTOCK_LONG", "1");
    } else {
        // Not inherited by chance: what ran is what was asked for.
        command.env_remove("PENSTOCK_LONG");
    }
}

/// `cargo test` is content with a filter that matches nothing; a misspelt one must not pass.
fn some_test_matches(workspace: &Workspace, options: &Options) -> Result<(), String> {
    let mut list = workspace.cargo([
        "test",
        "--workspace",
        "--release",
        "--lib",
        "--bins",
        "--tests",
    ]);
    list.args(["--", "--list"])
        .args(&options.filters)
        .stderr(Stdio::inherit());
    let output = list
        .output()
        .map_err(|error| format!("cargo could not be started: {error}"))?;
    if !output.status.success() {
        return Err("the tests could not be built".to_owned());
    }
    let text = String::from_utf8_lossy(&output.stdout);
    if text.lines().any(|line| line.ends_with(": test")) {
        return Ok(());
    }
    Err(format!(
        "no test matches '{}'",
        options.filters.join("', '")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_are_told_from_names() {
        let words = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<_>>();
        let options = parse(&words("pad --long levels")).expect("a valid line");
        assert!(options.long);
        assert_eq!(options.filters, ["pad", "levels"]);
        assert!(parse(&words("--lnog")).is_err());
    }
}
