//! The README's pictures: the window in a CLAP host, with as few colours as look the same.

use std::fs;
use std::path::Path;
use std::process::Command as Process;

use super::{HOSTS, Host, Stage, lacking, take};
use crate::bundle::platform::Format;
use crate::tools;
use crate::workspace::Workspace;

/// A picture of the README.
struct Picture {
    /// Its file in `plugin/docs`.
    file: &'static str,
    /// What `clap_window` takes after it: look, zoom, size, what is unfolded.
    words: &'static [&'static str],
    /// Whether no rig is remembered yet.
    first_use: bool,
}

/// All of them, in the README's order.
const PICTURES: [Picture; 3] = [
    Picture {
        file: "window.png",
        words: &["light", "100", "1280x800"],
        first_use: false,
    },
    Picture {
        file: "window-dark.png",
        words: &["dark", "100", "860x900", "harmonics"],
        first_use: false,
    },
    Picture {
        file: "window-rig.png",
        words: &["light", "100", "760x480"],
        first_use: true,
    },
];

/// Colours of a picture: letters' edges make most of them.
const COLOURS: &str = "128";

/// Takes them.
pub fn take_all(workspace: &Workspace) -> Result<(), String> {
    let is_clap = |host: &&Host| host.format == Format::Clap;
    let host = HOSTS.iter().find(is_clap).ok_or("there is no CLAP host")?;
    if let Some(lacking) = lacking(host) {
        return Err(format!(
            "{} needs {lacking}; to install it: cargo xtask setup",
            host.name
        ));
    }
    let stage = Stage::set(workspace)?;
    // The form only asks: nothing is written there.
    let empty = std::env::temp_dir().join(format!("penstock-shots-{}", std::process::id()));
    fs::create_dir_all(&empty)
        .map_err(|error| format!("{} cannot be made: {error}", empty.display()))?;
    let mut taken = Ok(());
    for picture in PICTURES {
        let path = workspace.root.join("plugin/docs").join(picture.file);
        let mut command = stage.command(workspace, host);
        command.arg(&path).args(picture.words);
        if picture.first_use {
            command.env("PENSTOCK_CONFIG_FOLDER", &empty);
        }
        taken = take(&path, &mut command).and_then(|()| make_small(&path));
        if taken.is_err() {
            break;
        }
    }
    let _ = fs::remove_dir(&empty);
    taken
}

fn make_small(path: &Path) -> Result<(), String> {
    let mut command = Process::new("convert");
    command
        .arg(path)
        .args(["-strip", "+dither", "-colors", COLOURS])
        .args(["-define", "png:compression-level=9"])
        .arg(format!("PNG8:{}", path.display()));
    tools::run(&mut command).map_err(|error| format!("{}: {error}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_readme_shows_exactly_these() {
        let readme = concat!(env!("CARGO_MANIFEST_DIR"), "/../README.md");
        let readme = fs::read_to_string(readme).expect("the README");
        let shown: Vec<&str> = readme
            .split("](plugin/docs/")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
            .filter(|file| file.starts_with("window"))
            .collect();
        assert_eq!(shown, PICTURES.map(|picture| picture.file));
    }
}
