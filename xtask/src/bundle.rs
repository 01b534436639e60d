//! `cargo xtask bundle`: the plugin as hosts want it, with its notices, proven to open.

pub mod build;
mod compare;
mod inspect;
mod notices;
mod parts;
pub mod place;
pub mod platform;
#[cfg(test)]
pub mod temp;

use std::fs;
use std::path::{Path, PathBuf};

use crate::command::Command;
use crate::open;
use crate::workspace::Workspace;
use build::{Order, Target};
use place::Aside;
use platform::{Format, NAME};

/// The file of notices beside the bundles.
pub const NOTICES: &str = "THIRD-PARTY.txt";

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "bundle",
    arguments: "[--trap] [--target TRIPLE] [--verify]",
    summary: "Builds the plugin, CLAP and VST3, into bundles/<target>",
    details: "\
Penstock.clap, Penstock.vst3 and THIRD-PARTY.txt, the notices of everything linked in. The library
is built apart (<target folder>/bundle), stripped, and names no folder of this machine. Everything
is written aside, opened once in a process of its own (cargo xtask open), and only then renamed into
place, where nothing but an older one is replaced.

  --trap      as the tests load it: every assertion, and an audio thread that aborts when it
              allocates. Into <target folder>/trap-bundles, so that nobody ships it
  --target    for another target, whose compiler parts and linker must be there. Not opened
  --verify    then builds all of it a second time, elsewhere and from nothing, and compares every
              byte

Tested on Linux. The layouts for Windows (DLLs) and macOS (bundles with a property list, not signed)
follow their makers' pages and have been in no host; nor is it checked there that the library is
stripped.",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    let (order, verify) = parse(arguments)?;
    let folder = make(workspace, &order)?;
    println!("bundle: {}", folder.display());
    if verify {
        let count = again(workspace, &order, &folder)?;
        println!("bundle: built twice, {count} files the same to the last byte");
    }
    Ok(())
}

fn parse(arguments: &[String]) -> Result<(Order, bool), String> {
    let (mut order, mut verify) = (Order::default(), false);
    let mut words = arguments.iter();
    while let Some(word) = words.next() {
        match word.as_str() {
            "--trap" => order.trap = true,
            "--verify" => verify = true,
            "--target" => {
                let triple = words.next().ok_or("'--target' needs a target triple")?;
                order.target = Some(triple.clone());
            }
            other => {
                return Err(format!(
                    "'bundle' knows no '{other}'; it takes {}",
                    COMMAND.arguments
                ));
            }
        }
    }
    Ok((order, verify))
}

/// Builds and lays out what is ordered; answers the folder that holds it.
pub fn make(workspace: &Workspace, order: &Order) -> Result<PathBuf, String> {
    let target = Target::of(order)?;
    let place = if order.trap {
        workspace.target.join("trap-bundles")
    } else {
        workspace.root.join("bundles").join(&target.triple)
    };
    lay_out(workspace, order, &target, &build::folder(workspace), &place)?;
    Ok(place)
}

/// Builds in one folder and lays out in another.
fn lay_out(
    workspace: &Workspace,
    order: &Order,
    target: &Target,
    build_folder: &Path,
    place: &Path,
) -> Result<(), String> {
    let built = build::library(workspace, order, target, build_folder)?;
    let library =
        fs::read(&built).map_err(|error| format!("{} cannot be read: {error}", built.display()))?;
    let mut private = build::private_folders();
    private.extend([workspace.root.clone(), workspace.target.clone()]);
    inspect::no_paths(&library, &private)?;
    inspect::stripped(&built, &library)?;
    let version = version(workspace)?;
    let title = format!("{NAME} {version} for {}: notices", target.triple);
    let parts = parts::linked(workspace, order, &target.triple)?;

    let aside = Aside::new(place)?;
    aside.write(NOTICES, notices::file(&title, &parts).as_bytes())?;
    for format in Format::ALL {
        aside.write(&target.platform.library(format), &library)?;
        for (path, text) in target.platform.texts(format, &version) {
            aside.write(&path, text.as_bytes())?;
        }
        if target.is_host {
            open::apart(&aside.folder().join(format.bundle()))?;
        }
    }
    for name in names() {
        aside.settle(&name, &name)?;
    }
    Ok(())
}

/// What lies in a folder of bundles.
fn names() -> impl Iterator<Item = String> {
    let bundles = Format::ALL.into_iter().map(Format::bundle);
    bundles.chain([NOTICES.to_owned()])
}

/// The plugin's version, as its manifest says.
fn version(workspace: &Workspace) -> Result<String, String> {
    let mut packages = workspace.packages.iter();
    packages
        .find(|package| package["name"] == "penstock")
        .and_then(|package| package["version"].as_str())
        .map(str::to_owned)
        .ok_or_else(|| "the workspace holds no package 'penstock'".to_owned())
}

/// Builds a second time from nothing and compares; answers the count of files. On a difference the
/// second build stays, to be looked at.
fn again(workspace: &Workspace, order: &Order, first: &Path) -> Result<usize, String> {
    let target = Target::of(order)?;
    let folder = workspace.target.join("again");
    place::remove(&folder)?;
    let second = folder.join("bundles");
    lay_out(workspace, order, &target, &folder.join("bundle"), &second)?;
    let count = compare::trees(first, &second)
        .map_err(|error| format!("{error} ({} and {})", first.display(), second.display()))?;
    place::remove(&folder)?;
    Ok(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_are_read_and_strangers_refused() {
        let words = |text: &str| {
            let words: Vec<String> = text.split_whitespace().map(str::to_owned).collect();
            parse(&words)
        };
        assert_eq!(words(""), Ok((Order::default(), false)));
        let order = Order {
            trap: true,
            target: Some("x86_64-pc-windows-gnu".to_owned()),
        };
        let line = "--trap --target x86_64-pc-windows-gnu --verify";
        assert_eq!(words(line), Ok((order, true)));
        assert!(words("--target").is_err());
        assert!(
            words("--release")
                .expect_err("unknown")
                .contains("--verify")
        );
    }

    #[test]
    fn the_plugin_has_a_version() {
        let workspace = Workspace::find().expect("a workspace");
        assert_eq!(
            version(&workspace),
            Ok(env!("CARGO_PKG_VERSION").to_owned())
        );
    }
}
