//! `cargo xtask golden`: makes the clips by which the circuit is judged.

use std::io::Write;
use std::process::{Command as Process, Stdio};

use serde_json::{Value, json};

use crate::command::Command;
use crate::setup;
use crate::tools;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "golden",
    arguments: "[--check]",
    summary: "Makes the reference clips of the circuit with ngspice",
    details: "\
Prints the decks of tests/data/golden/clips.txt with the program, runs ngspice on them and keeps what
comes out beside that list, with index.txt, by the recipe in tests/python/golden.py. Only clips that are
missing or were made from another deck are made; each takes about a minute, all of them about forty.
It can be interrupted and goes on where it was. Needed when the circuit's elements or laws change.

  --check   makes no clip but one, on the side, and compares; fails when a deck is not that of its clip",
    run,
};

/// The clip that `--check` makes.
const CHECKED: &str = "nominal-1k-p4";
/// How close it must come, in dB.
const SAME_DB: f64 = -120.0;

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    let check = match arguments {
        [] => false,
        [option] if option == "--check" => true,
        _ => return Err(format!("'golden' takes {}", COMMAND.arguments)),
    };
    if tools::find_program(&["ngspice"]).is_none() {
        return Err("ngspice is not here; to install it: cargo xtask setup".to_owned());
    }
    let mut build = workspace.cargo(["build", "--release", "--bin", "penstock"]);
    tools::run(&mut build).map_err(|error| format!("the program does not build ({error})"))?;
    let name = format!("penstock{}", std::env::consts::EXE_SUFFIX);
    let mut request = json!({
        "do": if check { "check" } else { "make" },
        "folder": workspace.root.join("tests/data/golden"),
        "program": workspace.target.join("release").join(name),
    });
    if check {
        request["clips"] = json!([CHECKED]);
    }
    let answer = script(workspace, &request)?;
    if check { verdict(&answer) } else { Ok(()) }
}

/// Runs the script; its progress is shown as it comes.
fn script(workspace: &Workspace, request: &Value) -> Result<String, String> {
    let mut child = Process::new(setup::python::interpreter(workspace))
        .arg(workspace.root.join("tests/python/golden.py"))
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|error| {
            format!("Python does not start ({error}); cargo xtask setup installs it")
        })?;
    if let Some(mut input) = child.stdin.take() {
        // A script that dies early says why itself.
        let _ = input.write_all(request.to_string().as_bytes());
    }
    let output = child
        .wait_with_output()
        .map_err(|error| format!("the script cannot be waited for: {error}"))?;
    if !output.status.success() {
        return Err(format!("the script failed: {}", output.status));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// What the script found, as a result.
fn verdict(answer: &str) -> Result<(), String> {
    let answer: Value = serde_json::from_str(answer)
        .map_err(|error| format!("the script printed no JSON: {error}"))?;
    let stale: Vec<&str> = answer["stale"]
        .as_array()
        .ok_or("the script named no list of stale clips")?
        .iter()
        .filter_map(Value::as_str)
        .collect();
    if !stale.is_empty() {
        let names = stale.join(" ");
        return Err(format!("to be made by 'cargo xtask golden': {names}"));
    }
    let null_db = answer["null_db"][CHECKED]
        .as_f64()
        .ok_or("the script made no clip")?;
    println!("golden: {CHECKED} made anew differs by {null_db:.1} dB");
    if null_db <= SAME_DB {
        Ok(())
    } else {
        Err(format!(
            "{CHECKED} made anew differs by more than {SAME_DB} dB"
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stale_or_distant_clip_is_an_error() {
        let answer = |stale: &str, null_db: f64| {
            json!({ "stale": [stale], "null_db": { CHECKED: null_db } }).to_string()
        };
        let good = json!({ "stale": [], "null_db": { CHECKED: -140.0 } }).to_string();
        assert!(verdict(&good).is_ok());
        assert!(verdict(&answer("nominal-30-p4", -140.0)).is_err());
        let far = json!({ "stale": [], "null_db": { CHECKED: -60.0 } }).to_string();
        assert!(verdict(&far).is_err());
        assert!(verdict("{}").is_err());
    }
}
