//! Linear samples as they lie in WAV and AIFF files, turned into `f64` without loss.

use std::fs::File;
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};

use super::unreadable;
use crate::cli::audio::{Problem, check_shape};

/// Frames converted at a time, which bounds the memory of a read.
const STEP_FRAMES: usize = 4096;

/// One over the full scale of a 32-bit integer; the shorter ones are shifted up to 32 bits first.
const INTEGER_SCALE: f64 = 1.0 / (1u64 << 31) as f64;

/// How one sample is stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sample {
    I16,
    I24,
    I32,
    F32,
    F64,
}

impl Sample {
    /// The integer kind for a number of significant bits, which lie at the upper end of whole
    /// bytes in WAV and AIFF alike. `None` where that is not one of the kinds read.
    pub(super) fn integer(bits: u16) -> Option<Self> {
        match bits {
            9..=16 => Some(Self::I16),
            17..=24 => Some(Self::I24),
            25..=32 => Some(Self::I32),
            _ => None,
        }
    }

    /// Bytes that one sample takes.
    pub(super) fn bytes(self) -> usize {
        match self {
            Self::I16 => 2,
            Self::I24 => 3,
            Self::I32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// The value of one sample whose bytes begin with the least significant one.
    fn value(self, le: &[u8]) -> f64 {
        match (self, le) {
            (Self::I16, &[a, b]) => f64::from(i32::from_le_bytes([0, 0, a, b])) * INTEGER_SCALE,
            (Self::I24, &[a, b, c]) => f64::from(i32::from_le_bytes([0, a, b, c])) * INTEGER_SCALE,
            (Self::I32, &[a, b, c, d]) => {
                f64::from(i32::from_le_bytes([a, b, c, d])) * INTEGER_SCALE
            }
            (Self::F32, &[a, b, c, d]) => f64::from(f32::from_le_bytes([a, b, c, d])),
            (Self::F64, &[a, b, c, d, e, f, g, h]) => f64::from_le_bytes([a, b, c, d, e, f, g, h]),
            _ => unreachable!("the slice has the length that bytes() tells"),
        }
    }
}

/// Where the samples of a file lie and how to understand them.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) sample: Sample,
    pub(super) big_endian: bool,
    pub(super) channels: usize,
    pub(super) sample_rate_hz: u32,
    /// Position of the first sample's first byte.
    pub(super) start: u64,
    pub(super) frames: u64,
}

impl Layout {
    /// Refuses what lies outside the program's limits.
    pub(super) fn check(self) -> Result<Self, Problem> {
        check_shape(self.sample_rate_hz, self.channels)?;
        if self.frames == 0 {
            return Err(Problem::NoFrames);
        }
        Ok(self)
    }
}

/// A file of linear samples, positioned at the next frame.
pub(super) struct PcmReader {
    file: File,
    layout: Layout,
    next_frame: u64,
    bytes: Vec<u8>,
}

impl PcmReader {
    /// Starts at the first frame.
    pub(super) fn new(mut file: File, layout: Layout) -> io::Result<Self> {
        file.seek(SeekFrom::Start(layout.start))?;
        Ok(Self {
            file,
            layout,
            next_frame: 0,
            bytes: Vec::new(),
        })
    }

    /// Appends up to `max_frames` frames to the channels of `block`.
    pub(super) fn read(
        &mut self,
        block: &mut [Vec<f64>],
        max_frames: usize,
    ) -> Result<usize, Problem> {
        let left = self.layout.frames - self.next_frame;
        let wanted = usize::try_from(left).map_or(max_frames, |left| left.min(max_frames));
        let mut done = 0;
        while done < wanted {
            let frames = STEP_FRAMES.min(wanted - done);
            self.read_step(block, frames)?;
            done += frames;
        }
        Ok(done)
    }

    fn read_step(&mut self, block: &mut [Vec<f64>], frames: usize) -> Result<(), Problem> {
        let Layout {
            sample,
            channels,
            sample_rate_hz,
            ..
        } = self.layout;
        self.bytes.resize(frames * channels * sample.bytes(), 0);
        self.file
            .read_exact(&mut self.bytes)
            .map_err(|error| match error.kind() {
                // The length was checked at opening, so somebody has shortened the file since.
                ErrorKind::UnexpectedEof => Problem::WrongLength {
                    declared_frames: self.layout.frames,
                    found_frames: self.next_frame,
                },
                _ => unreadable(error),
            })?;
        if self.layout.big_endian {
            self.bytes
                .chunks_exact_mut(sample.bytes())
                .for_each(<[u8]>::reverse);
        }
        for (index, raw) in self.bytes.chunks_exact(sample.bytes()).enumerate() {
            let value = sample.value(raw);
            if !value.is_finite() {
                let frame = self.next_frame + (index / channels) as u64;
                let channel = index % channels + 1;
                return Err(Problem::NotFinite {
                    value,
                    frame,
                    channel,
                    sample_rate_hz,
                });
            }
            block[index % channels].push(value);
        }
        self.next_frame += frames as u64;
        Ok(())
    }
}
