//! The command-line program: `penstock levels | pad | render | compare | netlist | tone`.
//!
//! Standard output carries the answer (one JSON object with `--json`), standard error everything
//! else. Exit codes: 0 done; 1 done, but some files failed; 2 bad input or usage, nothing written;
//! 3 `levels --fail-over` was passed; 101 a bug.

mod alignment;
mod args;
pub mod audio;
mod compare;
pub mod demo;
mod distortion;
mod error;
mod json;
mod level_page;
mod levels;
mod metered;
mod netlist;
mod pad;
mod page;
mod pass;
mod render;
mod text;
mod tone;

use args::{Args, Verb};
use clap::Parser;
use error::Failure;
use std::ffi::OsString;
use std::process::ExitCode;

/// Verbs and what they are for that a later version brings.
const LATER_VERBS: [&str; 3] = ["routes", "sheet", "verify"];

/// Runs the program on its arguments (the first is its own name).
#[must_use]
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    match parse(&arguments).and_then(perform) {
        Ok(code) => ExitCode::from(code),
        Err(failure) => {
            eprintln!("penstock: {}", failure.message);
            ExitCode::from(failure.code)
        }
    }
}

fn parse(arguments: &[OsString]) -> Result<Option<Args>, Failure> {
    let verb = arguments
        .iter()
        .skip(1)
        .find(|word| !word.to_string_lossy().starts_with('-'));
    if let Some(later) = LATER_VERBS
        .iter()
        .find(|later| verb.is_some_and(|verb| verb == *later))
    {
        return Err(Failure::usage(format!(
            "the verb `{later}` is planned but not built in this version ({})",
            env!("CARGO_PKG_VERSION")
        )));
    }
    match Args::try_parse_from(arguments) {
        Ok(args) => Ok(Some(args)),
        Err(error) if !error.use_stderr() => {
            // Help and version are answers, not errors.
            print!("{error}");
            Ok(None)
        }
        Err(error) => Err(Failure::usage(args::one_line(&error))),
    }
}

fn perform(args: Option<Args>) -> Result<u8, Failure> {
    match args.map(|args| args.verb) {
        None => Ok(0),
        Some(Verb::Levels(levels)) => levels::run(&levels),
        Some(Verb::Netlist(netlist)) => netlist::run(&netlist),
        Some(Verb::Pad(pad)) => pad::run(&pad),
        Some(Verb::Render(render)) => render::run(&render),
        Some(Verb::Tone(tone)) => tone::run(&tone),
        Some(Verb::Compare(compare)) => compare::run(&compare),
    }
}
