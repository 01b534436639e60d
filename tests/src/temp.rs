//! Folders that vanish with the test, and proof that a folder was left alone.

use std::collections::BTreeMap;
use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A new empty folder, removed with everything in it when dropped.
#[derive(Debug)]
pub struct TempDir {
    path: PathBuf,
}

impl TempDir {
    /// Makes the folder.
    ///
    /// # Panics
    /// When the system's folder for temporary files cannot be written.
    #[must_use]
    pub fn new() -> Self {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("penstock-tests-{}-{number}", process::id());
        let path = env::temp_dir().join(name);
        fs::create_dir_all(&path)
            .unwrap_or_else(|error| panic!("cannot make {}: {error}", path.display()));
        Self { path }
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Path of `name` in it.
    #[must_use]
    pub fn file(&self, name: &str) -> PathBuf {
        self.path.join(name)
    }

    /// Path of `name` in it, as the text of an argument.
    ///
    /// # Panics
    /// When the system's folder for temporary files is not named in UTF-8.
    #[must_use]
    pub fn arg(&self, name: &str) -> String {
        self.file(name)
            .to_str()
            .expect("temporary folders have names in UTF-8")
            .to_owned()
    }
}

impl Default for TempDir {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for TempDir {
    fn drop(&mut self) {
        // What cannot be removed is the system's to clean; a test must not fail over it.
        let _ = fs::remove_dir_all(&self.path);
    }
}

/// Every file under a folder, with its bytes: proof of what a run left behind.
#[derive(Debug)]
pub struct Snapshot {
    dir: PathBuf,
    files: BTreeMap<PathBuf, Option<Content>>,
}

/// Length and bytes of a file; the bytes only up to 16 MiB (sparse giants are compared by length).
type Content = (u64, Vec<u8>);

impl Snapshot {
    /// Reads the folder.
    ///
    /// # Panics
    /// When it cannot be read.
    #[must_use]
    pub fn of(dir: &Path) -> Self {
        let mut files = BTreeMap::new();
        read_into(dir, &mut files);
        Self {
            dir: dir.to_path_buf(),
            files,
        }
    }

    /// Asserts that the folder holds the same as then.
    ///
    /// # Panics
    /// When something was added, removed or changed.
    #[track_caller]
    pub fn assert_unchanged(&self, what: &str) {
        let now = Self::of(&self.dir);
        for (path, content) in &now.files {
            let then = self.files.get(path);
            assert!(then.is_some(), "{what}: left {} behind", path.display());
            assert!(then == Some(content), "{what}: changed {}", path.display());
        }
        for path in self.files.keys() {
            assert!(
                now.files.contains_key(path),
                "{what}: removed {}",
                path.display()
            );
        }
    }
}

fn read_into(dir: &Path, files: &mut BTreeMap<PathBuf, Option<Content>>) {
    let entries =
        fs::read_dir(dir).unwrap_or_else(|error| panic!("cannot read {}: {error}", dir.display()));
    for entry in entries {
        let path = entry.expect("a folder just opened can be listed").path();
        if path.is_dir() {
            files.insert(path.clone(), None);
            read_into(&path, files);
        } else {
            let length = fs::metadata(&path).map_or(0, |metadata| metadata.len());
            let small = length <= 16 << 20;
            let bytes = if small {
                fs::read(&path).unwrap_or_default()
            } else {
                Vec::new()
            };
            files.insert(path, Some((length, bytes)));
        }
    }
}

/// All files under `dir` whose name ends in `.extension`, sorted.
#[must_use]
pub fn files_ending(dir: &Path, extension: &str) -> Vec<PathBuf> {
    let mut files = BTreeMap::new();
    if dir.is_dir() {
        read_into(dir, &mut files);
    }
    let found = files.into_iter().filter(|(_, content)| content.is_some());
    found
        .map(|(path, _)| path)
        .filter(|path| path.extension().is_some_and(|e| e == extension))
        .collect()
}
