//! Opening a file of any of the three kinds and reading it block by block.

mod aiff;
mod chunks;
mod flac;
mod pcm;
mod sniff;
mod wav;

use std::fmt;
use std::fs::{self, File};
use std::io::{self, BufReader, ErrorKind, Read, Seek};
use std::path::{Path, PathBuf};

use super::{AudioError, Format, Problem};
use flac::FlacReader;
use pcm::PcmReader;
use sniff::Kind;

/// An audio file being read from its start to its end, in constant memory.
pub struct Reader {
    path: PathBuf,
    format: Format,
    source: Source,
}

enum Source {
    Pcm(PcmReader),
    Flac(Box<FlacReader>),
}

/// A file whose header is being read, with its length at the time of opening.
struct Header {
    file: BufReader<File>,
    len_bytes: u64,
}

impl Reader {
    /// Opens a WAV, AIFF, AIFF-C or FLAC file; the content decides, not the name.
    ///
    /// # Errors
    /// Whatever cannot be read, is no such file, is out of the limits in [`Format`], holds no
    /// frame, or (WAV, AIFF) holds fewer frames than it declares.
    pub fn open(path: &Path) -> Result<Reader, AudioError> {
        let (format, source) = open(path).map_err(|problem| AudioError::input(path, problem))?;
        Ok(Reader {
            path: path.to_path_buf(),
            format,
            source,
        })
    }

    /// Rate, channels and length.
    pub fn format(&self) -> &Format {
        &self.format
    }

    /// Reads the next frames into `block`: one `Vec` per channel, cleared and refilled, full
    /// scale 1.0. Returns how many frames were read: `max_frames` (at least 1) until the file
    /// ends, then the rest, then 0.
    ///
    /// # Errors
    /// A read that fails, a file that ends early, a damaged FLAC frame, NaN or infinity. The
    /// block is empty then, and reading on is pointless.
    pub fn read(
        &mut self,
        block: &mut Vec<Vec<f64>>,
        max_frames: usize,
    ) -> Result<usize, AudioError> {
        block.resize_with(self.format.channels, Vec::new);
        block.iter_mut().for_each(Vec::clear);
        let outcome = match &mut self.source {
            Source::Pcm(source) => source.read(block, max_frames),
            Source::Flac(source) => source.read(block, max_frames),
        };
        outcome.map_err(|problem| {
            block.iter_mut().for_each(Vec::clear);
            AudioError::input(&self.path, problem)
        })
    }
}

impl fmt::Debug for Reader {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { path, format, .. } = self;
        f.debug_struct("Reader")
            .field("path", path)
            .field("format", format)
            .finish_non_exhaustive()
    }
}

fn open(path: &Path) -> Result<(Format, Source), Problem> {
    // Asked before opening, because opening a pipe waits for its other end.
    let metadata = fs::metadata(path).map_err(unreadable)?;
    if metadata.is_dir() {
        return Err(Problem::NotAFile("directory"));
    }
    if !metadata.is_file() {
        return Err(Problem::NotAFile("device or pipe"));
    }
    if metadata.len() == 0 {
        return Err(Problem::Empty);
    }
    let file = BufReader::new(File::open(path).map_err(unreadable)?);
    let mut header = Header {
        file,
        len_bytes: metadata.len(),
    };
    let mut start = Vec::new();
    (&mut header.file)
        .take(sniff::LEN_BYTES)
        .read_to_end(&mut start)
        .map_err(unreadable)?;
    header.file.rewind().map_err(unreadable)?;
    match sniff::kind(&start)? {
        Kind::Wav => open_pcm(wav::parse(&mut header).map_err(header_problem)?, header),
        Kind::Aiff => open_pcm(aiff::parse(&mut header).map_err(header_problem)?, header),
        Kind::Flac => {
            let (format, source) = FlacReader::open(header)?;
            Ok((format, Source::Flac(Box::new(source))))
        }
    }
}

fn open_pcm(layout: pcm::Layout, header: Header) -> Result<(Format, Source), Problem> {
    let format = Format {
        sample_rate_hz: layout.sample_rate_hz,
        channels: layout.channels,
        frames: Some(layout.frames),
    };
    let source = PcmReader::new(header.file.into_inner(), layout).map_err(unreadable)?;
    Ok((format, Source::Pcm(source)))
}

fn unreadable(error: io::Error) -> Problem {
    match error.kind() {
        ErrorKind::NotFound => Problem::NotFound,
        _ => Problem::Unreadable(error),
    }
}

/// While a header is read, the end of the file is a fault of the header.
fn header_problem(problem: Problem) -> Problem {
    match problem {
        Problem::Unreadable(error) if error.kind() == ErrorKind::UnexpectedEof => {
            Problem::Malformed("is cut short: it ends inside its header".into())
        }
        other => other,
    }
}
