//! Debian packages: looked for by what they bring, installed by apt-get when we may.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use crate::needs::{Brings, DEBIAN, DebianNeed};
use crate::tools;

/// How long to wait before the one retry: mirrors have short moods.
const RETRY_AFTER: Duration = Duration::from_secs(5);

/// The needs of a run, with or without the slow cases.
pub fn needs(long: bool) -> impl Iterator<Item = &'static DebianNeed> {
    DEBIAN.iter().filter(move |need| long || !need.long)
}

/// Installs what is missing, when we may; an error names what still is.
pub fn prepare(long: bool) -> Result<(), String> {
    let missing = missing(needs(long));
    if missing.is_empty() {
        return Ok(());
    }
    println!("setup: these Debian packages are missing:");
    for need in &missing {
        println!("  {:26} {}", need.package, need.purpose);
    }
    let names: Vec<&str> = missing.iter().map(|need| need.package).collect();
    if tools::find_program(&["apt-get"]).is_none() {
        println!("Here is no apt-get; install them, or what they bring, by this system's own way.");
        return Err(format!(
            "not installed, having no apt-get: {}",
            names.join(", ")
        ));
    }
    if !is_root() {
        println!("Not root, so please type:\n{}", lines_to_type(&names));
        return Err(format!(
            "not installed, not being root: {}",
            names.join(", ")
        ));
    }
    if let Err(first) = install(&names) {
        println!("setup: {first}; once more in {} s", RETRY_AFTER.as_secs());
        thread::sleep(RETRY_AFTER);
        install(&names).map_err(|second| {
            println!(
                "Twice in vain; to try it by hand:\n{}",
                lines_to_type(&names)
            );
            format!("not installed, {second}: {}", names.join(", "))
        })?;
    }
    match self::missing(needs(long)).as_slice() {
        [] => Ok(()),
        still => {
            let names: Vec<&str> = still.iter().map(|need| need.package).collect();
            Err(format!(
                "installed, yet what they bring is not found: {}",
                names.join(", ")
            ))
        }
    }
}

/// The needs whose gift is not found.
fn missing<'a>(needs: impl Iterator<Item = &'a DebianNeed>) -> Vec<&'a DebianNeed> {
    needs.filter(|need| !is_here(&need.brings)).collect()
}

fn is_here(brings: &Brings) -> bool {
    match brings {
        Brings::Path(path) => Path::new(path).exists(),
        Brings::Library(name) => library_folders().any(|folder| folder.join(name).exists()),
        Brings::Program(names) => tools::find_program(names).is_some(),
        Brings::PythonModules(modules) => {
            let script = format!("import {}", modules.join(", "));
            tools::succeeds(Command::new("python3").args(["-c", &script]))
        }
    }
}

/// Where systems keep shared libraries: Debian's folder of this processor, then the others' way.
fn library_folders() -> impl Iterator<Item = PathBuf> {
    let debian = format!("/usr/lib/{}-linux-gnu", std::env::consts::ARCH);
    [debian.as_str(), "/usr/lib64", "/usr/lib"]
        .map(PathBuf::from)
        .into_iter()
}

/// The exact lines for a person with the right to install.
fn lines_to_type(names: &[&str]) -> String {
    format!(
        "  sudo apt-get update\n  sudo apt-get install -y --no-install-recommends {}",
        names.join(" ")
    )
}

/// Fetches the list of packages, then installs these.
fn install(names: &[&str]) -> Result<(), String> {
    println!("setup: installing them (a minute or two)");
    tools::run(apt_get(&["update"]).stdout(Stdio::null()))
        .map_err(|error| format!("apt-get update failed ({error})"))?;
    let arguments = [&["install", "-y", "--no-install-recommends"], names].concat();
    tools::run(apt_get(&arguments).stdout(Stdio::null()))
        .map_err(|error| format!("apt-get install failed ({error})"))
}

/// apt-get that asks nothing and waits for another one to finish.
fn apt_get(arguments: &[&str]) -> Command {
    let mut command = Command::new("apt-get");
    command
        .args([
            "-qq",
            "-o",
            "DPkg::Lock::Timeout=300",
            "-o",
            "Dpkg::Use-Pty=0",
        ])
        .args(arguments)
        .env("DEBIAN_FRONTEND", "noninteractive")
        .stdin(Stdio::null());
    command
}

fn is_root() -> bool {
    Command::new("id")
        .arg("-u")
        .output()
        .is_ok_and(|output| String::from_utf8_lossy(&output.stdout).trim() == "0")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_there_is_missed() {
        let need = |brings| DebianNeed {
            package: "p",
            purpose: "a test",
            brings,
            long: false,
        };
        let needs = [
            need(Brings::Path("/no/such/folder")),
            need(Brings::Program(&["no-such-program-anywhere"])),
            need(Brings::PythonModules(&["no_such_module_anywhere"])),
            need(Brings::Library("libnone.so.0")),
            need(Brings::Path("/")),
        ];
        assert_eq!(missing(needs.iter()).len(), 4);
    }

    #[test]
    fn every_need_has_a_name_and_a_purpose() {
        for need in DEBIAN {
            assert!(!need.package.is_empty() && !need.purpose.is_empty());
            assert_eq!(
                DEBIAN
                    .iter()
                    .filter(|other| other.package == need.package)
                    .count(),
                1
            );
        }
    }

    #[test]
    fn only_a_long_run_needs_the_slow_ones() {
        assert!(needs(false).all(|need| !need.long));
        assert_eq!(needs(true).count(), DEBIAN.len());
        assert!(needs(false).count() < DEBIAN.len());
    }

    #[test]
    fn the_lines_to_type_name_every_package() {
        let lines = lines_to_type(&["one", "two"]);
        assert!(
            lines.ends_with("install -y --no-install-recommends one two"),
            "{lines}"
        );
    }
}
