//! The header of a WAV file, and how much such a file can hold.

use crate::cli::audio::Problem;

/// How samples are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// 32-bit IEEE float, rounded to nearest; may exceed full scale.
    F32,
    /// 24-bit integer with triangular dither; beyond full scale it clips.
    S24,
}

impl Encoding {
    fn sample_bytes(self) -> u64 {
        match self {
            Self::F32 => 4,
            Self::S24 => 3,
        }
    }
}

/// The shape of the file and how far it has come.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wav {
    pub(super) sample_rate_hz: u32,
    pub(super) channels: usize,
    pub(super) encoding: Encoding,
    pub(super) frames: u64,
}

impl Wav {
    /// Bytes that one frame takes.
    fn frame_bytes(&self) -> u64 {
        self.encoding.sample_bytes() * self.channels as u64
    }

    /// Bytes of all frames written so far.
    pub(super) fn data_bytes(&self) -> u64 {
        self.frames * self.frame_bytes()
    }

    /// Refuses more frames than the 32-bit sizes of the header can tell.
    pub(super) fn check_room(&self, frames: u64) -> Result<(), Problem> {
        // The largest size itself means "unknown", and one byte may be needed for padding.
        let room_bytes = u64::from(u32::MAX) - 2 - self.header(0).len() as u64;
        let max_frames = room_bytes / self.frame_bytes();
        if frames > max_frames {
            let sample_rate_hz = self.sample_rate_hz;
            return Err(Problem::TooLong {
                frames,
                max_frames,
                sample_rate_hz,
            });
        }
        Ok(())
    }

    /// The bytes before the samples. Plain tags rather than WAVE_FORMAT_EXTENSIBLE, because every
    /// reader knows them; float has the `fact` chunk and the extension size that its standard
    /// asks for (Microsoft, "Multiple Channel Audio Data and WAVE Files").
    pub(super) fn header(&self, data_bytes: u32) -> Vec<u8> {
        let frame_bytes = self.frame_bytes() as u32;
        let mut format = Vec::new();
        let (tag, bits) = match self.encoding {
            Encoding::F32 => (3u16, 32u16),
            Encoding::S24 => (1, 24),
        };
        format.extend_from_slice(&tag.to_le_bytes());
        format.extend_from_slice(&(self.channels as u16).to_le_bytes());
        format.extend_from_slice(&self.sample_rate_hz.to_le_bytes());
        format.extend_from_slice(&self.sample_rate_hz.wrapping_mul(frame_bytes).to_le_bytes());
        format.extend_from_slice(&(frame_bytes as u16).to_le_bytes());
        format.extend_from_slice(&bits.to_le_bytes());
        let mut chunks = b"WAVE".to_vec();
        if self.encoding == Encoding::F32 {
            format.extend_from_slice(&0u16.to_le_bytes());
        }
        push_chunk(&mut chunks, *b"fmt ", &format);
        if self.encoding == Encoding::F32 {
            push_chunk(
                &mut chunks,
                *b"fact",
                &(data_bytes / frame_bytes).to_le_bytes(),
            );
        }
        chunks.extend_from_slice(b"data");
        chunks.extend_from_slice(&data_bytes.to_le_bytes());
        let mut header = b"RIFF".to_vec();
        let riff_bytes = chunks.len() as u32 + data_bytes + data_bytes % 2;
        header.extend_from_slice(&riff_bytes.to_le_bytes());
        header.extend_from_slice(&chunks);
        header
    }
}

fn push_chunk(bytes: &mut Vec<u8>, name: [u8; 4], content: &[u8]) {
    bytes.extend_from_slice(&name);
    bytes.extend_from_slice(&(content.len() as u32).to_le_bytes());
    bytes.extend_from_slice(content);
}
