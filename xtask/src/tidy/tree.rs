//! The project's files as git sees them: tracked, or new and not ignored.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

/// A text file of the project.
pub struct File {
    /// Relative to the root, with forward slashes.
    pub path: String,
    /// All of it.
    pub text: String,
}

/// All files of the project.
#[derive(Default)]
pub struct Tree {
    /// Every file's path, text or not, relative to the root, in order.
    pub paths: BTreeSet<String>,
    /// The files that are UTF-8 text.
    pub files: Vec<File>,
}

impl Tree {
    /// Reads the project's files. None when the root is no git checkout (an unpacked archive); an
    /// error when it is one and git cannot read it.
    pub fn read(root: &Path) -> Result<Option<Self>, String> {
        if !root.join(".git").exists() {
            return Ok(None);
        }
        let output = Command::new("git")
            .args([
                "ls-files",
                "-z",
                "--cached",
                "--others",
                "--exclude-standard",
            ])
            .current_dir(root)
            .output()
            .map_err(|error| format!("git could not be started: {error}"))?;
        if !output.status.success() {
            let words = String::from_utf8_lossy(&output.stderr);
            return Err(format!("git ls-files failed: {}", words.trim()));
        }
        let mut tree = Self::default();
        for path in String::from_utf8_lossy(&output.stdout).split('\0') {
            // A file deleted but not yet committed is still listed.
            if path.is_empty() || !root.join(path).is_file() {
                continue;
            }
            let bytes = std::fs::read(root.join(path))
                .map_err(|error| format!("{path} cannot be read: {error}"))?;
            if tree.paths.insert(path.to_owned())
                && !bytes.contains(&0)
                && let Ok(text) = String::from_utf8(bytes)
            {
                tree.files.push(File {
                    path: path.to_owned(),
                    text,
                });
            }
        }
        Ok(Some(tree))
    }

    /// Whether a file, or a folder with files in it, is part of the project.
    pub fn holds(&self, path: &str) -> bool {
        let folder = format!("{}/", path.trim_end_matches('/'));
        self.paths.contains(path) || self.paths.iter().any(|known| known.starts_with(&folder))
    }

    /// The text of a file, when it is one of the project's text files.
    pub fn text(&self, path: &str) -> Option<&str> {
        self.files
            .iter()
            .find(|file| file.path == path)
            .map(|file| file.text.as_str())
    }
}
