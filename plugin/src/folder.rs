//! Where this user's settings lie, and how a file there is written: aside, then renamed, so that no
//! file is ever half-written or lost.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Names the folder instead of the platform's own, for whoever keeps settings elsewhere and for tests.
pub const OVERRIDE: &str = "PENSTOCK_CONFIG_FOLDER";

/// How many temporary names are tried.
const TRIES: u32 = 100;

/// The platforms' ways.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Platform {
    /// XDG Base Directory Specification 0.8.
    Xdg,
    /// Apple, File System Programming Guide: Application Support.
    Mac,
    /// Windows, known folder RoamingAppData.
    Windows,
}

impl Platform {
    const HERE: Self = if cfg!(target_os = "macos") {
        Self::Mac
    } else if cfg!(windows) {
        Self::Windows
    } else {
        Self::Xdg
    };

    fn folder(self, variable: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
        // The specification: a path that is not absolute is to be ignored.
        let absolute = |name: &str| {
            let path = variable(name).map(PathBuf::from)?;
            path.has_root().then_some(path)
        };
        match self {
            Self::Xdg => absolute("XDG_CONFIG_HOME")
                .or_else(|| Some(absolute("HOME")?.join(".config")))
                .map(|folder| folder.join("penstock")),
            Self::Mac => {
                let home = absolute("HOME")?;
                Some(home.join("Library/Application Support/Penstock"))
            }
            Self::Windows => {
                let roaming = variable("APPDATA").filter(|path| !path.is_empty())?;
                Some(PathBuf::from(roaming).join("Penstock"))
            }
        }
    }
}

/// The folder of this user's settings, made or not; `None` where no home is known.
#[must_use]
pub fn config_folder() -> Option<PathBuf> {
    if let Some(folder) = std::env::var_os(OVERRIDE).filter(|folder| !folder.is_empty()) {
        return Some(folder.into());
    }
    // Tests of this crate have nothing to do with whoever runs them.
    if cfg!(test) {
        return None;
    }
    Platform::HERE.folder(|name| std::env::var_os(name))
}

/// The home folder, which `~` at the start of a typed path stands for.
#[must_use]
pub fn home_folder() -> Option<PathBuf> {
    if cfg!(test) {
        return None;
    }
    let name = if cfg!(windows) { "USERPROFILE" } else { "HOME" };
    let home = std::env::var_os(name).map(PathBuf::from)?;
    home.has_root().then_some(home)
}

/// Whether a file may take another's place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Replace {
    /// Only a name that is free.
    Never,
    /// The user was asked.
    Asked,
}

/// Writes a whole text file, with its folder where there is none.
///
/// # Errors
/// [`ErrorKind::AlreadyExists`] where the name is taken and must not be; what the system says
/// otherwise. The file is then as it was before.
pub fn write(path: &Path, text: &str, replace: Replace) -> io::Result<()> {
    if replace == Replace::Never && fs::symlink_metadata(path).is_ok() {
        return Err(ErrorKind::AlreadyExists.into());
    }
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    // A link is kept, and the file that it leads to is replaced.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let (aside, mut file) = create_aside(&target)?;
    let written = file
        .write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .and_then(|()| settle(&aside, &target, replace));
    drop(file);
    if written.is_err() {
        // Ours, and of no use to anybody.
        let _ = fs::remove_file(&aside);
    }
    written
}

/// Gives the file its name. Without leave to replace, one that has appeared meanwhile is left alone.
fn settle(aside: &Path, target: &Path, replace: Replace) -> io::Result<()> {
    if replace == Replace::Never {
        // A hard link, unlike a rename, fails where the name is taken.
        match fs::hard_link(aside, target) {
            Ok(()) => return fs::remove_file(aside),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => return Err(error),
            Err(_) if fs::symlink_metadata(target).is_ok() => {
                return Err(ErrorKind::AlreadyExists.into());
            }
            // A file system without hard links.
            Err(_) => {}
        }
    }
    fs::rename(aside, target)
}

fn create_aside(target: &Path) -> io::Result<(PathBuf, File)> {
    let name = target
        .file_name()
        .ok_or(io::Error::from(ErrorKind::InvalidInput))?;
    // A short piece of the name, so that it stays a legal length.
    let name: String = name.to_string_lossy().chars().take(50).collect();
    let mut attempt = 0;
    loop {
        let aside = format!(".{name}.{}-{attempt}.partial", std::process::id());
        let aside = target.with_file_name(aside);
        match OpenOptions::new().write(true).create_new(true).open(&aside) {
            Ok(file) => return Ok((aside, file)),
            Err(error) if error.kind() == ErrorKind::AlreadyExists && attempt < TRIES => {
                attempt += 1;
            }
            Err(error) => return Err(error),
        }
    }
}

/// Moves a file out of the way under the first free name `STEM-WORD.EXT`, `STEM-WORD-2.EXT`, ...; it is
/// never lost. Returns where it is now.
///
/// # Errors
/// What the system says; the file is then where it was.
pub fn set_aside(path: &Path, word: &str) -> io::Result<PathBuf> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    for attempt in 1..=TRIES {
        let count = if attempt == 1 {
            String::new()
        } else {
            format!("-{attempt}")
        };
        let free = path.with_file_name(format!("{stem}-{word}{count}.{ending}"));
        if fs::symlink_metadata(&free).is_err() {
            fs::rename(path, &free)?;
            return Ok(free);
        }
    }
    Err(ErrorKind::AlreadyExists.into())
}

/// A folder of one test, gone with it.
#[cfg(test)]
pub(crate) mod scratch {
    use std::path::{Path, PathBuf};
    use std::sync::atomic::{AtomicU32, Ordering};

    pub(crate) struct Scratch(PathBuf);

    impl Scratch {
        pub(crate) fn new() -> Self {
            static COUNT: AtomicU32 = AtomicU32::new(0);
            let count = COUNT.fetch_add(1, Ordering::Relaxed);
            let name = format!("penstock-{}-{count}", std::process::id());
            let folder = std::env::temp_dir().join(name);
            std::fs::create_dir_all(&folder).expect("a folder for the test");
            Self(folder)
        }

        pub(crate) fn path(&self) -> &Path {
            &self.0
        }

        /// Every name in it, sorted.
        pub(crate) fn names(&self) -> Vec<String> {
            let entries = std::fs::read_dir(&self.0).expect("the folder is there");
            let mut names: Vec<String> = entries
                .map(|entry| {
                    entry
                        .expect("an entry")
                        .file_name()
                        .to_string_lossy()
                        .into()
                })
                .collect();
            names.sort();
            names
        }
    }

    impl Drop for Scratch {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::scratch::Scratch;
    use super::*;

    fn at(platform: Platform, variables: &[(&str, &str)]) -> Option<String> {
        let find = |name: &str| {
            let found = variables.iter().find(|(known, _)| *known == name);
            found.map(|(_, value)| value.into())
        };
        let folder = platform.folder(find)?;
        Some(folder.to_string_lossy().replace('\\', "/"))
    }

    // XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME, by default $HOME/.config; relative
    // paths are invalid and to be ignored.
    #[test]
    fn each_platform_has_its_place() {
        let home = ("HOME", "/people/ada");
        let found = at(Platform::Xdg, &[home]);
        assert_eq!(found.as_deref(), Some("/people/ada/.config/penstock"));
        let found = at(Platform::Xdg, &[home, ("XDG_CONFIG_HOME", "/etc/mine")]);
        assert_eq!(found.as_deref(), Some("/etc/mine/penstock"));
        for ignored in ["", "mine"] {
            let found = at(Platform::Xdg, &[home, ("XDG_CONFIG_HOME", ignored)]);
            assert_eq!(found.as_deref(), Some("/people/ada/.config/penstock"));
        }
        assert_eq!(at(Platform::Xdg, &[]), None);
        let found = at(Platform::Mac, &[home]);
        let mac = "/people/ada/Library/Application Support/Penstock";
        assert_eq!(found.as_deref(), Some(mac));
        let found = at(Platform::Windows, &[("APPDATA", "C:/People/ada/Roaming")]);
        assert_eq!(found.as_deref(), Some("C:/People/ada/Roaming/Penstock"));
        assert_eq!(at(Platform::Windows, &[("APPDATA", "")]), None);
    }

    #[test]
    fn nothing_is_replaced_unasked_and_nothing_is_left_beside() {
        let scratch = Scratch::new();
        let path = scratch.path().join("deep/plan.toml");
        write(&path, "one", Replace::Never).unwrap();
        let again = write(&path, "two", Replace::Never).unwrap_err();
        assert_eq!(again.kind(), ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&path).unwrap(), "one");
        write(&path, "three", Replace::Asked).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "three");
        assert_eq!(scratch.names(), ["deep"]);
        let inside = fs::read_dir(scratch.path().join("deep")).unwrap();
        assert_eq!(inside.count(), 1);
        // What cannot be written leaves no rest: a folder is in the way.
        let taken = scratch.path().join("taken");
        fs::create_dir(&taken).unwrap();
        assert!(write(&taken, "four", Replace::Asked).is_err());
        assert_eq!(scratch.names(), ["deep", "taken"]);
    }

    #[test]
    fn what_is_set_aside_keeps_every_earlier_one() {
        let scratch = Scratch::new();
        let path = scratch.path().join("rig.toml");
        for text in ["a", "b"] {
            fs::write(&path, text).unwrap();
            let kept = set_aside(&path, "damaged").unwrap();
            assert_eq!(fs::read_to_string(kept).unwrap(), text);
        }
        assert_eq!(scratch.names(), ["rig-damaged-2.toml", "rig-damaged.toml"]);
    }
}
