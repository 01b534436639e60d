//! A page on disk: never over another file unasked, never half written.

use super::error::Failure;
use std::fs;
use std::path::{Path, PathBuf};

fn refused(path: &Path, what: &str) -> Failure {
    Failure::usage(format!("{}: {what}", path.display()))
}

/// Refuses a place that is taken.
pub(super) fn may_write(path: &Path, force: bool) -> Result<(), Failure> {
    if path.symlink_metadata().is_ok() && !force {
        return Err(refused(path, "exists; --force replaces it"));
    }
    if path.is_dir() {
        return Err(refused(path, "is a folder"));
    }
    // A rename onto a device such as /dev/null would replace the device itself.
    if path.exists() && !path.is_file() {
        return Err(refused(path, "is no file"));
    }
    Ok(())
}

/// Writes beside its place under a temporary name, then renames.
pub(super) fn write(path: &Path, text: String) -> Result<(), Failure> {
    // A link is kept, and the file that it leads to is replaced.
    let target = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let mut aside = target.as_os_str().to_owned();
    aside.push(format!(".{}.partial", std::process::id()));
    let aside = PathBuf::from(aside);
    let written = fs::write(&aside, text).and_then(|()| fs::rename(&aside, &target));
    written.map_err(|error| {
        // Nothing is left behind; that this may fail too changes nothing.
        let _ = fs::remove_file(&aside);
        refused(path, &format!("cannot be written: {error}"))
    })
}
