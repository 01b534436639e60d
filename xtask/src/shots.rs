//! `cargo xtask shots`: pictures of the plugin's window as hosts show it.

mod readme;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command as Process;

use crate::bundle;
use crate::bundle::build::Order;
use crate::bundle::platform::Format;
use crate::command::Command;
use crate::display::Display;
use crate::setup;
use crate::tools;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "shots",
    arguments: "[--readme | FOLDER]",
    summary: "Takes pictures of the plugin's window in hosts",
    details: "\
Builds the bundles with the trap and opens the window in each host, light and dark, at 100 % and
200 %, the smallest and a wide one too, with sound running through it, on a screen of its own. The
pictures are for eyes: nothing is compared. They go into FOLDER, or <target folder>/shots, as
HOST-LOOK-ZOOM.png or HOST-LOOK-ZOOM-SIZE.png. With --readme only the README's three are taken, into
plugin/docs. What it takes is installed by cargo xtask setup. Linux only.",
    run,
};

/// A host that can show the window.
struct Host {
    /// For the picture's name.
    name: &'static str,
    /// What it opens.
    format: Format,
    /// The command up to the arguments that every host gets: bundle, picture, look, zoom in percent.
    command: fn(&Workspace) -> Process,
    /// The programs it needs beside the screen.
    programs: &'static [&'static str],
}

/// Every host.
const HOSTS: &[Host] = &[
    Host {
        name: "pedalboard",
        format: Format::Vst3,
        command: |workspace| script(workspace, "shot_pedalboard.py"),
        programs: &["xdotool", "import", "identify"],
    },
    Host {
        name: "clack",
        format: Format::Clap,
        command: |workspace| {
            let mut command = workspace.cargo(["run", "--quiet", "--release"]);
            command.args(["--package", "penstock-tests", "--bin", "clap_window", "--"]);
            command
        },
        programs: &["convert"],
    },
];

/// How the window can look.
const LOOKS: &[&str] = &["light", "dark"];
/// Zooms in percent.
const ZOOMS: &[u16] = &[100, 200];
/// Sizes in points beside the one that the window comes with, each at 100 %.
const SIZES: &[&str] = &["760x480", "1280x800"];

/// A script of the tests, under the project's own interpreter.
fn script(workspace: &Workspace, name: &str) -> Process {
    let mut command = Process::new(setup::python::interpreter(workspace));
    command.arg(workspace.root.join("tests/python").join(name));
    command
}

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    let folder = match arguments {
        [] => workspace.target.join("shots"),
        [only] if only == "--readme" => return readme::take_all(workspace),
        [folder] if !folder.starts_with('-') => std::path::absolute(folder)
            .map_err(|error| format!("'{folder}' is no folder: {error}"))?,
        _ => return Err(format!("'shots' takes {}", COMMAND.arguments)),
    };
    fs::create_dir_all(&folder)
        .map_err(|error| format!("{} cannot be made: {error}", folder.display()))?;
    let stage = Stage::set(workspace)?;
    let mut failures = Vec::new();
    for host in HOSTS {
        if let Some(lacking) = lacking(host) {
            failures.push(format!(
                "{} needs {lacking}; to install it: cargo xtask setup",
                host.name
            ));
            continue;
        }
        for picture in pictures(host) {
            let mut command = stage.command(workspace, host);
            command.args(picture.arguments(&folder));
            failures.extend(take(&picture.path(&folder), &mut command).err());
        }
    }
    match failures.as_slice() {
        [] => Ok(()),
        several => Err(several.join("\nerror: ")),
    }
}

/// A screen, and what is shown on it.
struct Stage {
    display: Display,
    bundles: PathBuf,
}

impl Stage {
    fn set(workspace: &Workspace) -> Result<Self, String> {
        let display = Display::start()?.ok_or(
            "a screen cannot be started here; to install what it takes: cargo xtask setup",
        )?;
        let trap = Order {
            trap: true,
            ..Order::default()
        };
        let bundles = bundle::make(workspace, &trap)?;
        Ok(Self { display, bundles })
    }

    /// A host with its bundle; the picture's arguments are still to come.
    fn command(&self, workspace: &Workspace, host: &Host) -> Process {
        let mut command = (host.command)(workspace);
        command.arg(self.bundles.join(host.format.bundle()));
        self.display.tell(&mut command);
        // With a rig, as most days; and this user's settings are not for pictures.
        let settings = workspace.root.join("tests/data/settings");
        command.env("PENSTOCK_CONFIG_FOLDER", settings);
        command
    }
}

/// Runs a host for one picture and says where it is.
fn take(picture: &Path, command: &mut Process) -> Result<(), String> {
    tools::run(command).map_err(|error| {
        let line = tools::command_line(command);
        format!("no {} ({error}); to repeat it: {line}", picture.display())
    })?;
    if !picture.is_file() {
        return Err(format!("the host left no {}", picture.display()));
    }
    println!("  {}", picture.display());
    Ok(())
}

/// The first program that a host needs and that is not here.
fn lacking(host: &Host) -> Option<&'static str> {
    let mut names = host.programs.iter().copied();
    names.find(|name| tools::find_program(&[name]).is_none())
}

/// One picture to take.
struct Picture {
    host: &'static str,
    look: &'static str,
    zoom_percent: u16,
    /// As the hosts want it; none for the window's own.
    size: Option<&'static str>,
}

impl Picture {
    fn path(&self, folder: &Path) -> PathBuf {
        let (host, look, zoom) = (self.host, self.look, self.zoom_percent);
        let size = self.size.map_or(String::new(), |size| format!("-{size}"));
        folder.join(format!("{host}-{look}-{zoom}{size}.png"))
    }

    fn arguments(&self, folder: &Path) -> Vec<PathBuf> {
        let zoom = self.zoom_percent.to_string();
        let mut arguments = vec![self.path(folder), self.look.into(), zoom.into()];
        arguments.extend(self.size.map(PathBuf::from));
        arguments
    }
}

/// Every picture of a host.
fn pictures(host: &Host) -> impl Iterator<Item = Picture> + use<> {
    let host = host.name;
    let own = ZOOMS.iter().map(|zoom| (*zoom, None));
    let forms = own.chain(SIZES.iter().map(|size| (100, Some(*size))));
    LOOKS.iter().flat_map(move |look| {
        forms.clone().map(move |(zoom_percent, size)| Picture {
            host,
            look,
            zoom_percent,
            size,
        })
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_picture_has_a_name_of_its_own() {
        let folder = Path::new("shots");
        let all: Vec<PathBuf> = HOSTS
            .iter()
            .flat_map(pictures)
            .map(|picture| picture.path(folder))
            .collect();
        let names: BTreeSet<&PathBuf> = all.iter().collect();
        let forms = ZOOMS.len() + SIZES.len();
        assert_eq!(names.len(), HOSTS.len() * LOOKS.len() * forms);
        assert_eq!(names.len(), all.len());
        assert!(
            all.contains(&folder.join("pedalboard-light-100.png")),
            "{all:?}"
        );
    }

    #[test]
    fn a_host_without_its_programs_is_told_so() {
        let host = Host {
            programs: &["no-such-program-anywhere"],
            ..HOSTS[0]
        };
        assert_eq!(lacking(&host), Some("no-such-program-anywhere"));
    }
}
