//! WAV and AIFF files put together byte by byte, for the tests.

/// A WAV file to be: plain PCM or float, with chunks before and after its samples.
pub(super) struct WavBytes {
    pub(super) tag: u16,
    pub(super) channels: u16,
    pub(super) sample_rate_hz: u32,
    pub(super) bits: u16,
    /// Chunks between `fmt ` and `data`, complete with name, size and padding.
    pub(super) before: Vec<u8>,
    pub(super) data: Vec<u8>,
    pub(super) declared_bytes: Option<u32>,
    pub(super) riff_bytes: Option<u32>,
    /// What follows the samples.
    pub(super) after: Vec<u8>,
}

impl WavBytes {
    /// Mono at 48 kHz.
    pub(super) fn new(tag: u16, bits: u16, data: Vec<u8>) -> Self {
        Self {
            tag,
            channels: 1,
            sample_rate_hz: 48_000,
            bits,
            before: Vec::new(),
            data,
            declared_bytes: None,
            riff_bytes: None,
            after: Vec::new(),
        }
    }

    /// 16-bit mono with the samples 1, 2, 3, ...
    pub(super) fn counting(frames: i16) -> Self {
        Self::new(1, 16, (1..=frames).flat_map(i16::to_le_bytes).collect())
    }

    /// The content of the `fmt ` chunk.
    fn format(&self) -> Vec<u8> {
        let frame_bytes = self.channels * self.bits.div_ceil(8);
        let mut bytes = Vec::new();
        bytes.extend(self.tag.to_le_bytes());
        bytes.extend(self.channels.to_le_bytes());
        bytes.extend(self.sample_rate_hz.to_le_bytes());
        bytes.extend((self.sample_rate_hz * u32::from(frame_bytes)).to_le_bytes());
        bytes.extend(frame_bytes.to_le_bytes());
        bytes.extend(self.bits.to_le_bytes());
        bytes
    }

    /// The file.
    pub(super) fn build(&self) -> Vec<u8> {
        self.build_with_format(&self.format())
    }

    /// The file as WAVE_FORMAT_EXTENSIBLE, with `valid_bits` of the container's bits in use.
    pub(super) fn build_extensible(&self, valid_bits: u16) -> Vec<u8> {
        let mut format = self.format();
        format[..2].copy_from_slice(&0xfffe_u16.to_le_bytes());
        format.extend(22u16.to_le_bytes());
        format.extend(valid_bits.to_le_bytes());
        format.extend((u32::from(self.channels) * 2 - 1).to_le_bytes());
        format.extend(self.tag.to_le_bytes());
        // KSDATAFORMAT_SUBTYPE_PCM without its first two bytes, from Microsoft's ksmedia.h.
        format.extend(b"\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71");
        self.build_with_format(&format)
    }

    pub(super) fn build_with_format(&self, format: &[u8]) -> Vec<u8> {
        let mut body = b"WAVE".to_vec();
        body.extend(chunk(b"fmt ", format));
        body.extend(&self.before);
        body.extend(b"data");
        body.extend(
            self.declared_bytes
                .unwrap_or(self.data.len() as u32)
                .to_le_bytes(),
        );
        body.extend(&self.data);
        body.extend(&self.after);
        let mut file = b"RIFF".to_vec();
        file.extend(self.riff_bytes.unwrap_or(body.len() as u32).to_le_bytes());
        file.extend(body);
        file
    }
}

/// A RIFF chunk with its padding.
pub(super) fn chunk(name: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let mut bytes = name.to_vec();
    bytes.extend((content.len() as u32).to_le_bytes());
    bytes.extend(content);
    bytes.resize(bytes.len().next_multiple_of(2), 0);
    bytes
}

/// An AIFF file to be, or AIFF-C where a coding is given.
pub(super) struct AiffBytes {
    pub(super) coding: Option<[u8; 4]>,
    pub(super) channels: u16,
    pub(super) bits: u16,
    pub(super) frames: u32,
    /// The rate as an 80-bit extended number.
    pub(super) rate: [u8; 10],
    /// Chunks before all others, complete.
    pub(super) before: Vec<u8>,
    pub(super) data: Vec<u8>,
    pub(super) sound_first: bool,
}

/// 44100 Hz, as in the example of Apple's AIFF 1.3 document (its "COMM" chunk prints
/// "400E AC44 0000 0000 0000").
pub(super) const RATE_44100: [u8; 10] = [0x40, 0x0e, 0xac, 0x44, 0, 0, 0, 0, 0, 0];

impl AiffBytes {
    /// Mono at 44.1 kHz.
    pub(super) fn new(coding: Option<[u8; 4]>, bits: u16, frames: u32, data: Vec<u8>) -> Self {
        Self {
            coding,
            channels: 1,
            bits,
            frames,
            rate: RATE_44100,
            before: Vec::new(),
            data,
            sound_first: false,
        }
    }

    /// 16-bit mono with the samples 1, 2, 3, ...
    pub(super) fn counting(frames: i16) -> Self {
        let data = (1..=frames).flat_map(i16::to_be_bytes).collect();
        Self::new(None, 16, frames as u32, data)
    }

    /// The file.
    pub(super) fn build(&self) -> Vec<u8> {
        let mut description = self.channels.to_be_bytes().to_vec();
        description.extend(self.frames.to_be_bytes());
        description.extend(self.bits.to_be_bytes());
        description.extend(self.rate);
        if let Some(coding) = self.coding {
            description.extend(coding);
            description.extend([0, 0]);
        }
        let description = big_chunk(b"COMM", &description);
        let mut sound = vec![0; 8];
        sound.extend(&self.data);
        let sound = big_chunk(b"SSND", &sound);
        let mut body = if self.coding.is_some() {
            b"AIFC".to_vec()
        } else {
            b"AIFF".to_vec()
        };
        body.extend(&self.before);
        let (first, second) = if self.sound_first {
            (sound, description)
        } else {
            (description, sound)
        };
        body.extend(first);
        body.extend(second);
        big_chunk(b"FORM", &body)
    }
}

/// An IFF chunk with its padding.
pub(super) fn big_chunk(name: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let mut bytes = chunk(name, content);
    bytes[4..8].copy_from_slice(&(content.len() as u32).to_be_bytes());
    bytes
}
