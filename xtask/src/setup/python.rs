//! Python packages, pinned, in a virtual environment of the project's own.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use crate::needs::{PYTHON, PythonNeed};
use crate::tools;
use crate::workspace::Workspace;

/// The environment's folder in the workspace's root; git ignores it.
const FOLDER: &str = ".venv";
/// How long to wait before the one retry.
const RETRY_AFTER: Duration = Duration::from_secs(5);
/// Prints `name version` for each distribution named in its arguments, or nothing for an absent one.
const VERSIONS_SCRIPT: &str = "
import sys
from importlib import metadata
for name in sys.argv[1:]:
    try:
        print(name, metadata.version(name))
    except metadata.PackageNotFoundError:
        pass
";

/// The environment's own interpreter, which need not exist yet.
pub fn interpreter(workspace: &Workspace) -> PathBuf {
    let inside = if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    };
    workspace.root.join(FOLDER).join(inside)
}

/// Makes the environment and installs what is missing or of another version.
pub fn prepare(workspace: &Workspace) -> Result<(), String> {
    let python = interpreter(workspace);
    let wrong = wrong(&python, PYTHON);
    if wrong.is_empty() {
        return Ok(());
    }
    println!("setup: these Python packages are missing, or here in another version:");
    for need in &wrong {
        println!("  {:26} {}", pinned(need), need.purpose);
    }
    let attempt = || {
        make_environment(workspace)?;
        install(&python, &wrong)
    };
    if let Err(first) = attempt() {
        println!("setup: {first}; once more in {} s", RETRY_AFTER.as_secs());
        thread::sleep(RETRY_AFTER);
        attempt()?;
    }
    match self::wrong(&python, PYTHON).as_slice() {
        [] => Ok(()),
        still => {
            let names: Vec<String> = still.iter().map(|need| pinned(need)).collect();
            Err(format!(
                "installed, yet not found in {FOLDER}: {}",
                names.join(", ")
            ))
        }
    }
}

/// The needs that the environment does not hold at exactly their version.
fn wrong<'a>(python: &Path, needs: &'a [PythonNeed]) -> Vec<&'a PythonNeed> {
    let output = Command::new(python)
        .args(["-c", VERSIONS_SCRIPT])
        .args(needs.iter().map(|need| need.package))
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .output();
    let text = output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned());
    let text = text.unwrap_or_default();
    let holds = |need: &PythonNeed| {
        text.lines()
            .any(|line| line == format!("{} {}", need.package, need.version))
    };
    needs.iter().filter(|need| !holds(need)).collect()
}

fn make_environment(workspace: &Workspace) -> Result<(), String> {
    if tools::succeeds(Command::new(interpreter(workspace)).args(["-m", "pip", "--version"])) {
        return Ok(());
    }
    println!("setup: making {FOLDER}");
    // --clear: an environment whose interpreter was taken away cannot be mended, only made anew.
    tools::run(
        Command::new(if cfg!(windows) { "python" } else { "python3" })
            .args(["-m", "venv", "--clear", FOLDER])
            .current_dir(&workspace.root),
    )
    .map_err(|error| format!("the environment {FOLDER} could not be made ({error})"))
}

fn install(python: &Path, needs: &[&PythonNeed]) -> Result<(), String> {
    println!("setup: installing them into {FOLDER} (about half a minute)");
    let mut pip = Command::new(python);
    pip.args([
        "-m",
        "pip",
        "install",
        "--quiet",
        "--disable-pip-version-check",
        "--no-input",
    ])
    // Built packages only: a compiler run here would take minutes and fail obscurely.
    .args(["--only-binary", ":all:"])
    .args(needs.iter().map(|need| pinned(need)));
    tools::run(&mut pip).map_err(|error| {
        let line = tools::command_line(&pip);
        format!("Python packages not installed ({error}); to try it by hand: {line}")
    })
}

fn pinned(need: &PythonNeed) -> String {
    format!("{}=={}", need.package, need.version)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_an_interpreter_everything_is_wrong() {
        assert_eq!(
            wrong(Path::new("/no/such/python"), PYTHON).len(),
            PYTHON.len()
        );
    }

    #[test]
    fn a_version_that_is_not_the_pinned_one_is_wrong() {
        let need = |package, version| PythonNeed {
            package,
            version,
            purpose: "a test",
        };
        let needs = [
            need("pip", "0.0.1"),
            need("no-such-distribution-anywhere", "1.0"),
        ];
        assert_eq!(wrong(Path::new("python3"), &needs).len(), 2);
    }

    #[test]
    fn every_need_is_listed_once_with_a_purpose() {
        for need in PYTHON {
            assert!(!need.version.is_empty() && !need.purpose.is_empty());
            assert_eq!(
                PYTHON
                    .iter()
                    .filter(|other| other.package == need.package)
                    .count(),
                1
            );
        }
    }
}
