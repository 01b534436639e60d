//! AIFF headers: chunk order, odd chunks, rates, files cut short.

use super::bytes::{AiffBytes, big_chunk};
use super::{Folder, read_all, refusal};

fn integers(folder: &Folder, bytes: &[u8]) -> (Option<u64>, Vec<i16>) {
    let (format, read) = read_all(&folder.file("a.aiff", bytes), 7).unwrap();
    (
        format.frames,
        read[0]
            .iter()
            .map(|value| (value * 32768.0) as i16)
            .collect(),
    )
}

#[test]
fn chunks_come_in_any_order_and_odd() {
    let folder = Folder::new("aiff-order");
    let expected: Vec<i16> = (1..=21).collect();
    let mut aiff = AiffBytes::counting(21);
    assert_eq!(
        integers(&folder, &aiff.build()),
        (Some(21), expected.clone())
    );
    aiff.sound_first = true;
    assert_eq!(
        integers(&folder, &aiff.build()),
        (Some(21), expected.clone())
    );
    aiff.before = big_chunk(b"NAME", b"odd");
    assert_eq!(
        integers(&folder, &aiff.build()),
        (Some(21), expected.clone())
    );
    aiff.before.pop();
    assert_eq!(integers(&folder, &aiff.build()), (Some(21), expected));
}

#[test]
fn rates_are_read_from_80_bits() {
    // 8 and 192 kHz: 8000 = 0xfa00 x 2^-3, 192000 = 0xbb80 x 2^2; the exponent is 16383 + 12 and
    // 16383 + 17 (IEEE 754-1985, double extended).
    let folder = Folder::new("aiff-rates");
    let cases = [
        ([0x40, 0x0b, 0xfa, 0x00, 0, 0, 0, 0, 0, 0], 8_000),
        ([0x40, 0x10, 0xbb, 0x80, 0, 0, 0, 0, 0, 0], 192_000),
    ];
    for (rate, expected) in cases {
        let mut aiff = AiffBytes::counting(3);
        aiff.rate = rate;
        let (format, _) = read_all(&folder.file("a.aiff", &aiff.build()), 10).unwrap();
        assert_eq!(format.sample_rate_hz, expected);
    }
    let bad = [
        ([0x40, 0x0b, 0xf9, 0xf8, 0, 0, 0, 0, 0, 0], "7999 Hz"),
        ([0xc0, 0x0e, 0xac, 0x44, 0, 0, 0, 0, 0, 0], " 0 Hz"),
        ([0x7f, 0xff, 0x80, 0, 0, 0, 0, 0, 0, 0], "4294967295 Hz"),
        ([0; 10], " 0 Hz"),
    ];
    for (rate, expected) in bad {
        let mut aiff = AiffBytes::counting(3);
        aiff.rate = rate;
        let sentence = refusal(&folder.file("a.aiff", &aiff.build()));
        assert!(sentence.contains(expected), "{sentence}");
    }
}

#[test]
fn files_cut_short_are_refused_with_both_numbers() {
    let folder = Folder::new("aiff-short");
    let whole = AiffBytes::counting(100).build();
    assert_eq!(
        refusal(&folder.file("a.aiff", &whole[..whole.len() - 61])),
        "is cut short: its header declares 100 frames, and 69 are there"
    );
    // The sound chunk is not there at all, or holds less than is declared.
    assert_eq!(
        refusal(&folder.file("a.aiff", &whole[..38])),
        "is cut short: its header declares 100 frames, and 0 are there"
    );
    let mut aiff = AiffBytes::counting(100);
    aiff.frames = 101;
    assert_eq!(
        refusal(&folder.file("a.aiff", &aiff.build())),
        "is cut short: its header declares 101 frames, and 100 are there"
    );
    assert_eq!(
        refusal(&folder.file("a.aiff", &whole[..19])),
        "is cut short or damaged: nothing in it describes its samples"
    );
    assert_eq!(
        refusal(&folder.file("a.aiff", &whole[..30])),
        "is cut short: it ends inside its header"
    );
    aiff.frames = 0;
    assert_eq!(
        refusal(&folder.file("a.aiff", &aiff.build())),
        "holds 0 frames of audio, but must hold at least 1"
    );
}

#[test]
fn other_codings_are_refused_by_name() {
    let folder = Folder::new("aiff-codings");
    let aiff = AiffBytes::new(Some(*b"ulaw"), 16, 4, vec![0; 4]);
    let sentence = refusal(&folder.file("a.aifc", &aiff.build()));
    assert!(
        sentence.starts_with("holds AIFF-C audio of the coding \"ulaw\"; only"),
        "{sentence}"
    );
    for (coding, bits) in [(None, 8), (Some(*b"raw "), 8), (None, 40)] {
        let aiff = AiffBytes::new(coding, bits, 4, vec![0; 40]);
        let sentence = refusal(&folder.file("a.aifc", &aiff.build()));
        assert!(
            sentence.starts_with(&format!("holds {bits}-bit integer")),
            "{sentence}"
        );
    }
}
