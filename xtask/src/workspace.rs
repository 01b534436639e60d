//! Where the project is and where cargo builds it, as cargo itself says.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// The workspace as `cargo metadata` describes it.
pub struct Workspace {
    /// The folder of the workspace's own Cargo.toml.
    pub root: PathBuf,
    /// Where cargo puts what it builds; a user may have moved it anywhere.
    pub target: PathBuf,
    /// The member packages as cargo lists them, dependencies included.
    pub packages: Vec<Value>,
}

impl Workspace {
    /// Asks cargo, starting from this package's folder, so that the caller's folder does not matter.
    pub fn find() -> Result<Self, String> {
        let here = std::env::var_os("CARGO_MANIFEST_DIR")
            .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")), PathBuf::from);
        let output = cargo_in(&here)
            .args(["metadata", "--no-deps", "--format-version", "1"])
            .output()
            .map_err(|error| format!("cargo could not be started: {error}"))?;
        if !output.status.success() {
            let words = String::from_utf8_lossy(&output.stderr);
            return Err(format!("cargo metadata failed: {}", words.trim()));
        }
        let metadata: Value = serde_json::from_slice(&output.stdout)
            .map_err(|error| format!("cargo metadata answered no JSON: {error}"))?;
        let folder = |key: &str| {
            metadata[key]
                .as_str()
                .map(PathBuf::from)
                .ok_or_else(|| format!("cargo metadata names no {key}"))
        };
        let packages = metadata["packages"].as_array().cloned().unwrap_or_default();
        Ok(Self {
            root: folder("workspace_root")?,
            target: folder("target_directory")?,
            packages,
        })
    }

    /// Cargo with these arguments, in the workspace's root.
    pub fn cargo<const N: usize>(&self, arguments: [&str; N]) -> Command {
        let mut command = cargo_in(&self.root);
        command.args(arguments);
        command
    }

    /// Whether cargo knows this subcommand, installed or built in.
    pub fn has_cargo(&self, subcommand: &str) -> bool {
        self.cargo([subcommand, "--version"])
            .output()
            .is_ok_and(|output| output.status.success())
    }
}

/// Cargo in a folder, without the variables that describe xtask's own package: left in place, they
/// would look like changes to build scripts that ask for them, and cost needless rebuilding.
fn cargo_in(folder: &Path) -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.current_dir(folder);
    for (name, _) in std::env::vars_os() {
        let text = name.to_string_lossy();
        if text.starts_with("CARGO_PKG_") || text.starts_with("CARGO_MANIFEST_") {
            command.env_remove(&name);
        }
    }
    command
}
