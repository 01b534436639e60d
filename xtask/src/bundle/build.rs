//! Builds the library of a bundle: the flags that make it the same bytes in every folder, and where
//! cargo says it lies.

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use super::platform::Platform;
use crate::tools;
use crate::workspace::Workspace;

/// The variable that cargo reads first, and what stands between two flags there.
const ENCODED: &str = "CARGO_ENCODED_RUSTFLAGS";
const SEPARATOR: &str = "\u{1f}";
/// The one that people write, where no flag can hold a blank.
const PLAIN: &str = "RUSTFLAGS";

/// What to build.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Order {
    /// With every assertion, and an audio thread that aborts when it allocates.
    pub trap: bool,
    /// For this target triple instead of the machine's own.
    pub target: Option<String>,
}

impl Order {
    /// The features of the plugin's package.
    pub fn features(&self) -> &'static str {
        if self.trap { "editor,trap" } else { "editor" }
    }

    /// The cargo profile.
    pub fn profile(&self) -> &'static str {
        if self.trap { "trap" } else { "release" }
    }
}

/// A machine's own target triple, and whether an order is for another.
pub struct Target {
    /// The triple that is built for.
    pub triple: String,
    /// Whether the machine can run what is built.
    pub is_host: bool,
    /// Its layout.
    pub platform: Platform,
}

impl Target {
    /// Asks rustc for the machine's own triple.
    pub fn of(order: &Order) -> Result<Self, String> {
        let host = rustc_says("host: ")?;
        let triple = order.target.clone().unwrap_or_else(|| host.clone());
        Ok(Self {
            platform: Platform::of(&triple)?,
            is_host: triple == host,
            triple,
        })
    }
}

/// The rest of the line of `rustc -vV` that starts so.
pub fn rustc_says(start: &str) -> Result<String, String> {
    let output = rustc()
        .arg("-vV")
        .output()
        .map_err(|error| format!("rustc could not be started: {error}"))?;
    String::from_utf8_lossy(&output.stdout)
        .lines()
        .find_map(|line| line.strip_prefix(start).map(str::to_owned))
        .ok_or_else(|| format!("rustc -vV has no line '{start}'"))
}

/// The compiler that cargo uses.
pub fn rustc() -> Command {
    Command::new(std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into()))
}

/// Where bundles are built: apart, for their flags would make cargo build everything anew.
pub fn folder(workspace: &Workspace) -> PathBuf {
    workspace.target.join("bundle")
}

/// Builds the library into this target folder; answers where it is.
pub fn library(
    workspace: &Workspace,
    order: &Order,
    target: &Target,
    folder: &Path,
) -> Result<PathBuf, String> {
    // Not `build`: only what hosts load, whatever kinds of library the manifest asks for.
    let mut cargo = workspace.cargo(["rustc", "--package", "penstock", "--lib"]);
    cargo.args(["--crate-type", "cdylib"]);
    cargo.args(["--profile", order.profile()]);
    Selection::new(workspace, order, folder).tell(&mut cargo);
    // The machine's own triple is left out: given, cargo would build the same things elsewhere.
    if !target.is_host {
        cargo.args(["--target", &target.triple]);
    }
    cargo
        .arg("--message-format=json-render-diagnostics")
        .stderr(Stdio::inherit());
    let output = cargo
        .output()
        .map_err(|error| format!("cargo could not be started: {error}"))?;
    if !output.status.success() {
        return Err(format!(
            "the library could not be built ({}); to repeat it: {}",
            output.status,
            tools::command_line(&cargo)
        ));
    }
    shared_library(&String::from_utf8_lossy(&output.stdout))
        .ok_or_else(|| "cargo built no shared library".to_owned())
}

/// What cargo is told to build as a bundle is built; tests that are told the same share the work.
pub struct Selection {
    features: &'static str,
    folder: PathBuf,
    flags: Vec<OsString>,
}

impl Selection {
    /// Of an order, in the given target folder.
    pub fn new(workspace: &Workspace, order: &Order, folder: &Path) -> Self {
        Self {
            features: order.features(),
            folder: folder.to_owned(),
            flags: flags(&remaps(workspace, folder)),
        }
    }

    /// Tells it.
    pub fn tell(&self, cargo: &mut Command) {
        cargo.args(["--no-default-features", "--features", self.features]);
        cargo.arg("--target-dir").arg(&self.folder);
        // Plain when that will do: a command line shown to be repeated should be fit to be typed.
        let blank = |word: &OsString| word.to_string_lossy().contains(char::is_whitespace);
        if self.flags.iter().any(blank) {
            cargo.env(ENCODED, self.flags.join(OsStr::new(SEPARATOR)));
        } else {
            cargo.env_remove(ENCODED);
            cargo.env(PLAIN, self.flags.join(OsStr::new(" ")));
        }
    }
}

/// What cargo's messages name as the library that hosts load.
fn shared_library(messages: &str) -> Option<PathBuf> {
    let artifacts = messages
        .lines()
        .filter_map(|line| serde_json::from_str::<Value>(line).ok())
        .filter(|message| message["reason"] == "compiler-artifact")
        .filter(|message| {
            let kinds = message["target"]["kind"].as_array();
            message["target"]["name"] == "penstock"
                && kinds.is_some_and(|kinds| kinds.iter().any(|kind| kind == "cdylib"))
        });
    let names = artifacts.flat_map(|message| {
        let names = message["filenames"].as_array().cloned().unwrap_or_default();
        names
            .into_iter()
            .filter_map(|name| name.as_str().map(PathBuf::from))
    });
    names.into_iter().find(|name| {
        name.extension()
            .is_some_and(|end| end == "so" || end == "dll" || end == "dylib")
    })
}

/// Folders of this machine and what stands for them in the library; later ones win, so the more
/// exact come last.
fn remaps(workspace: &Workspace, folder: &Path) -> Vec<(PathBuf, &'static str)> {
    let homes = private_folders().into_iter();
    let mut remaps: Vec<(PathBuf, &str)> = homes.zip(["/home", "/cargo"]).collect();
    remaps.push((workspace.root.clone(), "/penstock"));
    remaps.push((folder.to_owned(), "/target"));
    remaps
}

/// The user's own folder and cargo's, as far as they are known; none shall be named in a library.
pub fn private_folders() -> Vec<PathBuf> {
    let home = std::env::home_dir().unwrap_or_default();
    let cargo = std::env::var_os("CARGO_HOME").map_or_else(|| home.join(".cargo"), PathBuf::from);
    vec![home, cargo]
}

/// The user's own flags, then ours.
fn flags(remaps: &[(PathBuf, &str)]) -> Vec<OsString> {
    let mut words: Vec<OsString> = Vec::new();
    if let Ok(encoded) = std::env::var(ENCODED) {
        words.extend(encoded.split(SEPARATOR).map(OsString::from));
    } else if let Ok(plain) = std::env::var(PLAIN) {
        words.extend(plain.split_whitespace().map(OsString::from));
    }
    words.retain(|word| !word.is_empty());
    for (from, to) in remaps {
        // An empty path or the root would rewrite every path there is.
        if from.components().count() > 1 {
            let mut word = OsString::from("--remap-path-prefix=");
            word.push(from);
            word.push(format!("={to}"));
            words.push(word);
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_library_is_the_one_that_cargo_names() {
        let messages = concat!(
            "not JSON\n",
            r#"{"reason":"compiler-artifact","target":{"name":"other","kind":["cdylib"]},"filenames":["/t/libother.so"]}"#,
            "\n",
            r#"{"reason":"compiler-artifact","target":{"name":"penstock","kind":["cdylib","lib"]},"filenames":["/t/libpenstock.rlib","/t/libpenstock.so"]}"#,
            "\n",
            r#"{"reason":"build-finished","success":true}"#,
        );
        assert_eq!(
            shared_library(messages),
            Some(PathBuf::from("/t/libpenstock.so"))
        );
        assert_eq!(shared_library(""), None);
    }

    #[test]
    fn a_path_may_hold_blanks_and_the_root_is_never_rewritten() {
        let remaps = [
            (PathBuf::from("/"), "/home"),
            (PathBuf::new(), "/cargo"),
            (PathBuf::from("/a b"), "/penstock"),
        ];
        let flags = flags(&remaps);
        let ours: Vec<&OsString> = flags
            .iter()
            .filter(|flag| flag.to_string_lossy().starts_with("--remap-path-prefix="))
            .collect();
        assert_eq!(ours, ["--remap-path-prefix=/a b=/penstock"]);
        let told = |flags: &[&str]| {
            let mut command = Command::new("cargo");
            let selection = Selection {
                features: "editor",
                folder: PathBuf::new(),
                flags: flags.iter().map(OsString::from).collect(),
            };
            selection.tell(&mut command);
            let mut set = command
                .get_envs()
                .filter_map(|(name, value)| Some((name, value?)));
            set.next()
                .map(|(name, value)| (name.to_owned(), value.to_owned()))
        };
        assert_eq!(told(&["-a", "-b"]), Some((PLAIN.into(), "-a -b".into())));
        assert_eq!(
            told(&["-a b", "-c"]),
            Some((ENCODED.into(), "-a b\u{1f}-c".into()))
        );
    }

    #[test]
    fn the_trap_is_never_what_is_released() {
        let trap = Order {
            trap: true,
            target: None,
        };
        assert_ne!(trap.profile(), Order::default().profile());
        assert!(trap.features().contains("trap") && !Order::default().features().contains("trap"));
    }

    #[test]
    fn rustc_knows_this_machine() {
        assert!(Target::of(&Order::default()).expect("a known host").is_host);
        assert!(rustc_says("no such line: ").is_err());
    }
}
