//! WAV headers: odd chunks, missing padding, sizes that were never filled in, files cut short.

use super::bytes::{WavBytes, chunk};
use super::{Folder, read_all, refusal};

/// Reads 16-bit mono back as integers.
fn integers(folder: &Folder, bytes: &[u8]) -> (Option<u64>, Vec<i16>) {
    let (format, read) = read_all(&folder.file("a.wav", bytes), 7).unwrap();
    (
        format.frames,
        read[0]
            .iter()
            .map(|value| (value * 32768.0) as i16)
            .collect(),
    )
}

fn counting(last: i16) -> Vec<i16> {
    (1..=last).collect()
}

#[test]
fn odd_chunks_are_skipped_padded_or_not() {
    let folder = Folder::new("odd");
    let mut wav = WavBytes::counting(20);
    wav.before = chunk(b"note", b"odd");
    assert_eq!(wav.before.len(), 12, "padded");
    assert_eq!(integers(&folder, &wav.build()), (Some(20), counting(20)));
    // Padded with something else than zero.
    *wav.before.last_mut().unwrap() = b'x';
    assert_eq!(integers(&folder, &wav.build()), (Some(20), counting(20)));
    // Against the standard, but made by some: not padded.
    wav.before.pop();
    assert_eq!(integers(&folder, &wav.build()), (Some(20), counting(20)));
    // Several, with names that nobody knows, and more after the samples.
    wav.before = [
        chunk(b"bext", &[7; 603]),
        chunk(b"LIST", b"INFO"),
        chunk(b"a b ", b""),
    ]
    .concat();
    wav.after = chunk(b"id3 ", &[0xff; 31]);
    assert_eq!(integers(&folder, &wav.build()), (Some(20), counting(20)));
}

#[test]
fn streamed_sizes_mean_to_the_end_of_the_file() {
    let folder = Folder::new("streamed");
    // A size of all ones in both places, as written to a pipe.
    let mut wav = WavBytes::counting(33);
    wav.declared_bytes = Some(u32::MAX);
    wav.riff_bytes = Some(u32::MAX);
    assert_eq!(integers(&folder, &wav.build()), (Some(33), counting(33)));
    // Zero in both places, as left by a recorder that was cut off.
    wav.declared_bytes = Some(0);
    wav.riff_bytes = Some(0);
    assert_eq!(integers(&folder, &wav.build()), (Some(33), counting(33)));
    // A half frame at the end is dropped.
    wav.data.push(9);
    assert_eq!(integers(&folder, &wav.build()), (Some(33), counting(33)));
    // The largest signed size, rounded down to whole frames: SoX 14.4.2 writes 0x7ffff000 for
    // 16 bits and 0x7fffefff for 24 bits to a pipe.
    wav.declared_bytes = Some(0x7fff_f000);
    wav.riff_bytes = Some(0x7fff_f024);
    assert_eq!(integers(&folder, &wav.build()), (Some(33), counting(33)));
    let mut wav = WavBytes::new(1, 24, vec![0, 0, 0x40, 0, 0, 0x20]);
    wav.declared_bytes = Some(0x7fff_efff);
    let (_, read) = read_all(&folder.file("24.wav", &wav.build()), 10).unwrap();
    assert_eq!(read, [[0.5, 0.25]]);
}

#[test]
fn files_without_a_frame_are_refused() {
    let folder = Folder::new("no-frames");
    let mut wav = WavBytes::counting(0);
    let empty = "holds 0 frames of audio, but must hold at least 1";
    assert_eq!(refusal(&folder.file("a.wav", &wav.build())), empty);
    // What follows is accounted for by the size of the whole, so it is no audio.
    wav.after = chunk(b"LIST", b"INFOISFT\x04\x00\x00\x00abc\x00");
    assert_eq!(refusal(&folder.file("b.wav", &wav.build())), empty);
    assert_eq!(
        refusal(&folder.file("c.wav", b"")),
        "is empty (0 bytes), but must hold at least 1 frame"
    );
}

#[test]
fn files_cut_short_are_refused_with_both_numbers() {
    let folder = Folder::new("wav-short");
    let whole = WavBytes::counting(100).build();
    for missing in [1, 2, 3, 50, 199, 200] {
        let there = (200 - missing) / 2;
        assert_eq!(
            refusal(&folder.file("a.wav", &whole[..whole.len() - missing])),
            format!("is cut short: its header declares 100 frames, and {there} are there")
        );
    }
    let outside = "is cut short or damaged: its audio data cannot be found";
    assert_eq!(refusal(&folder.file("a.wav", &whole[..40])), outside);
    assert_eq!(refusal(&folder.file("a.wav", &whole[..12])), outside);
    let inside = "is cut short: it ends inside its header";
    assert_eq!(refusal(&folder.file("a.wav", &whole[..30])), inside);
    assert_eq!(refusal(&folder.file("a.wav", &whole[..11])), inside);
}

#[test]
fn a_file_shortened_while_it_is_read_is_refused() {
    let folder = Folder::new("shrinking");
    let whole = WavBytes::counting(30_000).build();
    let path = folder.file("a.wav", &whole);
    let mut reader = crate::cli::audio::Reader::open(&path).unwrap();
    let mut block = Vec::new();
    assert_eq!(reader.read(&mut block, 10_000).unwrap(), 10_000);
    std::fs::write(&path, &whole[..24_044]).unwrap();
    let error = reader.read(&mut block, 10_000).unwrap_err().to_string();
    assert!(
        error.contains("declares 30000 frames, and 10000 are there"),
        "{error}"
    );
    assert!(
        block[0].is_empty(),
        "nothing of a failed read is handed out"
    );
}

#[test]
fn fewer_valid_bits_in_a_larger_container_keep_their_scale() {
    // 20 valid bits at the upper end of 24 (Microsoft, "Multiple Channel Audio Data and WAVE
    // Files": the container's low bits are zero).
    let folder = Folder::new("valid-bits");
    let wav = WavBytes::new(1, 24, vec![0x00, 0x00, 0xc0, 0x10, 0x00, 0x00]);
    let path = folder.file("a.wav", &wav.build_extensible(20));
    assert_eq!(read_all(&path, 10).unwrap().1, [[-0.5, 2f64.powi(-19)]]);
}
