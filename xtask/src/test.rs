//! `cargo xtask test`: everything, from set-up to the last test, with the time each step took.

pub mod suite;

use std::path::PathBuf;

use crate::bundle;
use crate::bundle::build::Order;
use crate::check;
use crate::command::Command;
use crate::display::Display;
use crate::instructions;
use crate::setup;
use crate::steps::Steps;
use crate::workspace::Workspace;
use suite::{Given, Suite};

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "test",
    arguments: "[--long] [FILTER...]",
    summary: "Set-up, checks, the release program, and every test",
    details: "\
In this order: setup, check, the program in the release profile, the bundles with the trap (cargo
xtask help bundle), the count of instructions (cargo xtask help bench), the examples in the
documentation, the plugin's own tests with its window and those of the window, the tests (by cargo-nextest when it is
installed). Checks and builds that fail end it; a failing example
or test does not keep the others from running. Ends with the wall time of each step, and with exit
code 1 when any step failed.

  --long    adds the slow cases
  FILTER    only tests whose name contains one of these words (examples and counts are then left out)

The tests are told, in their environment:
  PENSTOCK_BIN        the program just built
  PENSTOCK_PYTHON     the interpreter that has the Python packages
  PENSTOCK_CHROMIUM   the browser that opens the report, when there is one
  PENSTOCK_BUNDLES    the folder that holds Penstock.clap and Penstock.vst3, with the trap
  PENSTOCK_LONG       1 with --long
  DISPLAY             a screen of their own, when the programs for one are here",
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
    let setup = || setup::prepare(workspace, options.long);
    failures.extend(steps.task("setup", setup).err());
    steps.task("check", || check::all(workspace))?;
    // The default members, as the README's first command builds them, so that both share the work.
    steps.command("program", &mut workspace.cargo(["build", "--release"]))?;
    let trap = Order {
        trap: true,
        ..Order::default()
    };
    println!("\nbundle: cargo xtask bundle --trap");
    let mut bundles = PathBuf::new();
    steps.task("bundle", || {
        bundles = bundle::make(workspace, &trap)?;
        Ok(())
    })?;
    let display = Display::start().unwrap_or_else(|error| {
        failures.push(error);
        None
    });
    let given = Given {
        workspace,
        long: options.long,
        bundles,
        display,
    };
    if options.filters.is_empty() {
        println!("\ninstructions: cargo xtask bench --count");
        let counted = steps.task("instructions", || instructions::compare(workspace));
        failures.extend(counted.err());
        failures.extend(doctests(&given, steps).err());
    }
    // The larger one last, so that the run closes with the count of its tests.
    let suites = [Suite::window(workspace), Suite::workspace()];
    failures.extend(tests(&given, &suites, &options.filters, steps).err());
    Ok(())
}

/// The examples in the documentation, among them those that must not compile.
fn doctests(given: &Given, steps: &mut Steps) -> Result<(), String> {
    let arguments = ["test", "--workspace", "--doc", "--release"];
    let mut command = given.workspace.cargo(arguments);
    command.args(["--exclude", suite::WINDOW]);
    command.arg("--no-fail-fast");
    given.tell(&mut command);
    steps.command("doctests", &mut command)
}

/// Every other test whose name contains one of the words. A suite without any is left out; that none
/// has any is an error, for a misspelt name must not pass.
fn tests(
    given: &Given,
    suites: &[Suite],
    words: &[String],
    steps: &mut Steps,
) -> Result<(), String> {
    let mut wanted: Vec<&Suite> = suites.iter().collect();
    if !words.is_empty() {
        steps.task("count", || {
            let mut counted = Vec::new();
            for suite in suites {
                if suite.has_any(given, words)? {
                    counted.push(suite);
                }
            }
            wanted = counted;
            Ok(())
        })?;
        if wanted.is_empty() {
            return Err(format!("no test matches '{}'", words.join("', '")));
        }
    }
    let failed: Vec<String> = wanted
        .into_iter()
        .filter_map(|suite| {
            steps
                .command(suite.name, &mut suite.run(given, words))
                .err()
        })
        .collect();
    match failed.as_slice() {
        [] => Ok(()),
        several => Err(several.join("\nerror: ")),
    }
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
