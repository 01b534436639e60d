//! Tests of reading and writing audio files, on files made as the tests run.

mod aiff_read;
mod bytes;
mod dither;
mod flac_made;
mod flac_read;
mod hostile;
mod pcm_read;
mod refused;
mod wav_read;
mod write_faults;
mod written;

use std::fs;
use std::path::{Path, PathBuf};

use super::{AudioError, Format, Reader};

/// A folder for one test, removed with all in it at the end.
pub(super) struct Folder(PathBuf);

impl Folder {
    /// Makes an empty folder; `name` is the test's own.
    pub(super) fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("penstock-audio-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).expect("a folder for tests");
        Self(path)
    }

    /// The path of a file in it that need not exist.
    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// Writes a file into it.
    pub(super) fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.path(name);
        fs::write(&path, bytes).expect("a file for tests");
        path
    }

    /// The names of all files in it, sorted.
    pub(super) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("the folder is there");
        let name = |entry: fs::DirEntry| entry.file_name().to_string_lossy().into_owned();
        let mut names: Vec<String> = entries
            .map(|entry| name(entry.expect("an entry")))
            .collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// The format and all samples of a file, read in blocks of `max_frames`.
pub(super) fn read_all(
    path: &Path,
    max_frames: usize,
) -> Result<(Format, Vec<Vec<f64>>), AudioError> {
    let mut reader = Reader::open(path)?;
    let format = reader.format().clone();
    let mut all = vec![Vec::new(); format.channels];
    let mut block = Vec::new();
    loop {
        let frames = reader.read(&mut block, max_frames)?;
        assert!(block.len() == format.channels && block.iter().all(|part| part.len() == frames));
        if frames == 0 {
            return Ok((format, all));
        }
        for (whole, part) in all.iter_mut().zip(&block) {
            whole.extend_from_slice(part);
        }
    }
}

/// The sentence with which a file is refused, at opening or while it is read; checks that it is
/// one sentence that names the file.
pub(super) fn refusal(path: &Path) -> String {
    let error = match read_all(path, 1000) {
        Err(error) => error,
        Ok((format, _)) => panic!("{} was read as {format:?}", path.display()),
    };
    assert!(error.is_input());
    let sentence = error.to_string();
    let rest = sentence
        .strip_prefix(&path.display().to_string())
        .expect("the file comes first");
    assert!(
        !rest.contains('\n') && !rest.contains(". "),
        "more than one sentence: {rest}"
    );
    rest.trim_start().to_owned()
}

/// The xorshift generator of G. Marsaglia, "Xorshift RNGs", J. Stat. Software 8 (2003), for
/// repeatable random tests.
pub(super) struct Xorshift(pub(super) u64);

impl Xorshift {
    pub(super) fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// A number below `limit`.
    pub(super) fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit as u64) as usize
    }
}
