//! The header of a WAV file (RIFF/WAVE, Microsoft and IBM, Multimedia Programming Interface and
//! Data Specifications 1.0, 1991; WAVE_FORMAT_EXTENSIBLE, Microsoft, "Multiple Channel Audio Data
//! and WAVE Files").

use super::Header;
use super::chunks::{Chunk, Chunks};
use super::pcm::{Layout, Sample};
use crate::cli::audio::Problem;

const TAG_PCM: u16 = 0x0001;
const TAG_FLOAT: u16 = 0x0003;
const TAG_EXTENSIBLE: u16 = 0xfffe;

/// Bytes 2 to 15 of the sub-format GUID, common to all that stand for a plain tag.
const GUID_TAIL: [u8; 14] = [
    0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xaa, 0x00, 0x38, 0x9b, 0x71,
];

/// A size that programs write when they cannot come back to fill in the real one.
const SIZE_UNKNOWN: u32 = 0xffff_ffff;
/// Another, rounded down to whole frames where it is used.
const SIZE_UNKNOWN_SIGNED: u32 = 0x7fff_f000;

/// What the `fmt ` chunk says.
struct Description {
    tag: u16,
    channels: u16,
    sample_rate_hz: u32,
    frame_bytes: u16,
    bits: u16,
}

/// Finds the samples of a WAV file.
pub(super) fn parse(header: &mut Header) -> Result<Layout, Problem> {
    let len_bytes = header.len_bytes;
    let mut chunks = Chunks::new(header, u32::from_le_bytes);
    let riff = Chunk {
        name: *b"RIFF",
        size_bytes: 0,
        start: 4,
    };
    let riff_bytes = u32::from_le_bytes(chunks.body(riff)?);
    let mut description = None;
    while let Some(chunk) = chunks.next()? {
        match &chunk.name {
            b"fmt " => description = Some(describe(&mut chunks, chunk)?),
            b"data" => {
                let Some(description) = description else {
                    let clause = "is no sound WAV file: nothing before its samples describes them";
                    return Err(Problem::Malformed(clause.into()));
                };
                let (sample, frame_bytes) = sample_of(&description)?;
                let available = chunks.available_bytes(chunk.start);
                let sizes_agree = (u64::from(riff_bytes) + 8).abs_diff(len_bytes) <= 1;
                let data = Data {
                    declared: chunk.size_bytes,
                    available,
                    sizes_agree,
                };
                return Layout {
                    sample,
                    big_endian: false,
                    channels: description.channels.into(),
                    sample_rate_hz: description.sample_rate_hz,
                    start: chunk.start,
                    frames: data.frames(frame_bytes)?,
                }
                .check();
            }
            _ => {}
        }
    }
    Err(Problem::Malformed(
        "is cut short or damaged: its audio data cannot be found".into(),
    ))
}

fn describe(chunks: &mut Chunks, chunk: Chunk) -> Result<Description, Problem> {
    if chunk.size_bytes < 16 {
        return Err(Problem::Malformed(format!(
            "is no sound WAV file: its format takes {} bytes, and at least 16 are needed",
            chunk.size_bytes
        )));
    }
    let raw: [u8; 16] = chunks.body(chunk)?;
    let u16_at = |at: usize| u16::from_le_bytes([raw[at], raw[at + 1]]);
    let mut tag = u16_at(0);
    if tag == TAG_EXTENSIBLE && chunk.size_bytes >= 40 {
        let raw: [u8; 40] = chunks.body(chunk)?;
        if raw[26..40] != GUID_TAIL {
            return Err(Problem::Coding("a kind of WAV audio of its own".into()));
        }
        tag = u16::from_le_bytes([raw[24], raw[25]]);
    }
    Ok(Description {
        tag,
        channels: u16_at(2),
        sample_rate_hz: u32::from_le_bytes([raw[4], raw[5], raw[6], raw[7]]),
        frame_bytes: u16_at(12),
        bits: u16_at(14),
    })
}

/// The kind of sample and the bytes of one frame.
fn sample_of(description: &Description) -> Result<(Sample, u64), Problem> {
    let &Description {
        tag,
        channels,
        frame_bytes,
        bits,
        ..
    } = description;
    let (sample, kind) = match tag {
        TAG_PCM => (Sample::integer(bits), "integer"),
        TAG_FLOAT if bits == 32 => (Some(Sample::F32), "float"),
        TAG_FLOAT if bits == 64 => (Some(Sample::F64), "float"),
        TAG_FLOAT => (None, "float"),
        _ => return Err(Problem::Coding(coding_name(tag))),
    };
    let sample = sample.ok_or_else(|| Problem::Depth(format!("{bits}-bit {kind}")))?;
    let expected = sample.bytes() * usize::from(channels);
    // With no channels the count itself is refused later, which says more.
    if expected != usize::from(frame_bytes) && channels != 0 {
        return Err(Problem::Malformed(format!(
            "is no sound WAV file: it gives {frame_bytes} bytes to a frame, and {channels} \
             channels of {bits} bits take {expected}"
        )));
    }
    Ok((sample, expected.max(1) as u64))
}

fn coding_name(tag: u16) -> String {
    match tag {
        0x0002 | 0x0011 => "ADPCM audio".into(),
        0x0006 => "A-law audio".into(),
        0x0007 => "mu-law audio".into(),
        0x0050 | 0x0055 => "MPEG audio".into(),
        _ => format!("WAV audio of format {tag:#06x}"),
    }
}

/// What is known about the size of the audio data, in bytes.
struct Data {
    declared: u32,
    /// From its start to the end of the file.
    available: u64,
    /// The size of the whole in the header is that of the file.
    sizes_agree: bool,
}

impl Data {
    fn frames(&self, frame_bytes: u64) -> Result<u64, Problem> {
        let declared_bytes = u64::from(self.declared);
        let declared_frames = declared_bytes / frame_bytes;
        let found_frames = self.available / frame_bytes;
        let cut_short = declared_bytes > self.available;
        let placeholder = self.declared == SIZE_UNKNOWN
            || (declared_frames == u64::from(SIZE_UNKNOWN_SIGNED) / frame_bytes && cut_short)
            // Nothing declared, and what follows is not accounted for either: never filled in.
            || (self.declared == 0 && !self.sizes_agree);
        if placeholder {
            return Ok(found_frames);
        }
        if found_frames < declared_frames {
            return Err(Problem::WrongLength {
                declared_frames,
                found_frames,
            });
        }
        Ok(declared_frames)
    }
}
