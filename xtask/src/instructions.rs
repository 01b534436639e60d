//! How many instructions the signal code takes, held against the counts that were recorded.
//!
//! Callgrind shows every program the same processor wherever it has AVX2, and the bench starts with
//! an empty environment: so a count depends on the compiler and the C library, not on the machine.

mod counts;

use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;

use crate::setup::runner;
use crate::tools;
use crate::workspace::Workspace;
use counts::Counts;

/// Where the counts that hold are kept.
const FILE: &str = "dsp/benches/instructions/counts.txt";
/// What to type when counts have moved for a reason.
const RECORD: &str = "cargo xtask bench --record";

/// Why instructions are not counted here; `None` where they are.
pub fn idle_because() -> Option<&'static str> {
    #[cfg(all(target_os = "linux", target_arch = "x86_64"))]
    {
        let able = is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma");
        (!able).then_some("the counts are of the code for AVX2 with FMA, which are not here")
    }
    #[cfg(not(all(target_os = "linux", target_arch = "x86_64")))]
    {
        Some("the counts are of Linux on x86-64")
    }
}

/// Counts, shows and compares.
///
/// # Errors
/// When a count has moved too far either way, or could not be taken.
pub fn compare(workspace: &Workspace) -> Result<(), String> {
    if let Some(reason) = idle_because() {
        println!("instructions: skipped, for {reason}");
        return Ok(());
    }
    let path = workspace.root.join(FILE);
    let text = std::fs::read_to_string(&path)
        .map_err(|error| format!("{FILE}: {error}; to record it: {RECORD}"))?;
    let recorded = Counts::parse(&text).map_err(|error| format!("{FILE}: {error}"))?;
    let found = count(workspace)?;
    println!("{}", recorded.table(&found));
    recorded
        .compare(&found)
        .map_err(|moved| format!("{moved}; if that is meant: {RECORD}"))
}

/// Counts and keeps what was found.
///
/// # Errors
/// When nothing can be counted here, or the file not be written.
pub fn record(workspace: &Workspace) -> Result<(), String> {
    if let Some(reason) = idle_because() {
        return Err(format!("instructions cannot be recorded here: {reason}"));
    }
    let path = workspace.root.join(FILE);
    let found = count(workspace)?;
    let before = std::fs::read_to_string(&path).unwrap_or_default();
    if let Ok(before) = Counts::parse(&before) {
        println!("{}", before.table(&found));
    }
    std::fs::write(&path, found.text()).map_err(|error| format!("{FILE}: {error}"))?;
    println!("recorded in {FILE}");
    Ok(())
}

fn count(workspace: &Workspace) -> Result<Counts, String> {
    let bench = build(workspace)?;
    let mut path = vec![runner::folder(workspace)];
    let usual = std::env::var_os("PATH").unwrap_or_default();
    path.extend(std::env::split_paths(&usual));
    let path = std::env::join_paths(path).map_err(|error| error.to_string())?;
    let output = Command::new(bench)
        .args(["--bench", "--output-format=json"])
        // Caches are another matter, and simulating them takes time.
        .arg("--callgrind-args=--cache-sim=no")
        .env("PATH", path)
        .env("GUNGRAUN_HOME", workspace.target.join("gungraun"))
        .current_dir(&workspace.root)
        .output()
        .map_err(|error| format!("the bench of instructions did not start: {error}"))?;
    if !output.status.success() {
        let words = String::from_utf8_lossy(&output.stderr);
        return Err(format!("the bench of instructions failed:\n{words}"));
    }
    let text = String::from_utf8_lossy(&output.stdout);
    let counts: Option<Vec<(String, u64)>> = text
        .lines()
        .map(|line| {
            let bench: Value = serde_json::from_str(line).ok()?;
            let metrics = &bench["profiles"][0]["data"]["total"]["metrics"];
            let count = metrics["Ir"]["values"]["new"].as_u64()?;
            Some((bench["id"].as_str()?.to_owned(), count))
        })
        .collect();
    match counts {
        Some(counts) if !counts.is_empty() => Ok(Counts {
            tools: tools_of(workspace),
            counts,
        }),
        _ => Err(format!("the bench of instructions counted nothing: {text}")),
    }
}

/// Builds the bench as released, its libraries shared with the tests; only its own names are not
/// stripped, by which callgrind knows where to begin and to end.
fn build(workspace: &Workspace) -> Result<PathBuf, String> {
    let mut command = workspace.cargo(["rustc", "--release", "--package", "penstock-dsp"]);
    command.args(["--bench", "instructions"]);
    command.arg("--message-format=json-render-diagnostics");
    command.args(["--", "-C", "strip=none"]);
    let output = command
        .stderr(std::process::Stdio::inherit())
        .output()
        .map_err(|error| format!("cargo could not be started: {error}"))?;
    let text = String::from_utf8_lossy(&output.stdout);
    let messages = text
        .lines()
        .filter_map(|line| serde_json::from_str::<Value>(line).ok());
    let mut programs = messages.filter_map(|message| {
        let program = message["executable"].as_str().map(PathBuf::from);
        program.filter(|_| message["target"]["name"] == "instructions")
    });
    match programs.next() {
        Some(program) if output.status.success() => Ok(program),
        _ => Err(format!(
            "the bench of instructions was not built ({}); to repeat it: {}",
            output.status,
            tools::command_line(&command)
        )),
    }
}

/// What, beside the code, a count depends on.
fn tools_of(workspace: &Workspace) -> String {
    let first_line = |program: &str| {
        let output = Command::new(program)
            .arg("--version")
            .current_dir(&workspace.root)
            .output();
        let text = output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned());
        let text = text.unwrap_or_default();
        text.lines().next().unwrap_or(program).to_owned()
    };
    ["rustc", "valgrind", "ldd"].map(first_line).join(", ")
}
