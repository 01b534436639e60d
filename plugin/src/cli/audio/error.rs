//! What can be wrong with an audio file, each said in one sentence.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use super::SAMPLE_RATES_HZ;

/// A problem together with the file that has it. Its text is one sentence that begins with the
/// file's name.
#[derive(Debug)]
pub struct AudioError {
    path: PathBuf,
    problem: Problem,
    input: bool,
}

impl AudioError {
    pub(super) fn input(path: &Path, problem: Problem) -> Self {
        Self {
            path: path.to_path_buf(),
            problem,
            input: true,
        }
    }

    pub(super) fn output(path: &Path, problem: Problem) -> Self {
        Self {
            path: path.to_path_buf(),
            problem,
            input: false,
        }
    }

    /// True when a file that was to be read is at fault, false for one that was to be written.
    pub fn is_input(&self) -> bool {
        self.input
    }

    /// The file at fault, as it was named by the caller.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What is wrong with it.
    pub fn problem(&self) -> &Problem {
        &self.problem
    }
}

/// What is wrong with a file. Counts are frames unless a field says otherwise; frame numbers
/// count from 0 and channel numbers from 1.
#[derive(Debug)]
#[non_exhaustive]
pub enum Problem {
    /// Nothing of that name exists.
    NotFound,
    /// A directory, a device, a pipe.
    NotAFile(&'static str),
    /// The system refused to read it.
    Unreadable(io::Error),
    /// It has no bytes.
    Empty,
    /// Neither WAV nor AIFF nor FLAC; what it looks like instead.
    UnknownKind(String),
    /// The header contradicts itself or breaks off; the rest of the sentence.
    Malformed(String),
    /// Audio is packed in a way that is not read; what was found.
    Coding(String),
    /// Samples of a depth that is not read; what was found.
    Depth(String),
    /// A channel count other than 1 or 2.
    Channels {
        /// The count found or asked for.
        channels: usize,
    },
    /// A rate out of range.
    SampleRate {
        /// The rate found or asked for.
        sample_rate_hz: u32,
    },
    /// A sound header, and no frame behind it.
    NoFrames,
    /// Fewer or more frames than the header declares.
    WrongLength {
        /// What the header says.
        declared_frames: u64,
        /// What is there.
        found_frames: u64,
    },
    /// Compressed data that fails its checksums; the rest of the sentence.
    Damaged(String),
    /// NaN or infinity.
    NotFinite {
        /// The value found.
        value: f64,
        /// The first frame that holds one.
        frame: u64,
        /// The first channel of that frame that holds one.
        channel: usize,
        /// To tell the frame as a time too.
        sample_rate_hz: u32,
    },
    /// Something of that name exists and replacing it was not asked for.
    Exists,
    /// The file cannot be made there.
    NotCreated(io::Error),
    /// More than a WAV file can hold.
    TooLong {
        /// Frames asked for.
        frames: u64,
        /// Most frames that fit at this channel count and encoding.
        max_frames: u64,
        /// For the running time of these.
        sample_rate_hz: u32,
    },
    /// No space left, or over a limit of size.
    Full(io::Error),
    /// The system refused to write.
    NotWritten(io::Error),
    /// An earlier write failed, so there is nothing whole to keep.
    Abandoned,
}

impl fmt::Display for AudioError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.path.display(), self.problem)
    }
}

impl fmt::Display for Problem {
    /// The sentence without its subject.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFound => write!(f, "does not exist"),
            Self::NotAFile(what) => write!(f, "is a {what}, but must be a regular file"),
            Self::Unreadable(error) => write!(f, "cannot be read: {error}"),
            Self::Empty => write!(f, "is empty (0 bytes), but must hold at least 1 frame"),
            Self::UnknownKind(found) => write!(f, "is {found}; only WAV, AIFF and FLAC are read"),
            Self::Malformed(clause) | Self::Damaged(clause) => f.write_str(clause),
            Self::Coding(found) => {
                write!(
                    f,
                    "holds {found}; only linear PCM, integer or float, and FLAC are read"
                )
            }
            Self::Depth(found) => write!(
                f,
                "holds {found} samples; allowed are 16, 24 or 32-bit integer and 32 or 64-bit \
                 float in WAV and AIFF, and 16 to 24-bit integer in FLAC"
            ),
            Self::Channels { channels } => {
                write!(f, "has {channels} channels; allowed are 1 or 2")
            }
            Self::SampleRate { sample_rate_hz } => {
                let (lowest, highest) = (*SAMPLE_RATES_HZ.start(), *SAMPLE_RATES_HZ.end());
                let nearest = sample_rate_hz.clamp(&lowest, &highest);
                write!(
                    f,
                    "has a sample rate of {sample_rate_hz} Hz; allowed are {lowest} to {highest} \
                     Hz, the nearest being {nearest} Hz"
                )
            }
            Self::NoFrames => write!(f, "holds 0 frames of audio, but must hold at least 1"),
            Self::WrongLength {
                declared_frames,
                found_frames,
            } => {
                let what = if found_frames < declared_frames {
                    "is cut short"
                } else {
                    "overruns"
                };
                write!(
                    f,
                    "{what}: its header declares {declared_frames} frames, and {found_frames} \
                     are there"
                )
            }
            Self::NotFinite {
                value,
                frame,
                channel,
                sample_rate_hz,
            } => write!(
                f,
                "holds {value} at frame {frame} ({:.3} s), channel {channel}; every sample must \
                 be a finite number",
                *frame as f64 / f64::from(*sample_rate_hz)
            ),
            _ => self.fmt_output(f),
        }
    }
}

impl Problem {
    /// The sentence where the fault is in what is written.
    fn fmt_output(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Exists => write!(f, "exists already and is left alone; --force replaces it"),
            Self::NotCreated(error) => write!(f, "cannot be created: {error}"),
            Self::TooLong {
                frames,
                max_frames,
                sample_rate_hz,
            } => write!(
                f,
                "would hold {frames} frames and pass 4 GiB, the most that a WAV file can hold; \
                 {max_frames} frames ({:.1} minutes) fit",
                *max_frames as f64 / f64::from(*sample_rate_hz) / 60.0
            ),
            Self::Full(error) => write!(
                f,
                "does not fit on its disk ({error}); what was written of it has been removed"
            ),
            Self::NotWritten(error) => {
                write!(
                    f,
                    "cannot be written ({error}); what was written of it has been removed"
                )
            }
            _ => write!(f, "was not written, because an earlier write failed"),
        }
    }
}

impl std::error::Error for AudioError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match &self.problem {
            Problem::Unreadable(error)
            | Problem::NotCreated(error)
            | Problem::Full(error)
            | Problem::NotWritten(error) => Some(error),
            _ => None,
        }
    }
}

/// Sorts a failed write into "no space" and the rest.
pub(super) fn write_problem(error: io::Error) -> Problem {
    use io::ErrorKind::{FileTooLarge, QuotaExceeded, StorageFull};
    match error.kind() {
        StorageFull | QuotaExceeded | FileTooLarge => Problem::Full(error),
        _ => Problem::NotWritten(error),
    }
}
