//! The folder of a comparison: made aside, moved into place when complete.

use crate::cli::error::Failure;
use std::fs;
use std::path::{Path, PathBuf};

/// A folder in the making. Dropped before [`Folder::finish`], it leaves nothing.
pub(super) struct Folder {
    staging: PathBuf,
    target: PathBuf,
    /// Whether files of the same names may be replaced.
    force: bool,
}

impl Folder {
    /// For the folder asked for, or the first free of `penstock-compare`, `penstock-compare-2`...
    pub(super) fn prepare(out: Option<&Path>, force: bool) -> Result<Self, Failure> {
        let target = out.map_or_else(free_name, Path::to_path_buf);
        if target.exists() && !target.is_dir() {
            let message = format!("{} exists and is not a folder", target.display());
            return Err(Failure::usage(message));
        }
        if !force && target.join("report.html").exists() {
            return Err(Failure::usage(format!(
                "{} already holds a report; name another folder or say --force",
                target.display()
            )));
        }
        let name = target
            .file_name()
            .map_or_else(|| "out".into(), |name| name.to_string_lossy());
        let parent = target
            .parent()
            .filter(|parent| !parent.as_os_str().is_empty());
        let parent = parent.unwrap_or_else(|| Path::new("."));
        let parent = if parent.is_dir() {
            parent.to_path_buf()
        } else {
            nearest_folder(parent)
        };
        let staging = parent.join(format!(".{name}.{}.partial", std::process::id()));
        fs::create_dir(&staging).map_err(|error| {
            Failure::usage(format!(
                "cannot write {}: {}: {error}",
                target.display(),
                parent.display()
            ))
        })?;
        Ok(Self {
            staging,
            target,
            force,
        })
    }

    /// Where files are made.
    pub(super) fn staging(&self) -> &Path {
        &self.staging
    }

    /// Where they will be.
    pub(super) fn target(&self) -> &Path {
        &self.target
    }

    /// Writes a text file.
    pub(super) fn write_text(&self, name: &str, text: &str) -> Result<(), Failure> {
        fs::write(self.staging.join(name), text).map_err(|error| {
            Failure::usage(format!(
                "cannot write {}: {error}",
                self.target.join(name).display()
            ))
        })
    }

    /// Moves everything into place.
    pub(super) fn finish(self) -> Result<(), Failure> {
        let failed = |error: std::io::Error| {
            Failure::usage(format!("cannot write {}: {error}", self.target.display()))
        };
        if !self.target.exists() {
            if let Some(parent) = self.target.parent() {
                fs::create_dir_all(parent).map_err(failed)?;
            }
            return fs::rename(&self.staging, &self.target).map_err(failed);
        }
        let names: Vec<_> = fs::read_dir(&self.staging)
            .map_err(failed)?
            .map(|entry| entry.map(|entry| entry.file_name()))
            .collect::<Result<_, _>>()
            .map_err(failed)?;
        if let Some(taken) = names.iter().find(|name| self.target.join(name).exists())
            && !self.force
        {
            return Err(Failure::usage(format!(
                "{} exists; name another folder or say --force",
                self.target.join(taken).display()
            )));
        }
        for name in names {
            fs::rename(self.staging.join(&name), self.target.join(&name)).map_err(failed)?;
        }
        Ok(())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // After a rename of the whole folder there is nothing left to remove.
        let _ = fs::remove_dir_all(&self.staging);
    }
}

/// The nearest ancestor that exists, so that nothing is created before there is something to keep.
fn nearest_folder(path: &Path) -> PathBuf {
    path.ancestors()
        .find(|ancestor| ancestor.is_dir())
        .unwrap_or_else(|| Path::new("."))
        .to_path_buf()
}

fn free_name() -> PathBuf {
    let mut target = PathBuf::from("penstock-compare");
    let mut number = 2;
    while target.exists() {
        target = PathBuf::from(format!("penstock-compare-{number}"));
        number += 1;
    }
    target
}
