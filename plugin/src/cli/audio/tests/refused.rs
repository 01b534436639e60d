//! Everything that is not read, refused in one sentence that says what was found and what is
//! allowed.

use super::bytes::{AiffBytes, WavBytes};
use super::flac_made::{header, stream_info};
use super::{Folder, refusal};

/// A WAV header with some fields changed and a few bytes of data.
fn wav(tag: u16, bits: u16, channels: u16, sample_rate_hz: u32) -> Vec<u8> {
    let mut wav = WavBytes::new(tag, bits, vec![0; 96]);
    wav.channels = channels;
    wav.sample_rate_hz = sample_rate_hz;
    wav.build()
}

#[test]
fn depths() {
    let folder = Folder::new("depths");
    let allowed = "allowed are 16, 24 or 32-bit integer and 32 or 64-bit float in WAV and AIFF, \
                   and 16 to 24-bit integer in FLAC";
    for (tag, bits, found) in [
        (1, 8, "8-bit integer"),
        (1, 4, "4-bit integer"),
        (1, 0, "0-bit integer"),
        (1, 64, "64-bit integer"),
        (3, 16, "16-bit float"),
        (3, 80, "80-bit float"),
    ] {
        let sentence = refusal(&folder.file("a.wav", &wav(tag, bits, 1, 48_000)));
        assert_eq!(sentence, format!("holds {found} samples; {allowed}"));
    }
}

#[test]
fn codings() {
    let folder = Folder::new("codings");
    let allowed = "only linear PCM, integer or float, and FLAC are read";
    for (tag, found) in [
        (2, "ADPCM audio"),
        (0x11, "ADPCM audio"),
        (6, "A-law audio"),
        (7, "mu-law audio"),
        (0x55, "MPEG audio"),
        (0x161, "WAV audio of format 0x0161"),
    ] {
        let sentence = refusal(&folder.file("a.wav", &wav(tag, 16, 1, 48_000)));
        assert_eq!(sentence, format!("holds {found}; {allowed}"));
    }
    let mut extensible = WavBytes::new(1, 16, vec![0; 8]).build_extensible(16);
    extensible[50] ^= 0x80;
    let sentence = refusal(&folder.file("a.wav", &extensible));
    assert_eq!(
        sentence,
        format!("holds a kind of WAV audio of its own; {allowed}")
    );
}

#[test]
fn channel_counts() {
    let folder = Folder::new("channels");
    for channels in [0, 3, 6] {
        let expected = format!("has {channels} channels; allowed are 1 or 2");
        let path = folder.file("a.wav", &wav(1, 16, channels, 48_000));
        assert_eq!(refusal(&path), expected);
        let mut aiff = AiffBytes::counting(24);
        aiff.channels = channels;
        assert_eq!(refusal(&folder.file("a.aiff", &aiff.build())), expected);
    }
    let flac = header(&stream_info(64, 48_000, 8, 16, 64));
    assert_eq!(
        refusal(&folder.file("a.flac", &flac)),
        "has 8 channels; allowed are 1 or 2"
    );
}

#[test]
fn sample_rates() {
    let folder = Folder::new("rates");
    for (rate, nearest) in [
        (0, 8_000),
        (4_000, 8_000),
        (7_999, 8_000),
        (192_001, 192_000),
        (384_000, 192_000),
    ] {
        let expected = format!(
            "has a sample rate of {rate} Hz; allowed are 8000 to 192000 Hz, the nearest being \
             {nearest} Hz"
        );
        assert_eq!(
            refusal(&folder.file("a.wav", &wav(1, 16, 1, rate))),
            expected
        );
        let flac = header(&stream_info(64, rate, 2, 16, 64));
        assert_eq!(refusal(&folder.file("a.flac", &flac)), expected);
    }
    for rate in [8_000, 192_000] {
        let path = folder.file("a.wav", &wav(1, 16, 1, rate));
        assert_eq!(super::read_all(&path, 99).unwrap().0.sample_rate_hz, rate);
    }
}

#[test]
fn strangers() {
    let folder = Folder::new("strangers");
    for (bytes, found) in [
        (
            &b"RF64\xff\xff\xff\xffWAVEds64"[..],
            "a WAV file in the form for more than 4 GiB (RF64)",
        ),
        (
            b"RIFX\x00\x00\x00\x24WAVEfmt ",
            "a WAV file of reversed byte order (RIFX)",
        ),
        (
            b"RIFF\x24\x00\x00\x00AVI LIST",
            "a container of the form \"AVI\"",
        ),
        (b"OggS\x00\x02\x00\x00\x00\x00", "an Ogg file"),
        (
            b"ID3\x04\x00\x00\x00\x00\x00\x00",
            "a file that begins with an ID3 tag, as MP3 does",
        ),
        (b"\xff\xfb\x90\x64\x00\x00", "MPEG audio, such as MP3"),
        (b"\x00\x00\x00\x20ftypM4A ", "an MP4 file"),
        (b"The wind rose.\r\nIt fell.\n", "plain text"),
        (
            b"\x00\x01\x02\x03\x04",
            "of an unknown kind (its first bytes are 00 01 02 03)",
        ),
        (b"\xff", "of an unknown kind (its first bytes are ff)"),
    ] {
        let sentence = refusal(&folder.file("a.wav", bytes));
        assert_eq!(
            sentence,
            format!("is {found}; only WAV, AIFF and FLAC are read")
        );
    }
}

#[test]
fn what_is_no_readable_file() {
    let folder = Folder::new("no-file");
    assert_eq!(refusal(&folder.path("gone.wav")), "does not exist");
    assert_eq!(
        refusal(&folder.path("")),
        "is a directory, but must be a regular file"
    );
    let file = folder.file("a.wav", &WavBytes::counting(3).build());
    let sentence = refusal(&file.join("b.wav"));
    assert!(sentence.starts_with("cannot be read: "), "{sentence}");
    #[cfg(unix)]
    assert_eq!(
        refusal(std::path::Path::new("/dev/null")),
        "is a device or pipe, but must be a regular file"
    );
}

#[test]
fn headers_that_contradict_themselves() {
    let folder = Folder::new("contradictions");
    let mut bytes = wav(1, 16, 2, 48_000);
    bytes[32] = 3;
    assert_eq!(
        refusal(&folder.file("a.wav", &bytes)),
        "is no sound WAV file: it gives 3 bytes to a frame, and 2 channels of 16 bits take 4"
    );
    // The samples come before anything says what they are.
    let mut bytes = wav(1, 16, 2, 48_000);
    bytes[12..16].copy_from_slice(b"junk");
    assert_eq!(
        refusal(&folder.file("a.wav", &bytes)),
        "is no sound WAV file: nothing before its samples describes them"
    );
    // Zeros where a chunk should be: nothing behind them is looked for.
    let mut wav = WavBytes::counting(3);
    wav.before = vec![0; 4096];
    assert_eq!(
        refusal(&folder.file("a.wav", &wav.build())),
        "is cut short or damaged: its audio data cannot be found"
    );
    let bytes = WavBytes::counting(3).build_with_format(&[1, 0, 1, 0]);
    assert_eq!(
        refusal(&folder.file("a.wav", &bytes)),
        "is no sound WAV file: its format takes 4 bytes, and at least 16 are needed"
    );
    assert_eq!(
        refusal(&folder.file("a.flac", b"fLaC\x04\x00\x00\x10................")),
        "is no sound FLAC file: it does not begin with its stream information"
    );
}

#[test]
fn numbers_that_are_not_finite() {
    let folder = Folder::new("not-finite");
    let mut samples = vec![0.25f32; 100_000];
    samples[2 * 48_000 + 1] = f32::NAN;
    samples[2 * 48_000 + 7] = f32::INFINITY;
    let mut wav = WavBytes::new(
        3,
        32,
        samples.iter().flat_map(|s| s.to_le_bytes()).collect(),
    );
    wav.channels = 2;
    assert_eq!(
        refusal(&folder.file("a.wav", &wav.build())),
        "holds NaN at frame 48000 (1.000 s), channel 2; every sample must be a finite number"
    );
    let doubles = [0.0, 1.0, f64::NEG_INFINITY];
    let data = doubles.iter().flat_map(|s| s.to_be_bytes()).collect();
    let aiff = AiffBytes::new(Some(*b"fl64"), 64, 3, data);
    assert_eq!(
        refusal(&folder.file("a.aifc", &aiff.build())),
        "holds -inf at frame 2 (0.000 s), channel 1; every sample must be a finite number"
    );
}
