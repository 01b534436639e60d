//! The header of an AIFF or AIFF-C file (Apple, "Audio Interchange File Format", version 1.3,
//! 1989, and the AIFF-C draft of 1991).

use super::Header;
use super::chunks::{Chunk, Chunks};
use super::pcm::{Layout, Sample};
use crate::cli::audio::Problem;

/// What the `COMM` chunk says.
struct Description {
    channels: u16,
    frames: u32,
    sample: Sample,
    big_endian: bool,
    sample_rate_hz: u32,
}

/// Finds the samples of an AIFF or AIFF-C file.
pub(super) fn parse(header: &mut Header) -> Result<Layout, Problem> {
    let mut chunks = Chunks::new(header, u32::from_be_bytes);
    let form: [u8; 4] = chunks.body(Chunk {
        name: *b"FORM",
        size_bytes: 0,
        start: 8,
    })?;
    let mut description = None;
    let mut sound = None;
    // Any order is allowed, so look until both are found.
    while description.is_none() || sound.is_none() {
        let Some(chunk) = chunks.next()? else { break };
        match &chunk.name {
            b"COMM" => description = Some(describe(&mut chunks, chunk, form == *b"AIFC")?),
            b"SSND" => sound = Some(sound_place(&mut chunks, chunk)?),
            _ => {}
        }
    }
    let Some(description) = description else {
        let clause = "is cut short or damaged: nothing in it describes its samples";
        return Err(Problem::Malformed(clause.into()));
    };
    let Description {
        channels,
        sample,
        big_endian,
        sample_rate_hz,
        ..
    } = description;
    let (start, bytes) = sound.unwrap_or_default();
    let found_frames = bytes / (sample.bytes() * usize::from(channels.max(1))) as u64;
    let frames = u64::from(description.frames);
    let layout = Layout {
        sample,
        big_endian,
        channels: channels.into(),
        sample_rate_hz,
        start,
        frames,
    }
    .check()?;
    if found_frames < frames {
        return Err(Problem::WrongLength {
            declared_frames: frames,
            found_frames,
        });
    }
    Ok(layout)
}

fn describe(chunks: &mut Chunks, chunk: Chunk, compressed: bool) -> Result<Description, Problem> {
    let needed = if compressed { 22 } else { 18 };
    if chunk.size_bytes < needed {
        return Err(Problem::Malformed(format!(
            "is no sound AIFF file: its description takes {} bytes, and at least {needed} are \
             needed",
            chunk.size_bytes
        )));
    }
    let raw: [u8; 18] = chunks.body(chunk)?;
    let mut coding = *b"NONE";
    if compressed {
        let raw: [u8; 22] = chunks.body(chunk)?;
        coding = [raw[18], raw[19], raw[20], raw[21]];
    }
    let bits = u16::from_be_bytes([raw[6], raw[7]]);
    let (sample, big_endian) = sample_of(coding, bits)?;
    let exponent = u16::from_be_bytes([raw[8], raw[9]]);
    let mantissa = u64::from_be_bytes([
        raw[10], raw[11], raw[12], raw[13], raw[14], raw[15], raw[16], raw[17],
    ]);
    Ok(Description {
        channels: u16::from_be_bytes([raw[0], raw[1]]),
        frames: u32::from_be_bytes([raw[2], raw[3], raw[4], raw[5]]),
        sample,
        big_endian,
        // The cast saturates, and what it saturates to is out of range.
        sample_rate_hz: extended(exponent, mantissa).round() as u32,
    })
}

/// The kind of sample for an AIFF-C coding, and whether its first byte is the most significant.
fn sample_of(coding: [u8; 4], bits: u16) -> Result<(Sample, bool), Problem> {
    let (sample, big_endian) = match &coding {
        b"NONE" | b"none" | b"twos" => (Sample::integer(bits), true),
        b"sowt" => (Sample::integer(bits), false),
        b"in24" => (Some(Sample::I24), true),
        b"42ni" => (Some(Sample::I24), false),
        b"in32" => (Some(Sample::I32), true),
        b"23ni" => (Some(Sample::I32), false),
        b"fl32" | b"FL32" => (Some(Sample::F32), true),
        b"fl64" | b"FL64" => (Some(Sample::F64), true),
        b"raw " => (None, true),
        other => {
            let name = String::from_utf8_lossy(other);
            return Err(Problem::Coding(format!(
                "AIFF-C audio of the coding {name:?}"
            )));
        }
    };
    let sample = sample.ok_or_else(|| Problem::Depth(format!("{bits}-bit integer")))?;
    Ok((sample, big_endian))
}

/// The value of an 80-bit extended number (IEEE 754-1985, SANE): 15 bits of exponent biased by
/// 16383, and a 64-bit mantissa with its point behind the first bit.
fn extended(sign_and_exponent: u16, mantissa: u64) -> f64 {
    let exponent = i32::from(sign_and_exponent & 0x7fff) - 16383 - 63;
    let magnitude = mantissa as f64 * 2f64.powi(exponent);
    if sign_and_exponent & 0x8000 == 0 {
        magnitude
    } else {
        -magnitude
    }
}

/// Position and size of the samples in the `SSND` chunk, as far as the file holds them, in bytes.
fn sound_place(chunks: &mut Chunks, chunk: Chunk) -> Result<(u64, u64), Problem> {
    let raw: [u8; 4] = chunks.body(chunk)?;
    let offset = u64::from(u32::from_be_bytes(raw));
    let start = chunk.start + 8 + offset;
    let declared = u64::from(chunk.size_bytes).saturating_sub(8 + offset);
    Ok((start, declared.min(chunks.available_bytes(start))))
}
