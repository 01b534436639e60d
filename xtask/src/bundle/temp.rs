//! A folder for one test, gone when dropped.

use std::path::{Path, PathBuf};

/// The folder.
pub struct Temp(PathBuf);

impl Temp {
    /// Makes it, empty; the word keeps tests of one process apart.
    pub fn new(word: &str) -> Self {
        let name = format!("penstock-xtask-{}-{word}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        super::place::remove(&folder).expect("an old folder can be removed");
        std::fs::create_dir_all(&folder).expect("a folder can be made");
        Self(folder)
    }

    /// Where it is.
    pub fn folder(&self) -> &Path {
        &self.0
    }
}

impl Drop for Temp {
    fn drop(&mut self) {
        let _ = super::place::remove(&self.0);
    }
}
