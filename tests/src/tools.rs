//! The tools a test needs: the program itself and a Python with its packages.

use std::env;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

use serde_json::Value;

/// The folder of the workspace.
#[must_use]
pub fn workspace_dir() -> PathBuf {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    tests
        .parent()
        .expect("this package lies in the workspace's folder")
        .to_path_buf()
}

/// The sentence a test ends with when the machine lacks `what`.
#[must_use]
pub fn missing(what: &str) -> String {
    format!("{what} is missing: run `cargo xtask setup`, which installs what the tests need")
}

/// The folder of settings that tests run the plugin with: a remembered rig, all defaults.
#[must_use]
pub fn settings_dir() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/settings")
}

/// Keeps the plugin, in this process and those it starts, away from the settings of whoever runs the
/// tests. To be called before a bundle is loaded; a folder that is named already stays.
pub fn use_test_settings() {
    const NAME: &str = "PENSTOCK_CONFIG_FOLDER";
    if env::var_os(NAME).is_none() {
        // SAFETY: tests that load a bundle each have a process of their own, whose other threads do not
        // change the environment.
        unsafe { env::set_var(NAME, settings_dir()) };
    }
}

/// Has a browser without a window open a page, with more options; its profile stays in `folder`.
///
/// # Panics
/// When there is no browser.
#[must_use]
pub fn browse(folder: &Path, page: &Path, options: &[&str]) -> Output {
    let browser = env::var_os("PENSTOCK_CHROMIUM").unwrap_or_else(|| "chromium".into());
    let output = Command::new(browser)
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
        ])
        .arg(format!(
            "--user-data-dir={}",
            folder.join("profile").display()
        ))
        .args(options)
        .arg(format!("file://{}", page.display()))
        .output();
    output.unwrap_or_else(|error| panic!("{}: {error}", missing("chromium")))
}

/// Whether the slow cases are to run too (`PENSTOCK_LONG` set and not `0`).
#[must_use]
pub fn long() -> bool {
    env::var_os("PENSTOCK_LONG").is_some_and(|value| !value.is_empty() && value != "0")
}

/// Path of the program: `PENSTOCK_BIN`, else the workspace's release build.
///
/// The build is asked for once in each test process; cargo does nothing when it is up to date, and
/// so the tests never judge a program older than its source.
///
/// # Panics
/// When the program named does not exist or does not build.
#[must_use]
pub fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| match env::var_os("PENSTOCK_BIN") {
        Some(path) => {
            let path = PathBuf::from(path);
            assert!(
                path.is_file(),
                "PENSTOCK_BIN names {}, which is no file",
                path.display()
            );
            path
        }
        None => build_program(),
    })
}

/// Path of `name` in the folder of bundles to test, `PENSTOCK_BUNDLES`.
///
/// # Panics
/// When the variable is not set, or the bundle is not there.
#[must_use]
pub fn bundle(name: &str) -> PathBuf {
    let how = "run `cargo xtask test`, which builds the bundles and sets it";
    let folder = env::var_os("PENSTOCK_BUNDLES")
        .unwrap_or_else(|| panic!("PENSTOCK_BUNDLES is not set: {how}"));
    let path = Path::new(&folder).join(name);
    assert!(
        path.exists(),
        "PENSTOCK_BUNDLES names no folder with {name} ({}): {how}",
        path.display()
    );
    path
}

fn build_program() -> PathBuf {
    let cargo = env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let built = Command::new(&cargo)
        .args(["build", "--quiet", "--release", "--bin", "penstock"])
        .current_dir(workspace_dir())
        .output()
        .unwrap_or_else(|error| panic!("cargo does not start: {error}"));
    let messages = String::from_utf8_lossy(&built.stderr);
    assert!(
        built.status.success(),
        "the program does not build:\n{messages}"
    );
    let path = target_dir(&cargo).join("release").join("penstock");
    assert!(path.is_file(), "cargo built no {}", path.display());
    path
}

fn target_dir(cargo: &std::ffi::OsStr) -> PathBuf {
    let metadata = Command::new(cargo)
        .args(["metadata", "--format-version=1", "--no-deps"])
        .current_dir(workspace_dir())
        .output()
        .unwrap_or_else(|error| panic!("cargo does not start: {error}"));
    let metadata: Value =
        serde_json::from_slice(&metadata.stdout).expect("cargo metadata prints JSON");
    PathBuf::from(
        metadata["target_directory"]
            .as_str()
            .expect("it names the target folder"),
    )
}

/// Runs `script` of the folder `python` with `input` as JSON on its standard input, and gives the
/// JSON that it prints.
///
/// # Panics
/// When Python or a package is missing (naming the command that installs it) or the script fails.
#[must_use]
pub fn python(script: &str, input: &Value) -> Value {
    let python = env::var_os("PENSTOCK_PYTHON")
        .map_or_else(|| workspace_dir().join(".venv/bin/python"), PathBuf::from);
    let script = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("python")
        .join(script);
    let mut child = Command::new(&python)
        .arg(&script)
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .env("PENSTOCK_CONFIG_FOLDER", settings_dir())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|_| panic!("{}", missing(&format!("Python ({})", python.display()))));
    let mut stdin = child.stdin.take().expect("it was asked for above");
    // A script that dies early closes the pipe; its own message tells why, below.
    let _ = stdin.write_all(input.to_string().as_bytes());
    drop(stdin);
    let output = child
        .wait_with_output()
        .expect("a started child can be waited for");
    let errors = String::from_utf8_lossy(&output.stderr);
    if errors.contains("ModuleNotFoundError") {
        panic!("{}\n{errors}", missing("a Python package"));
    }
    assert!(
        output.status.success(),
        "{} failed:\n{errors}",
        script.display()
    );
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{} printed no JSON: {error}", script.display()))
}
