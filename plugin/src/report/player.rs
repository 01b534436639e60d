//! Players: short WAV files inside the page, and how long they may be.

use std::f64::consts::PI;
use std::fmt::Write;

/// WAV bytes that all players of a report may hold together. As data URIs, a third longer and each
/// with a head of its own, they stay within 25 MB.
pub const PLAYERS_BYTES: usize = 18_700_000;
/// No player is longer.
pub const LONGEST_EXCERPT_SECONDS: f64 = 15.0;

const URI_HEAD: &str = "data:audio/wav;base64,";
const WAV_HEADER_BYTES: usize = 44;
/// Raised-cosine fade at both ends of an excerpt, so that it begins and ends without a click.
const FADE_SECONDS: f64 = 0.01;
const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// How long each of `players` equal 16-bit WAV excerpts may be, so that all of them together stay
/// within [`PLAYERS_BYTES`] and none passes [`LONGEST_EXCERPT_SECONDS`].
///
/// `players` counts every player of the report, sources included. With no player, channel or
/// sample rate the answer is the longest excerpt.
pub fn excerpt_seconds(channels: usize, sample_rate_hz: f64, players: usize) -> f64 {
    let bytes_per_second = sample_rate_hz * channels as f64 * 2.0;
    if players == 0 || !bytes_per_second.is_finite() || bytes_per_second <= 0.0 {
        return LONGEST_EXCERPT_SECONDS;
    }
    let data_bytes = (PLAYERS_BYTES / players).saturating_sub(WAV_HEADER_BYTES);
    let frames = data_bytes / (2 * channels);
    (frames as f64 / sample_rate_hz).min(LONGEST_EXCERPT_SECONDS)
}

/// Encodes equally long channels as a 16-bit WAV file with triangular dither of two steps' width.
///
/// Full scale = 1; louder samples are held at full scale, what is not a number becomes silence.
/// The dither is seeded, so equal samples give equal bytes. Frames beyond the shortest channel are
/// left out.
pub fn encode_wav_16<C: AsRef<[f64]>>(channels: &[C], sample_rate_hz: u32) -> Vec<u8> {
    let frames = channels.iter().map(|c| c.as_ref().len()).min().unwrap_or(0);
    let count = channels.len().max(1);
    let data_bytes = frames * count * 2;
    let mut wav = Vec::with_capacity(WAV_HEADER_BYTES + data_bytes);
    let block = count * 2;
    let small = |v: usize| u16::try_from(v).unwrap_or(u16::MAX).to_le_bytes();
    let wide = |v: usize| u32::try_from(v).unwrap_or(u32::MAX).to_le_bytes();
    wav.extend_from_slice(b"RIFF");
    wav.extend_from_slice(&wide(36 + data_bytes));
    wav.extend_from_slice(b"WAVEfmt ");
    wav.extend_from_slice(&wide(16));
    wav.extend_from_slice(&small(1));
    wav.extend_from_slice(&small(count));
    wav.extend_from_slice(&sample_rate_hz.to_le_bytes());
    wav.extend_from_slice(&wide(sample_rate_hz as usize * block));
    wav.extend_from_slice(&small(block));
    wav.extend_from_slice(&small(16));
    wav.extend_from_slice(b"data");
    wav.extend_from_slice(&wide(data_bytes));
    let mut dither = Dither::new();
    for frame in 0..frames {
        for channel in channels {
            wav.extend_from_slice(&to_i16(channel.as_ref()[frame], dither.next()).to_le_bytes());
        }
    }
    wav
}

/// One sample with dither in steps; digital silence stays dithered like the rest.
fn to_i16(sample: f64, dither_steps: f64) -> i16 {
    let sample = if sample.is_nan() { 0.0 } else { sample };
    let steps = (sample * 32_768.0 + dither_steps).round();
    steps.clamp(f64::from(i16::MIN), f64::from(i16::MAX)) as i16
}

/// Triangular noise between -1 and +1 from two uniform draws (xorshift64*, fixed seed).
struct Dither {
    state: u64,
}

impl Dither {
    fn new() -> Self {
        Self {
            state: 0x9e37_79b9_7f4a_7c15,
        }
    }

    fn uniform(&mut self) -> f64 {
        self.state ^= self.state >> 12;
        self.state ^= self.state << 25;
        self.state ^= self.state >> 27;
        let bits = self.state.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11;
        bits as f64 / (1u64 << 53) as f64
    }

    fn next(&mut self) -> f64 {
        self.uniform() - self.uniform()
    }
}

/// Fades an excerpt in and out over 10 ms, in place.
pub fn soften_ends(channels: &mut [Vec<f64>], sample_rate_hz: f64) {
    for channel in channels {
        let wanted = (FADE_SECONDS * sample_rate_hz).max(0.0) as usize;
        let length = channel.len();
        let fade = wanted.min(length / 2);
        for i in 0..fade {
            let gain = 0.5 - 0.5 * (PI * (i as f64 + 0.5) / fade as f64).cos();
            channel[i] *= gain;
            channel[length - 1 - i] *= gain;
        }
    }
}

/// A WAV file as a data URI.
pub fn data_uri(wav: &[u8]) -> String {
    let mut out = String::with_capacity(URI_HEAD.len() + wav.len().div_ceil(3) * 4);
    out.push_str(URI_HEAD);
    base64_into(&mut out, wav);
    out
}

/// Appends base64 with padding (RFC 4648, section 4).
fn base64_into(out: &mut String, bytes: &[u8]) {
    for group in bytes.chunks(3) {
        let at = |i: usize| u32::from(group.get(i).copied().unwrap_or(0));
        let word = at(0) << 16 | at(1) << 8 | at(2);
        for i in 0..4 {
            let letter = ALPHABET[(word >> (18 - 6 * i) & 63) as usize];
            out.push(if i > group.len() {
                '='
            } else {
                char::from(letter)
            });
        }
    }
}

/// An audio element named for screen readers, or nothing without audio. `name` is escaped already.
pub fn audio(wav: &[u8], number: &str, name: &str) -> String {
    if wav.is_empty() {
        return String::from("<span class=\"muted\">no player</span>");
    }
    let mut out = String::new();
    let _ = write!(
        out,
        "<audio controls=\"\" preload=\"metadata\" data-n=\"{number}\" aria-label=\"{name}\" src=\"",
    );
    out.push_str(&data_uri(wav));
    out.push_str("\"></audio>");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors of RFC 4648, section 10.
    #[test]
    fn base64_rfc_4648_vectors() {
        let base64 = |bytes: &[u8]| {
            let mut out = String::new();
            base64_into(&mut out, bytes);
            out
        };
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in vectors {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
        // RFC 4648 section 9, the byte string of its first illustration.
        assert_eq!(base64(&[0x14, 0xfb, 0x9c, 0x03, 0xd9, 0x7e]), "FPucA9l+");
    }

    #[test]
    fn players_stay_within_the_limit() {
        for (channels, rate_hz, players) in [
            (1, 16_000, 2),
            (2, 44_100, 9),
            (2, 96_000, 4),
            (2, 192_000, 25),
            (1, 48_000, 400),
        ] {
            let seconds = excerpt_seconds(channels, f64::from(rate_hz), players);
            assert!(seconds > 0.0 && seconds <= LONGEST_EXCERPT_SECONDS);
            let frames = (seconds * f64::from(rate_hz)).round() as usize;
            let wav = encode_wav_16(&vec![vec![0.1; frames]; channels], rate_hz);
            assert!(wav.len() * players <= PLAYERS_BYTES, "{channels} {rate_hz}");
            assert!(
                data_uri(&wav).len() * players <= 25_000_000,
                "{channels} {rate_hz}"
            );
        }
        assert_eq!(excerpt_seconds(1, 44_100.0, 4), LONGEST_EXCERPT_SECONDS);
        assert_eq!(excerpt_seconds(2, 0.0, 4), LONGEST_EXCERPT_SECONDS);
        assert_eq!(excerpt_seconds(2, 44_100.0, 0), LONGEST_EXCERPT_SECONDS);
    }

    /// Field offsets of a canonical PCM WAV file (Microsoft/IBM, Multimedia Programming Interface
    /// and Data Specifications 1.0, 1991).
    #[test]
    fn wav_header_fields() {
        let wav = encode_wav_16(&[vec![0.0; 5], vec![0.0; 5]], 48_000);
        let u32_at = |i: usize| u32::from_le_bytes([wav[i], wav[i + 1], wav[i + 2], wav[i + 3]]);
        let u16_at = |i: usize| u16::from_le_bytes([wav[i], wav[i + 1]]);
        assert_eq!(wav.len(), 44 + 20);
        assert_eq!((&wav[0..4], &wav[8..16]), (&b"RIFF"[..], &b"WAVEfmt "[..]));
        assert_eq!((u32_at(4), u32_at(16), u32_at(40)), (36 + 20, 16, 20));
        assert_eq!(
            (u16_at(20), u16_at(22), u16_at(32), u16_at(34)),
            (1, 2, 4, 16)
        );
        assert_eq!((u32_at(24), u32_at(28)), (48_000, 192_000));
    }

    #[test]
    fn dither_has_the_variance_of_a_triangle_and_no_bias() {
        // A triangle from -1 to +1 has variance 1/6; 400 000 draws spread it by about 0.3 %.
        let mut dither = Dither::new();
        let draws: Vec<f64> = (0..400_000).map(|_| dither.next()).collect();
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        let variance = draws.iter().map(|d| d * d).sum::<f64>() / draws.len() as f64;
        assert!(mean.abs() < 0.003, "{mean}");
        assert!((variance * 6.0 - 1.0).abs() < 0.01, "{variance}");
        assert!(draws.iter().all(|d| d.abs() <= 1.0));
    }

    #[test]
    fn loud_and_broken_samples_are_held() {
        assert_eq!(to_i16(2.0, 0.0), i16::MAX);
        assert_eq!(to_i16(-2.0, 0.0), i16::MIN);
        assert_eq!(to_i16(f64::INFINITY, 0.0), i16::MAX);
        assert_eq!(to_i16(f64::NAN, 0.4), 0);
        assert_eq!(to_i16(0.5, 0.0), 16_384);
    }

    #[test]
    fn ends_are_faded_and_the_middle_kept() {
        let mut channels = vec![vec![1.0; 48_000], vec![1.0; 3]];
        soften_ends(&mut channels, 48_000.0);
        assert!(channels[0][0] < 1e-4 && channels[0][47_999] < 1e-4);
        assert_eq!(channels[0][24_000], 1.0);
        assert_eq!(channels[1][1], 1.0);
    }
}
