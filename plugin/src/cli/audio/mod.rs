//! Audio files: WAV, AIFF and FLAC in, WAV out, streamed in blocks of any size.
//!
//! The headers of WAV and AIFF are read here and not by a library, because the program promises
//! what libraries leave open: a file cut short is refused with both numbers, odd chunks are
//! skipped whether or not they were padded, and a size that was never filled in means "to the end
//! of the file". FLAC frames are decoded by symphonia, and every gap it skips silently is found
//! and refused. Samples are `f64` with full scale at 1.0; 32-bit integers and 64-bit floats
//! arrive unchanged.
//!
//! A writer works under a temporary name beside its target and renames at the end, so that no
//! failure leaves half a file or touches an existing one.

mod dither;
mod error;
mod read;
#[cfg(test)]
mod tests;
mod write;

use std::ops::RangeInclusive;

pub use error::{AudioError, Problem};
pub use read::Reader;
pub use write::{Encoding, Writer};

/// Sample rates that are read and written, in hertz.
pub const SAMPLE_RATES_HZ: RangeInclusive<u32> = 8_000..=192_000;

/// Largest number of channels that is read and written.
pub const MAX_CHANNELS: usize = 2;

/// What a file's header says about its audio.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Format {
    /// Frames per second, within [`SAMPLE_RATES_HZ`].
    pub sample_rate_hz: u32,
    /// 1 or 2.
    pub channels: usize,
    /// Frames in the file as its header declares them, or as its length gives them where a WAV
    /// was streamed without a size. `None` for a FLAC that was streamed without a total. Where it
    /// is known, the reader delivers exactly this many or fails.
    pub frames: Option<u64>,
}

/// Refuses rates and channel counts out of range, for reading and writing alike.
fn check_shape(sample_rate_hz: u32, channels: usize) -> Result<(), Problem> {
    if !(1..=MAX_CHANNELS).contains(&channels) {
        return Err(Problem::Channels { channels });
    }
    if !SAMPLE_RATES_HZ.contains(&sample_rate_hz) {
        return Err(Problem::SampleRate { sample_rate_hz });
    }
    Ok(())
}
