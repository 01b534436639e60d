//! Running the program and reading what it says.

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::temp::{Snapshot, TempDir};
use crate::tools::program;

/// No single run of an ordinary test takes longer; a program that hangs fails instead of blocking.
const TIME_LIMIT: Duration = Duration::from_secs(600);

/// What a run of the program left behind.
#[derive(Debug)]
pub struct Outcome {
    /// Exit code; -1 when a signal ended the program.
    pub status: i32,
    /// Everything on standard output.
    pub stdout: String,
    /// Everything on standard error.
    pub stderr: String,
    /// Largest resident memory seen, in bytes (Linux; 0 elsewhere).
    pub peak_memory_bytes: u64,
    /// Processor time of all threads, in seconds, as last seen before the end (Linux; 0 elsewhere).
    pub processor_seconds: f64,
}

/// Runs the program with `args` in a folder of its own that is removed afterwards.
pub fn run<S: AsRef<str>>(args: &[S]) -> Outcome {
    run_in(TempDir::new().path(), args)
}

/// Runs the program with `args` in the folder `dir`.
pub fn run_in<S: AsRef<str>>(dir: &Path, args: &[S]) -> Outcome {
    let mut command = Command::new(program());
    command
        .args(args.iter().map(AsRef::as_ref))
        .current_dir(dir);
    finish(command)
}

/// Runs any prepared command to its end, watching time and memory.
///
/// # Panics
/// When the command does not start or does not end in ten minutes.
pub fn finish(mut command: Command) -> Outcome {
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{command:?} does not start: {error}"));
    let stdout = drain(child.stdout.take().expect("it was asked for above"));
    let stderr = drain(child.stderr.take().expect("it was asked for above"));
    let started = Instant::now();
    let (mut peak_memory_bytes, mut processor_seconds) = (0, 0.0);
    let status = loop {
        if let Some(usage) = usage(&child) {
            (peak_memory_bytes, processor_seconds) = usage;
        }
        if let Some(status) = child.try_wait().expect("a started child can be waited for") {
            break status;
        }
        if started.elapsed() > TIME_LIMIT {
            let _ = child.kill();
            panic!("{command:?} did not end within {} s", TIME_LIMIT.as_secs());
        }
        thread::sleep(Duration::from_millis(2));
    };
    Outcome {
        status: status.code().unwrap_or(-1),
        stdout: stdout.join().expect("the reader does not panic"),
        stderr: stderr.join().expect("the reader does not panic"),
        peak_memory_bytes,
        processor_seconds,
    }
}

fn drain(mut pipe: impl Read + Send + 'static) -> thread::JoinHandle<String> {
    thread::spawn(move || {
        let mut bytes = Vec::new();
        // A broken pipe ends the text early, which the checks on the text then show.
        let _ = pipe.read_to_end(&mut bytes);
        String::from_utf8_lossy(&bytes).into_owned()
    })
}

/// Peak resident bytes and processor seconds so far, from Linux' process files.
fn usage(child: &Child) -> Option<(u64, f64)> {
    let status = fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let peak = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: u64 = peak.trim().trim_end_matches("kB").trim().parse().ok()?;
    let stat = fs::read_to_string(format!("/proc/{}/stat", child.id())).ok()?;
    // Fields 14 and 15 (proc(5)) in ticks of 1/100 s; the name before may itself hold spaces.
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks: f64 = fields.get(11)?.parse::<f64>().ok()? + fields.get(12)?.parse::<f64>().ok()?;
    Some((kilobytes * 1024, ticks / 100.0))
}

/// Runs the program with `args` and `--json`, which must succeed, and gives its JSON object.
#[track_caller]
pub fn json<S: AsRef<str>>(args: &[S]) -> Value {
    json_in(TempDir::new().path(), args)
}

/// As [`json`], in the folder `dir`.
///
/// # Panics
/// When the program fails, or standard output is not one JSON object and nothing else.
#[track_caller]
pub fn json_in<S: AsRef<str>>(dir: &Path, args: &[S]) -> Value {
    let mut args: Vec<&str> = args.iter().map(AsRef::as_ref).collect();
    args.push("--json");
    let outcome = run_in(dir, &args);
    assert_eq!(
        outcome.status, 0,
        "penstock {args:?} said: {}",
        outcome.stderr
    );
    let value: Value = serde_json::from_str(&outcome.stdout).unwrap_or_else(|error| {
        panic!(
            "penstock {args:?}: not JSON and nothing else ({error}): {}",
            outcome.stdout
        )
    });
    assert!(
        value.is_object(),
        "penstock {args:?}: not a JSON object: {value}"
    );
    value
}

/// Runs the program in an empty folder; it must refuse `args` as [`refused_in`] says.
#[track_caller]
pub fn refused<S: AsRef<str>>(args: &[S], names: &[&str]) -> String {
    refused_in(TempDir::new().path(), args, names)
}

/// Runs the program in `dir`; it must refuse `args`: exit code 2, nothing on standard output, one
/// line on standard error that holds each of `names` (letter case aside; alternatives are parted by
/// `|`), and not a byte in `dir` changed. Gives the line.
///
/// # Panics
/// When any of this does not hold.
#[track_caller]
pub fn refused_in<S: AsRef<str>>(dir: &Path, args: &[S], names: &[&str]) -> String {
    let args: Vec<&str> = args.iter().map(AsRef::as_ref).collect();
    let before = Snapshot::of(dir);
    let outcome = run_in(dir, &args);
    assert_refusal(&outcome, &format!("penstock {args:?}"), names);
    before.assert_unchanged(&format!("penstock {args:?}"));
    outcome.stderr.trim().to_owned()
}

/// Asserts what [`refused_in`] says of a run that is over.
///
/// # Panics
/// When it does not hold.
#[track_caller]
pub fn assert_refusal(outcome: &Outcome, what: &str, names: &[&str]) {
    let Outcome {
        status,
        stdout,
        stderr,
        ..
    } = outcome;
    assert_eq!(
        *status, 2,
        "{what}: exit code; it printed {stdout:?} and said {stderr:?}"
    );
    assert_eq!(stdout, "", "{what}: something on standard output");
    let lines: Vec<&str> = stderr
        .lines()
        .filter(|line| !line.trim().is_empty())
        .collect();
    assert_eq!(
        lines.len(),
        1,
        "{what}: not one line on standard error: {stderr:?}"
    );
    // A minus sign in print is as good as a hyphen.
    let said = lines[0].replace('\u{2212}', "-").to_lowercase();
    for name in names {
        let named = name
            .split('|')
            .any(|word| said.contains(&word.to_lowercase()));
        assert!(
            named,
            "{what}: the message does not name {name:?}: {stderr:?}"
        );
    }
}
