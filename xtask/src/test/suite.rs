//! One set of tests that cargo builds and runs together, and what its tests are told.

use std::path::PathBuf;
use std::process::{Command, Stdio};

use crate::bundle::build::{self, Order, Selection};
use crate::display::Display;
use crate::setup;
use crate::workspace::Workspace;

/// The package of the window's tests, which the default build does not touch.
pub const WINDOW: &str = "penstock-window-tests";

/// What the tests are given.
pub struct Given<'a> {
    /// The project.
    pub workspace: &'a Workspace,
    /// Whether the slow cases run as well.
    pub long: bool,
    /// The folder that holds the bundles with the trap.
    pub bundles: PathBuf,
    /// A screen, when there can be one.
    pub display: Option<Display>,
}

impl Given<'_> {
    /// Tells a command where things are, in its environment.
    pub fn tell(&self, command: &mut Command) {
        let program = format!("penstock{}", std::env::consts::EXE_SUFFIX);
        let program = self.workspace.target.join("release").join(program);
        command.env("PENSTOCK_BIN", program);
        let python = setup::python::interpreter(self.workspace);
        command.env("PENSTOCK_PYTHON", python);
        command.env("PENSTOCK_BUNDLES", &self.bundles);
        // This user's settings are not the tests'.
        let settings = self.workspace.root.join("tests/data/settings");
        command.env("PENSTOCK_CONFIG_FOLDER", settings);
        if let Some(chromium) = setup::chromium() {
            command.env("PENSTOCK_CHROMIUM", chromium);
        }
        if let Some(display) = &self.display {
            display.tell(command);
        }
        if self.long {
            command.env("PENSTOCK_LONG", "1");
        } else {
            // Not inherited by chance: what ran is what was asked for.
            command.env_remove("PENSTOCK_LONG");
        }
    }
}

/// A set of tests.
pub struct Suite {
    /// The step's name.
    pub name: &'static str,
    packages: &'static [&'static str],
    profile: &'static str,
    /// Features, flags and folder, when they are not the usual ones.
    selection: Option<Selection>,
}

impl Suite {
    /// Every package with its usual features, but the one that would bring the window into all of them.
    pub fn workspace() -> Self {
        Self {
            name: "tests",
            packages: &["--workspace", "--exclude", WINDOW],
            profile: "release",
            selection: None,
        }
    }

    /// The plugin with its window and the tests of it, built just as the bundle with the trap, so that
    /// what takes minutes to build is built once.
    pub fn window(workspace: &Workspace) -> Self {
        let order = Order {
            trap: true,
            ..Order::default()
        };
        let folder = build::folder(workspace);
        Self {
            name: "window",
            packages: &["--package", "penstock", "--package", WINDOW],
            profile: order.profile(),
            selection: Some(Selection::new(workspace, &order, &folder)),
        }
    }

    /// The command that runs those whose names contain one of the words.
    pub fn run(&self, given: &Given, words: &[String]) -> Command {
        let mut command = if given.workspace.has_cargo("nextest") {
            let mut command = given.workspace.cargo(["nextest", "run", "--no-fail-fast"]);
            command.args(["--cargo-profile", self.profile]);
            self.choose(&mut command);
            command
        } else {
            let mut command = self.plain(given);
            command.args(["--no-fail-fast", "--"]);
            command
        };
        command.args(words);
        given.tell(&mut command);
        command
    }

    /// Whether any test's name contains one of the words.
    pub fn has_any(&self, given: &Given, words: &[String]) -> Result<bool, String> {
        let mut list = self.plain(given);
        list.args(["--", "--list"]).args(words);
        let output = list
            .stderr(Stdio::inherit())
            .output()
            .map_err(|error| format!("cargo could not be started: {error}"))?;
        if !output.status.success() {
            return Err("the tests could not be built".to_owned());
        }
        let text = String::from_utf8_lossy(&output.stdout);
        Ok(text.lines().any(|line| line.ends_with(": test")))
    }

    /// `cargo test` of everything but the documentation.
    fn plain(&self, given: &Given) -> Command {
        let mut command = given
            .workspace
            .cargo(["test", "--lib", "--bins", "--tests"]);
        command.args(["--profile", self.profile]);
        self.choose(&mut command);
        command
    }

    fn choose(&self, command: &mut Command) {
        command.args(self.packages);
        if let Some(selection) = &self.selection {
            selection.tell(command);
        }
    }
}
