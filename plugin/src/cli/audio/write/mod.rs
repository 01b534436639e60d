//! Writing a WAV file: 32-bit float, or 24-bit integer with dither.

mod header;
mod place;

use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::dither::Quantiser;
use super::error::write_problem;
use super::{AudioError, Problem, check_shape};
pub use header::Encoding;
use header::Wav;
use place::Place;

/// Collected bytes are written to the file from this many on.
const FLUSH_BYTES: usize = 64 * 1024;

/// A WAV file being written under a temporary name beside its target.
///
/// Only [`Writer::finish`] puts it in its place; dropped before that, it leaves nothing behind.
#[derive(Debug)]
pub struct Writer {
    path: PathBuf,
    // Before `place`, because some systems remove a file only once it is closed.
    file: File,
    place: Place,
    wav: Wav,
    quantiser: Quantiser,
    buffer: Vec<u8>,
    failed: bool,
}

impl Writer {
    /// Begins a file of 1 or 2 channels.
    ///
    /// # Errors
    /// A target that exists (unless `force`) or, `force` or not, is a directory, device or pipe;
    /// a place where no file can be made; a rate or channel count that is not allowed; more
    /// `expected_frames` than fit into 4 GiB.
    pub fn create(
        path: &Path,
        sample_rate_hz: u32,
        channels: usize,
        encoding: Encoding,
        expected_frames: Option<u64>,
        force: bool,
    ) -> Result<Writer, AudioError> {
        let wav = Wav {
            sample_rate_hz,
            channels,
            encoding,
            frames: 0,
        };
        let begin = || {
            check_shape(sample_rate_hz, channels)?;
            wav.check_room(expected_frames.unwrap_or(0))?;
            let (place, file) = Place::reserve(path, force)?;
            Ok(Self::new(path, place, file, wav))
        };
        begin().map_err(|problem| AudioError::output(path, problem))
    }

    fn new(path: &Path, place: Place, file: File, wav: Wav) -> Self {
        Self {
            path: path.to_path_buf(),
            place,
            file,
            // The header's place is kept free until the sizes are known.
            buffer: wav.header(0),
            wav,
            quantiser: Quantiser::new(),
            failed: false,
        }
    }

    /// Appends frames: one slice per channel, all of one length, full scale 1.0.
    ///
    /// # Errors
    /// A failed write (full disk and the like), NaN or infinity, more than 4 GiB in all. The file
    /// cannot be finished then.
    ///
    /// # Panics
    /// If the number of slices is not that of the channels, or their lengths differ.
    pub fn write(&mut self, channels: &[&[f64]]) -> Result<(), AudioError> {
        assert_eq!(channels.len(), self.wav.channels, "one slice per channel");
        let frames = channels.first().map_or(0, |channel| channel.len());
        assert!(
            channels.iter().all(|channel| channel.len() == frames),
            "channels of one length"
        );
        self.append(channels, frames).map_err(|problem| {
            self.failed = true;
            AudioError::output(&self.path, problem)
        })
    }

    /// Samples beyond +-1.0 that clipped so far; always 0 with [`Encoding::F32`].
    pub fn clipped_samples(&self) -> u64 {
        self.quantiser.clipped_samples()
    }

    /// Completes the file on the disk and gives it its name.
    ///
    /// # Errors
    /// A failed write, now or before; a target that has appeared meanwhile (unless `force` was
    /// set). Nothing is left behind then.
    pub fn finish(mut self) -> Result<(), AudioError> {
        self.complete()
            .map_err(|problem| AudioError::output(&self.path, problem))
    }

    /// A writer whose bytes go to `device` instead of its temporary file.
    #[cfg(test)]
    pub(super) fn create_onto(path: &Path, device: &Path) -> io::Result<Writer> {
        let mut writer =
            Self::create(path, 48_000, 1, Encoding::F32, None, false).map_err(io::Error::other)?;
        writer.file = File::options().write(true).open(device)?;
        Ok(writer)
    }

    /// A writer that behaves as if it had written so many frames.
    #[cfg(test)]
    pub(super) fn pretend_frames(&mut self, frames: u64) {
        self.wav.frames = frames;
    }

    fn append(&mut self, channels: &[&[f64]], frames: usize) -> Result<(), Problem> {
        self.wav
            .check_room(self.wav.frames.saturating_add(frames as u64))?;
        for frame in 0..frames {
            for (index, channel) in channels.iter().enumerate() {
                if !self.push(channel[frame]) {
                    return Err(Problem::NotFinite {
                        value: channel[frame],
                        frame: self.wav.frames,
                        channel: index + 1,
                        sample_rate_hz: self.wav.sample_rate_hz,
                    });
                }
            }
            self.wav.frames += 1;
            if self.buffer.len() >= FLUSH_BYTES {
                self.flush().map_err(write_problem)?;
            }
        }
        Ok(())
    }

    /// Encodes one sample; false where it has no finite value.
    fn push(&mut self, sample: f64) -> bool {
        match self.wav.encoding {
            Encoding::F32 => {
                self.buffer
                    .extend_from_slice(&(sample as f32).to_le_bytes());
                (sample as f32).is_finite()
            }
            Encoding::S24 => {
                let [low, middle, high, _] = self.quantiser.quantise(sample).to_le_bytes();
                self.buffer.extend_from_slice(&[low, middle, high]);
                sample.is_finite()
            }
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.write_all(&self.buffer)?;
        self.buffer.clear();
        Ok(())
    }

    fn complete(&mut self) -> Result<(), Problem> {
        if self.failed {
            return Err(Problem::Abandoned);
        }
        self.complete_file().map_err(write_problem)?;
        self.place.settle()
    }

    fn complete_file(&mut self) -> io::Result<()> {
        if !self.wav.data_bytes().is_multiple_of(2) {
            // RIFF pads a chunk of odd size.
            self.buffer.push(0);
        }
        self.flush()?;
        self.file.seek(SeekFrom::Start(0))?;
        self.file
            .write_all(&self.wav.header(self.wav.data_bytes() as u32))?;
        self.file.sync_all()
    }
}
