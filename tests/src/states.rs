//! Saved states that are kept as files: made once for every released version, loaded for ever.

use std::fs;
use std::path::{Path, PathBuf};

use crate::host::Setting;

/// The folder of the kept states.
#[must_use]
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/states")
}

/// A kept state.
#[derive(Clone, Debug)]
pub struct Kept {
    /// Name of its file.
    pub name: String,
    /// What the host was given.
    pub bytes: Vec<u8>,
    /// Stable ids and the texts that it must restore.
    pub texts: Vec<(String, String)>,
}

/// Kept states of one kind (`clapstate`, `vst3state`).
///
/// # Panics
/// When there is none, or one has no list of texts beside it.
#[must_use]
pub fn kept(kind: &str) -> Vec<Kept> {
    let entries = fs::read_dir(folder()).expect("the folder of states is there");
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|end| end == kind));
    paths.sort();
    assert!(
        !paths.is_empty(),
        "no file *.{kind} in {}",
        folder().display()
    );
    let read = |path: PathBuf| {
        let bytes = fs::read(&path).expect("a kept state can be read");
        let texts = path.with_extension("texts");
        let texts = fs::read_to_string(&texts)
            .unwrap_or_else(|error| panic!("{}: {error}", texts.display()));
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        Kept {
            name: name.into_owned(),
            bytes,
            texts: lines(&texts),
        }
    };
    paths.into_iter().map(read).collect()
}

fn lines(texts: &str) -> Vec<(String, String)> {
    let pair = |line: &str| {
        let (id, text) = line
            .split_once(" = ")
            .unwrap_or_else(|| panic!("no line: {line:?}"));
        (id.to_owned(), text.to_owned())
    };
    texts.lines().map(pair).collect()
}

/// Writes a state and its texts under a name that ends in its kind.
///
/// # Panics
/// When there is one of that name already: a kept state never changes.
pub fn keep(name: &str, bytes: &[u8], texts: &[Setting]) {
    let path = folder().join(name);
    assert!(!path.exists(), "{} is kept already", path.display());
    fs::create_dir_all(folder()).expect("the folder can be made");
    let lines: String = texts
        .iter()
        .map(|(id, text)| format!("{id} = {text}\n"))
        .collect();
    fs::write(&path, bytes).expect("the folder can be written");
    fs::write(path.with_extension("texts"), lines).expect("the folder can be written");
}
