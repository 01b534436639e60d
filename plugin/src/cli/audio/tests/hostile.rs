//! Bytes of any kind: never a panic, never more or other frames than announced.

use super::bytes::{AiffBytes, WavBytes, chunk};
use super::flac_made::{REAL, REAL_SECOND, frame, frame_of, header, seal, stream_info};
use super::{Folder, Xorshift, read_all};

/// Sound files of every kind to be damaged.
fn originals() -> Vec<Vec<u8>> {
    let mut odd = WavBytes::counting(64);
    odd.before = chunk(b"note", b"odd");
    let mut wide = AiffBytes::new(Some(*b"fl32"), 32, 16, vec![0x3f; 128]);
    wide.channels = 2;
    let mut flac = header(&stream_info(32, 48_000, 1, 16, 96));
    for number in 0..3 {
        flac.extend(frame(number, &[(0..32).map(|n| n * 99).collect()]));
    }
    vec![
        odd.build(),
        WavBytes::new(1, 24, vec![0x11; 96]).build_extensible(24),
        WavBytes::new(3, 64, vec![0x3f; 160]).build(),
        AiffBytes::counting(64).build(),
        wide.build(),
        flac,
        REAL.to_vec(),
    ]
}

/// Changes a few bytes, the more likely the nearer to the start, and may cut or lengthen.
fn damage(bytes: &mut Vec<u8>, random: &mut Xorshift) {
    for _ in 0..=random.below(4) {
        let reach = 1 + random.below(bytes.len());
        let place = random.below(reach);
        bytes[place] = match random.below(4) {
            0 => 0,
            1 => 0xff,
            2 => bytes[place] ^ 1 << random.below(8),
            _ => random.next() as u8,
        };
    }
    match random.below(4) {
        0 => bytes.truncate(1 + random.below(bytes.len())),
        1 => bytes.extend((0..random.below(40)).map(|n| n as u8)),
        _ => {}
    }
}

/// Reads a file whatever it is; true where it was accepted, and then it kept its promises.
fn survives(path: &std::path::Path, max_frames: usize) -> bool {
    let Ok((format, read)) = read_all(path, max_frames) else {
        return false;
    };
    let frames = read[0].len();
    assert!(
        frames > 0
            && format
                .frames
                .is_none_or(|declared| declared == frames as u64)
    );
    assert!(read.iter().flatten().all(|sample| sample.is_finite()));
    true
}

#[test]
fn damaged_files_of_every_kind_never_cause_a_panic() {
    let folder = Folder::new("hostile");
    let mut random = Xorshift(0x2545_f491_4f6c_dd1d);
    for original in originals() {
        assert!(survives(&folder.file("a", &original), 10));
        let mut accepted = 0;
        for _ in 0..1000 {
            let mut bytes = original.clone();
            damage(&mut bytes, &mut random);
            accepted += u32::from(survives(&folder.file("a", &bytes), 1 + random.below(300)));
        }
        assert!(accepted < 1000, "not all can be sound");
    }
}

#[test]
fn every_shorter_file_is_refused() {
    let folder = Folder::new("every-length");
    for original in originals() {
        // The odd WAV is followed by no padding, so every missing byte is one of audio.
        for length in 0..original.len() {
            assert!(
                !survives(&folder.file("a", &original[..length]), 64),
                "{length}"
            );
        }
    }
}

/// A FLAC frame in order by its checksums and beyond all numbers by its content: the second
/// sample is predicted as 255 times the largest of 24 bits, and corrected by the largest residual
/// of 31. Where overflow is checked the decoder panics, and that must not be the program's end.
#[test]
fn a_panic_of_the_decoder_is_a_damaged_file() {
    let folder = Folder::new("overflow");
    // Bits and values in the order of RFC 9639, sections 9.2.1, 9.2.6 and 9.2.7.
    let fields: [(u32, u128); 11] = [
        (8, 0b0100_0000),  // linear prediction of order 1
        (24, 0x7f_ffff),   // the first sample
        (4, 14),           // 15-bit coefficients
        (5, 0),            // not shifted
        (15, 255),         // the coefficient
        (2, 0),            // residual of the first kind
        (4, 0),            // one partition
        (4, 15),           // not Rice-coded
        (5, 31),           // but of 31 bits
        (31, 0x3fff_ffff), // the residual
        (2, 0),            // to a whole byte
    ];
    let bits = fields
        .iter()
        .fold(0, |bits, (count, value)| bits << count | value);
    let mut bytes = header(&stream_info(16, 48_000, 1, 24, 2));
    bytes.extend(frame_of(0, 1, 2, &bits.to_be_bytes()[16 - 13..]));
    survives(&folder.file("a", &bytes), 10);
}

/// FLAC frames whose checksum is right and whose content is not, so that the decoder's inside is
/// reached.
#[test]
fn forged_flac_frames_never_cause_a_panic() {
    let folder = Folder::new("forged");
    let mut random = Xorshift(0x9e37_79b9_7f4a_7c15);
    for _ in 0..2000 {
        let mut bytes = REAL.to_vec();
        // No MD5 sum, which would refuse most before they are looked at closely.
        bytes[26..42].fill(0);
        let content = REAL_SECOND - 86;
        for _ in 0..=random.below(3) {
            // Behind the 9 bytes of the frame's header, more likely where the subframe begins.
            let reach = 1 + random.below(content - 11);
            bytes[86 + 9 + random.below(reach)] = random.next() as u8;
        }
        seal(&mut bytes[86..REAL_SECOND]);
        survives(&folder.file("a", &bytes), 300);
    }
}
