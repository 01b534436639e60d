//! The temporary file beside a target, and putting it in the target's place.

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::process;

use crate::cli::audio::Problem;

/// How many temporary names are tried, should earlier ones be taken.
const TRIES: u32 = 100;

/// Characters of the target's name that go into the temporary one, which stays a legal length.
const NAME_CHARS: usize = 50;

/// A temporary file and its target. Dropped, it removes the temporary file.
#[derive(Debug)]
pub(super) struct Place {
    target: PathBuf,
    temporary: PathBuf,
    force: bool,
    /// The temporary name is ours to remove.
    present: bool,
}

impl Place {
    /// Checks the target and creates the temporary file beside it.
    pub(super) fn reserve(path: &Path, force: bool) -> Result<(Self, File), Problem> {
        let mut target = path.to_path_buf();
        if let Ok(found) = fs::metadata(path) {
            if found.is_dir() {
                return Err(Problem::NotAFile("directory"));
            }
            // Renaming onto a device such as /dev/null would replace the device itself.
            if !found.is_file() {
                return Err(Problem::NotAFile("device or pipe"));
            }
            // A link is kept, and the file that it leads to is replaced.
            target = fs::canonicalize(path).map_err(Problem::NotCreated)?;
        }
        if !force && exists(path) {
            return Err(Problem::Exists);
        }
        let (temporary, file) = create_beside(&target)?;
        let place = Self {
            target,
            temporary,
            force,
            present: true,
        };
        Ok((place, file))
    }

    /// Gives the temporary file the target's name. Without `force`, a target that has appeared
    /// since the reservation is left alone.
    pub(super) fn settle(&mut self) -> Result<(), Problem> {
        self.settle_by(|temporary, target| fs::hard_link(temporary, target))
    }

    fn settle_by(
        &mut self,
        hard_link: impl Fn(&Path, &Path) -> io::Result<()>,
    ) -> Result<(), Problem> {
        if self.force {
            return self.rename();
        }
        // A hard link, unlike a rename, fails where the name is taken; the temporary name of the
        // same file goes when `self` is dropped.
        match hard_link(&self.temporary, &self.target) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(Problem::Exists),
            // Some file systems have no hard links. The moment between looking and renaming is
            // the best that is left.
            Err(_) if exists(&self.target) => Err(Problem::Exists),
            Err(_) => self.rename(),
        }
    }

    fn rename(&mut self) -> Result<(), Problem> {
        fs::rename(&self.temporary, &self.target).map_err(Problem::NotWritten)?;
        self.present = false;
        Ok(())
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        if self.present {
            // Nobody is left to tell about a failure, and the file is not the user's.
            let _: io::Result<()> = fs::remove_file(&self.temporary);
        }
    }
}

/// Creates a hidden file beside `target` under a name that nothing bears yet.
fn create_beside(target: &Path) -> Result<(PathBuf, File), Problem> {
    let Some(name) = target.file_name() else {
        return Err(Problem::NotAFile("directory"));
    };
    let name: String = name.to_string_lossy().chars().take(NAME_CHARS).collect();
    let mut attempt = 1;
    loop {
        let suffix = if attempt == 1 {
            String::new()
        } else {
            format!("-{attempt}")
        };
        let temporary = format!(".{name}.{}{suffix}.partial", process::id());
        let temporary = target.with_file_name(temporary);
        match OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&temporary)
        {
            Ok(file) => return Ok((temporary, file)),
            Err(error) if error.kind() == ErrorKind::AlreadyExists && attempt < TRIES => {
                attempt += 1;
            }
            Err(error) => return Err(Problem::NotCreated(error)),
        }
    }
}

/// Something bears the name, be it a link that leads nowhere.
fn exists(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::audio::tests::Folder;

    /// What a file system without hard links answers.
    fn no_links(_: &Path, _: &Path) -> io::Result<()> {
        Err(ErrorKind::Unsupported.into())
    }

    #[test]
    fn without_hard_links_a_free_name_is_taken_and_a_taken_one_is_not() {
        let folder = Folder::new("no-links");
        let path = folder.path("a.wav");
        let (mut first, _) = Place::reserve(&path, false).unwrap();
        let (mut second, _) = Place::reserve(&path, false).unwrap();
        first.settle_by(no_links).unwrap();
        assert!(matches!(second.settle_by(no_links), Err(Problem::Exists)));
        drop((first, second));
        assert_eq!(folder.names(), ["a.wav"]);
    }
}
