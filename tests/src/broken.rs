//! Audio files that are wrong, each in one way.

use std::fs;
use std::path::Path;

use crate::recordings;
use crate::wave::Wave;

/// A broken file and what its refusal has to name besides the file (alternatives parted by `|`).
#[derive(Debug)]
pub struct Broken {
    /// Name of the file in the folder.
    pub name: &'static str,
    /// What the message must hold.
    pub says: &'static [&'static str],
}

const PCM: u16 = 1;
const FLOAT: u16 = 3;

/// Writes every kind of broken file into `dir`.
///
/// # Panics
/// When the folder cannot be written, or the recordings are missing.
pub fn write_all(dir: &Path) -> Vec<Broken> {
    let mut all = Vec::new();
    let mut add = |name: &'static str, bytes: &[u8], says: &'static [&'static str]| {
        fs::write(dir.join(name), bytes).expect("the folder can be written");
        all.push(Broken { name, says });
    };
    let second = vec![0u8; 96_000];
    add("empty.wav", b"", &[]);
    add(
        "prose.wav",
        b"This is a letter, not a recording, though its name says so.\n",
        &[],
    );
    add(
        "half_a_header.wav",
        &riff(PCM, 1, 48_000, 16, 96_000, &second)[..20],
        &[],
    );
    add("no_frames.wav", &riff(PCM, 1, 48_000, 16, 0, b""), &[]);
    // The header promises one second; 1000 frames of it are there.
    add(
        "cut_short.wav",
        &riff(PCM, 1, 48_000, 16, 96_000, &second[..2000]),
        &[],
    );
    add("cut_short.aiff", &aiff(48_000, &second[..2000]), &[]);
    let flac = fs::read(recordings::guitar_mono()).expect("a recording can be read");
    add("cut_short.flac", &flac[..flac.len() * 3 / 5], &[]);
    impossible_headers(&second, &mut add);
    for (name, at) in [("nan_first.wav", 0.0), ("nan_last.wav", 2.999)] {
        let mut wave = Wave::sine(48_000, 440.0, 0.1, 3.0);
        wave.samples[(at * 48_000.0) as usize] = f32::NAN;
        wave.write(&dir.join(name));
        all.push(Broken {
            name,
            says: &["nan|not a number"],
        });
    }
    all
}

/// Headers that promise what no file of ours can be.
fn impossible_headers(
    second: &[u8],
    add: &mut impl FnMut(&'static str, &[u8], &'static [&'static str]),
) {
    add(
        "three_channels.wav",
        &riff(PCM, 3, 48_000, 16, 96_000, second),
        &["3|three"],
    );
    add(
        "six_channels.wav",
        &riff(PCM, 6, 48_000, 16, 96_000, second),
        &["6|six"],
    );
    add(
        "no_channels.wav",
        &riff(PCM, 0, 48_000, 16, 96_000, second),
        &["0|no "],
    );
    add("rate_0.wav", &riff(PCM, 1, 0, 16, 96_000, second), &["0"]);
    add(
        "rate_7999.wav",
        &riff(PCM, 1, 7999, 16, 96_000, second),
        &["7999|7.999", "8000|8 k|8-"],
    );
    add(
        "rate_384000.wav",
        &riff(PCM, 1, 384_000, 16, 96_000, second),
        &["384", "192"],
    );
    add(
        "rate_4_gigahertz.wav",
        &riff(PCM, 1, u32::MAX, 16, 96_000, second),
        &["192"],
    );
    add(
        "bits_0.wav",
        &riff(PCM, 1, 48_000, 0, 96_000, second),
        &["0"],
    );
    add(
        "bits_77.wav",
        &riff(PCM, 1, 48_000, 77, 96_000, second),
        &["77"],
    );
    add(
        "float_of_16_bits.wav",
        &riff(FLOAT, 1, 48_000, 16, 96_000, second),
        &["16"],
    );
}

/// A WAV file with the header as given and `data`, of which the header claims `claimed_bytes`.
#[must_use]
pub fn riff(
    format: u16,
    channels: u16,
    rate_hz: u32,
    bits: u16,
    claimed_bytes: u32,
    data: &[u8],
) -> Vec<u8> {
    let block = channels.wrapping_mul(bits / 8);
    let mut bytes = Vec::new();
    bytes.extend(b"RIFF");
    bytes.extend((claimed_bytes.saturating_add(36)).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16u32.to_le_bytes());
    bytes.extend(format.to_le_bytes());
    bytes.extend(channels.to_le_bytes());
    bytes.extend(rate_hz.to_le_bytes());
    bytes.extend(rate_hz.wrapping_mul(u32::from(block)).to_le_bytes());
    bytes.extend(block.to_le_bytes());
    bytes.extend(bits.to_le_bytes());
    bytes.extend(b"data");
    bytes.extend(claimed_bytes.to_le_bytes());
    bytes.extend(data);
    bytes
}

/// An AIFF file, mono, 16 bit, 48 kHz, whose header claims `frames` but which ends after `data`.
fn aiff(frames: u32, data: &[u8]) -> Vec<u8> {
    let sound_bytes = frames * 2 + 8;
    let mut bytes = Vec::new();
    bytes.extend(b"FORM");
    bytes.extend((4 + 26 + 8 + sound_bytes).to_be_bytes());
    bytes.extend(b"AIFFCOMM");
    bytes.extend(18u32.to_be_bytes());
    bytes.extend(1u16.to_be_bytes());
    bytes.extend(frames.to_be_bytes());
    bytes.extend(16u16.to_be_bytes());
    // 48000 as an 80-bit IEEE 754 extended number.
    bytes.extend([0x40, 0x0E, 0xBB, 0x80, 0, 0, 0, 0, 0, 0]);
    bytes.extend(b"SSND");
    bytes.extend(sound_bytes.to_be_bytes());
    bytes.extend([0; 8]);
    bytes.extend(data);
    bytes
}
