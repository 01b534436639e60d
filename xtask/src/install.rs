//! `cargo xtask install`: builds the bundles and puts them where this user's hosts look.

use std::path::{Path, PathBuf};

use crate::bundle;
use crate::bundle::build::Order;
use crate::bundle::place::Aside;
use crate::bundle::platform::Format;
use crate::command::Command;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "install",
    arguments: "[--into FOLDER]",
    summary: "Builds the plugin and puts it where this user's hosts look",
    details: "\
Builds the bundles (cargo xtask bundle) and copies each into the user's own folder for its kind,
written aside, then renamed; only an older Penstock is replaced.

  Linux     ~/.clap and ~/.vst3
  macOS     ~/Library/Audio/Plug-Ins/CLAP and VST3 (not tested)
  Windows   %LOCALAPPDATA%\\Programs\\Common\\CLAP and VST3 (not tested)
  --into    both into this folder instead",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    let folders = match arguments {
        [] => own_folders()?,
        [option, folder] if option == "--into" => {
            let folder = std::path::absolute(folder)
                .map_err(|error| format!("'{folder}' is no folder: {error}"))?;
            [folder.clone(), folder]
        }
        _ => return Err(format!("'install' takes {}", COMMAND.arguments)),
    };
    let bundles = bundle::make(workspace, &Order::default())?;
    for place in put(&bundles, &folders)? {
        println!("install: {}", place.display());
    }
    Ok(())
}

/// Copies the bundles into place, each into the folder of its kind; answers where they are.
fn put(bundles: &Path, folders: &[PathBuf; 2]) -> Result<Vec<PathBuf>, String> {
    let mut places = Vec::new();
    for (format, folder) in Format::ALL.into_iter().zip(folders) {
        let name = format.bundle();
        let aside = Aside::new(folder)?;
        // By no name that a host would look at: it may be searching this very moment.
        aside.copy(&bundles.join(&name), "new")?;
        places.push(aside.settle("new", &name)?);
    }
    Ok(places)
}

/// This user's folders for CLAP and VST3.
fn own_folders() -> Result<[PathBuf; 2], String> {
    folders_of(std::env::consts::OS, |name| {
        std::env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    })
}

/// The folders by the system's name and environment.
fn folders_of(
    system: &str,
    variable: impl Fn(&str) -> Option<PathBuf>,
) -> Result<[PathBuf; 2], String> {
    let (name, inside) = match system {
        "windows" => (
            "LOCALAPPDATA",
            ["Programs/Common/CLAP", "Programs/Common/VST3"],
        ),
        "macos" => (
            "HOME",
            ["Library/Audio/Plug-Ins/CLAP", "Library/Audio/Plug-Ins/VST3"],
        ),
        _ => ("HOME", [".clap", ".vst3"]),
    };
    let home = variable(name).ok_or_else(|| {
        format!("{name} is not set, so nobody knows whose folders these are; name one with --into")
    })?;
    Ok(inside.map(|folder| home.join(folder)))
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::bundle::temp::Temp;

    #[test]
    fn every_system_has_its_folders_and_no_home_is_refused() {
        let home =
            |wanted: &'static str| move |name: &str| (name == wanted).then(|| PathBuf::from("/me"));
        let of = |system: &str, wanted| folders_of(system, home(wanted)).expect(system);
        assert_eq!(
            of("linux", "HOME"),
            ["/me/.clap", "/me/.vst3"].map(PathBuf::from)
        );
        assert_eq!(
            of("macos", "HOME")[1],
            Path::new("/me/Library/Audio/Plug-Ins/VST3")
        );
        assert_eq!(
            of("windows", "LOCALAPPDATA")[0],
            Path::new("/me/Programs/Common/CLAP")
        );
        let error = folders_of("linux", |_| None).expect_err("no home");
        assert!(error.starts_with("HOME is not set"), "{error}");
    }

    #[test]
    fn an_older_one_is_replaced_and_its_neighbours_stay() {
        let temp = Temp::new("install");
        let bundles = temp.folder().join("bundles");
        let library = bundles.join("Penstock.vst3/Contents/x86_64-linux/Penstock.so");
        fs::create_dir_all(library.parent().expect("a parent")).expect("a folder");
        fs::write(&library, "new").expect("a file");
        fs::write(bundles.join("Penstock.clap"), "new").expect("a file");
        let into = temp.folder().join("into");
        fs::create_dir_all(into.join("Penstock.vst3/Contents/stale")).expect("a folder");
        fs::write(into.join("Penstock.clap"), "old").expect("a file");
        fs::write(into.join("Other.clap"), "stays").expect("a file");
        let places = put(&bundles, &[into.clone(), into.clone()]).expect("installed");
        assert_eq!(
            places,
            [into.join("Penstock.clap"), into.join("Penstock.vst3")]
        );
        assert_eq!(fs::read(&places[0]).expect("a file"), b"new");
        assert!(!into.join("Penstock.vst3/Contents/stale").exists());
        assert_eq!(fs::read(into.join("Other.clap")).expect("a file"), b"stays");
        let left = fs::read_dir(&into).expect("readable").count();
        assert_eq!(left, 3, "something is left aside");
    }
}
