//! Decks of the verb `netlist` and ngspice (Debian package ngspice), which runs them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;

use crate::run::{Outcome, finish, run_in};
use crate::tools::missing;

/// What the program prints for `netlist` and these arguments, in the folder `dir`.
///
/// # Panics
/// When it refuses.
#[track_caller]
#[must_use]
pub fn deck<S: AsRef<str>>(dir: &Path, args: &[S]) -> String {
    let args: Vec<&str> = ["netlist"]
        .into_iter()
        .chain(args.iter().map(AsRef::as_ref))
        .collect();
    let outcome = run_in(dir, &args);
    assert_eq!(
        outcome.status, 0,
        "penstock {args:?} said: {}",
        outcome.stderr
    );
    outcome.stdout
}

/// The arguments for a tone, and more.
#[must_use]
pub fn tone<'a>(hz: &'a str, level: &'a str, seconds: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    let args = ["--tone-hz", hz, "--level-dbfs", level, "--seconds", seconds];
    args.into_iter().chain(more.iter().copied()).collect()
}

/// Runs a deck in the folder `dir`.
///
/// # Panics
/// When ngspice is missing or ends with another code than 0.
#[track_caller]
#[must_use]
pub fn simulate(dir: &Path, deck: &str) -> Outcome {
    fs::write(dir.join("deck.cir"), deck).expect("the folder can be written");
    let here = Command::new("ngspice").arg("--version").output().is_ok();
    assert!(here, "{}", missing("ngspice"));
    let mut command = Command::new("ngspice");
    command.args(["-b", "deck.cir"]).current_dir(dir);
    let outcome = finish(command);
    assert_eq!(
        outcome.status, 0,
        "ngspice said {}{}",
        outcome.stdout, outcome.stderr
    );
    outcome
}

/// Time in seconds and output in volts, as a deck wrote them.
///
/// # Panics
/// When the file is missing or has other than two columns of numbers, or time does not grow.
#[track_caller]
#[must_use]
pub fn data(path: &Path) -> Vec<(f64, f64)> {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let row = |line: &str| {
        let numbers: Result<Vec<f64>, _> = line.split_whitespace().map(str::parse).collect();
        match numbers.as_deref() {
            Ok([time, volts]) => (*time, *volts),
            _ => panic!("{}: not two numbers: {line:?}", path.display()),
        }
    };
    let rows: Vec<(f64, f64)> = text.lines().map(row).collect();
    assert!(
        rows.windows(2).all(|pair| pair[0].0 < pair[1].0),
        "{}: time does not grow",
        path.display()
    );
    rows
}

/// The volts at a time, on the straight line between two points.
///
/// # Panics
/// When the time is not covered.
#[must_use]
pub fn volts_at(rows: &[(f64, f64)], seconds: f64) -> f64 {
    let after = rows.partition_point(|row| row.0 < seconds);
    assert!(after < rows.len(), "the data end before {seconds} s");
    let [(t0, v0), (t1, v1)] = [rows[after.max(1) - 1], rows[after.max(1)]];
    v0 + (v1 - v0) * (seconds - t0) / (t1 - t0)
}

/// The deck with a source of 1 V for `.ac` in place of its signal and with other commands; all else
/// is left as printed.
///
/// # Panics
/// When the deck has not exactly one signal and one set of commands.
#[must_use]
pub fn recommanded(deck: &str, commands: &str) -> String {
    let (before, rest) = deck
        .split_once(".control\n")
        .expect("the deck has commands");
    assert_eq!(rest.matches(".endc").count(), 1, "one set of commands");
    let mut signals = 0;
    let mut text = String::new();
    for line in before.lines() {
        if line.starts_with("Bsend send_hot send_cold ") {
            signals += 1;
            text += "Vsend send_hot send_cold DC 0 AC 1\n";
        } else if !line.starts_with(".tran") {
            text += line;
            text += "\n";
        }
    }
    assert_eq!(signals, 1, "one line brings the signal");
    format!("{text}.control\nset numdgt=15\n{commands}\nquit\n.endc\n.end\n")
}

/// Every `name = number` that ngspice printed.
#[must_use]
pub fn printed(outcome: &Outcome) -> BTreeMap<String, f64> {
    let pair = |line: &str| {
        let (name, value) = line.split_once(" = ")?;
        Some((name.trim().to_owned(), value.trim().parse().ok()?))
    };
    outcome.stdout.lines().filter_map(pair).collect()
}
