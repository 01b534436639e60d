//! Puts finished files into place: written aside, then renamed, so that a half-written one never
//! stays.

use std::fs;
use std::path::{Path, PathBuf};

/// A folder beside the place where its content is to lie; dropped, it is gone.
pub struct Aside {
    folder: PathBuf,
    place: PathBuf,
}

impl Aside {
    /// Makes the place, and an empty folder in it.
    pub fn new(place: &Path) -> Result<Self, String> {
        let folder = place.join(format!(".aside-{}", std::process::id()));
        remove(&folder)?;
        fs::create_dir_all(&folder).map_err(|error| told(&folder, "cannot be made", &error))?;
        Ok(Self {
            folder,
            place: place.to_owned(),
        })
    }

    /// The folder to write into.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Writes a file, and the folders above it.
    pub fn write(&self, path: &str, content: &[u8]) -> Result<(), String> {
        let file = self.folder.join(path);
        if let Some(folder) = file.parent() {
            fs::create_dir_all(folder).map_err(|error| told(folder, "cannot be made", &error))?;
        }
        fs::write(&file, content).map_err(|error| told(&file, "cannot be written", &error))
    }

    /// Copies a file or a whole folder under another name.
    pub fn copy(&self, from: &Path, name: &str) -> Result<(), String> {
        for path in files(from)? {
            let inside = path.strip_prefix(from).unwrap_or(Path::new(""));
            // A file's own path inside itself is empty, and joining that would end it with a slash.
            let to = match inside.as_os_str().is_empty() {
                true => self.folder.join(name),
                false => self.folder.join(name).join(inside),
            };
            if let Some(folder) = to.parent() {
                fs::create_dir_all(folder)
                    .map_err(|error| told(folder, "cannot be made", &error))?;
            }
            fs::copy(&path, &to).map_err(|error| told(&to, "cannot be written", &error))?;
        }
        Ok(())
    }

    /// Renames what was written into place under a name, in the stead of an older one.
    pub fn settle(&self, written: &str, name: &str) -> Result<PathBuf, String> {
        let (new, place) = (self.folder.join(written), self.place.join(name));
        // A file takes another's place in one go. A folder cannot be renamed onto a full one, so the
        // older steps aside first, and back when the newer cannot come.
        let old = self.folder.join(format!("{name}.old"));
        let had_old = place.symlink_metadata().is_ok() && (place.is_dir() || new.is_dir());
        if had_old {
            fs::rename(&place, &old)
                .map_err(|error| told(&place, "cannot be replaced; is it in use?", &error))?;
        }
        if let Err(error) = fs::rename(&new, &place) {
            if had_old {
                let _ = fs::rename(&old, &place);
            }
            return Err(told(&place, "cannot be put in place", &error));
        }
        Ok(place)
    }
}

impl Drop for Aside {
    fn drop(&mut self) {
        let _ = remove(&self.folder);
    }
}

/// Every file under a folder, or the file itself, sorted.
pub fn files(under: &Path) -> Result<Vec<PathBuf>, String> {
    let mut found = Vec::new();
    let mut folders = vec![under.to_owned()];
    while let Some(folder) = folders.pop() {
        if !folder.is_dir() {
            found.push(folder);
            continue;
        }
        let entries =
            fs::read_dir(&folder).map_err(|error| told(&folder, "cannot be read", &error))?;
        for entry in entries {
            let entry = entry.map_err(|error| told(&folder, "cannot be read", &error))?;
            folders.push(entry.path());
        }
    }
    found.sort();
    Ok(found)
}

/// Removes a file or a folder with all in it; content when there is none.
pub fn remove(path: &Path) -> Result<(), String> {
    let result = match path.symlink_metadata() {
        Err(_) => return Ok(()),
        Ok(data) if data.is_dir() => fs::remove_dir_all(path),
        Ok(_) => fs::remove_file(path),
    };
    result.map_err(|error| told(path, "cannot be removed", &error))
}

fn told(path: &Path, what: &str, error: &std::io::Error) -> String {
    format!("{} {what}: {error}", path.display())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bundle::temp::Temp;

    #[test]
    fn the_newer_takes_the_place_of_the_older_and_nothing_else_moves() {
        let temp = Temp::new("place");
        let place = temp.folder().join("deep/place");
        fs::create_dir_all(place.join("X.vst3/Contents")).expect("a folder");
        fs::write(place.join("X.vst3/Contents/stale"), "old").expect("a file");
        fs::write(place.join("Other.vst3"), "stays").expect("a file");
        let aside = Aside::new(&place).expect("a folder aside");
        aside.write("X.vst3/Contents/new", b"new").expect("written");
        aside.settle("X.vst3", "X.vst3").expect("in place");
        drop(aside);
        let names: Vec<_> = files(&place)
            .expect("readable")
            .into_iter()
            .map(|path| path.strip_prefix(&place).expect("inside").to_owned())
            .collect();
        assert_eq!(
            names,
            [Path::new("Other.vst3"), Path::new("X.vst3/Contents/new")]
        );
    }

    #[test]
    fn what_is_not_settled_never_shows() {
        let temp = Temp::new("aside");
        let aside = Aside::new(temp.folder()).expect("a folder aside");
        aside.write("X.clap", b"half").expect("written");
        drop(aside);
        assert!(files(temp.folder()).expect("readable").is_empty());
    }

    #[test]
    fn when_the_newer_is_not_there_the_older_stays() {
        let temp = Temp::new("keep");
        fs::write(temp.folder().join("X.clap"), "old").expect("a file");
        let aside = Aside::new(temp.folder()).expect("a folder aside");
        assert!(aside.settle("X.clap", "X.clap").is_err());
        drop(aside);
        assert_eq!(
            fs::read(temp.folder().join("X.clap")).expect("a file"),
            b"old"
        );
    }

    #[test]
    fn files_and_folders_are_copied_whole() {
        let temp = Temp::new("copy");
        let from = temp.folder().join("from");
        fs::create_dir_all(from.join("X.vst3/a")).expect("a folder");
        fs::write(from.join("X.vst3/a/b"), "b").expect("a file");
        fs::write(from.join("X.clap"), "c").expect("a file");
        let to = temp.folder().join("to");
        let aside = Aside::new(&to).expect("a folder aside");
        for name in ["X.vst3", "X.clap"] {
            aside.copy(&from.join(name), "new").expect("copied");
            aside.settle("new", name).expect("in place");
        }
        assert_eq!(fs::read(to.join("X.vst3/a/b")).expect("a file"), b"b");
        assert_eq!(fs::read(to.join("X.clap")).expect("a file"), b"c");
    }
}
