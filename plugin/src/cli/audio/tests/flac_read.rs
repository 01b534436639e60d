//! FLAC: a real file sample by sample, and every kind of damage found.

use super::flac_made::{REAL, REAL_SECOND, frame, header, real_sample, stream_info};
use super::{Folder, read_all, refusal};

/// A counting stereo file of blocks of 64 frames.
fn made(blocks: u8, total_frames: u64) -> Vec<u8> {
    let mut bytes = header(&stream_info(64, 44_100, 2, 16, total_frames));
    for number in 0..blocks {
        bytes.extend(block(number));
    }
    bytes
}

fn block(number: u8) -> Vec<u8> {
    let first = i16::from(number) * 64;
    frame(number, &[(first..first + 64).collect(), vec![-first; 64]])
}

#[test]
fn a_real_file_reads_as_it_was_encoded() {
    let folder = Folder::new("flac-real");
    let path = folder.file("a.flac", REAL);
    for max_frames in [1, 100, 192, 100_000] {
        let (format, read) = read_all(&path, max_frames).unwrap();
        assert_eq!((format.sample_rate_hz, format.channels), (48_000, 2));
        assert_eq!(format.frames, Some(256));
        for (channel, samples) in read.iter().enumerate() {
            assert_eq!(samples.len(), 256);
            for (frame, sample) in (0..).zip(samples) {
                assert_eq!(sample * 2f64.powi(23), real_sample(frame, channel) as f64);
            }
        }
    }
}

#[test]
fn a_made_file_reads_with_and_without_a_total() {
    let folder = Folder::new("flac-made");
    for (total, declared) in [(192, Some(192)), (0, None)] {
        let path = folder.file("a.flac", &made(3, total));
        let (format, read) = read_all(&path, 50).unwrap();
        assert_eq!(format.frames, declared);
        let left: Vec<f64> = (0..192).map(|n| f64::from(n) / 32768.0).collect();
        let right: Vec<f64> = (0..192)
            .map(|n| f64::from(n / 64 * -64) / 32768.0)
            .collect();
        assert_eq!(read, [left, right]);
    }
}

#[test]
fn files_cut_short_are_refused_with_both_numbers() {
    let folder = Folder::new("flac-short");
    let short = |bytes: &[u8]| refusal(&folder.file("a.flac", bytes));
    let cut = |declared: u64, there: u64| {
        format!("is cut short: its header declares {declared} frames, and {there} are there")
    };
    assert_eq!(short(&REAL[..REAL.len() - 1]), cut(256, 192));
    assert_eq!(short(&REAL[..REAL_SECOND]), cut(256, 192));
    assert_eq!(short(&REAL[..REAL_SECOND - 1]), cut(256, 0));
    assert_eq!(short(&REAL[..86]), cut(256, 0));
    assert_eq!(short(&REAL[..85]), cut(256, 0));
    assert_eq!(
        short(&REAL[..44]),
        "is cut short: it ends inside its header"
    );
    assert_eq!(
        short(&REAL[..20]),
        "is cut short: it ends inside its header"
    );
    assert_eq!(short(&made(3, 256)), cut(256, 192));
    assert_eq!(
        short(&made(3, 128)),
        "overruns: its header declares 128 frames, and 192 are there"
    );
    assert_eq!(
        short(&made(0, 0)),
        "holds 0 frames of audio, but must hold at least 1"
    );
    // Without a total, the broken last FLAC frame gives it away.
    let whole = made(3, 0);
    assert_eq!(
        short(&whole[..whole.len() - 5]),
        format!(
            "is damaged: {} bytes in it are no sound FLAC data (the first 128 frames are sound)",
            block(2).len() - 5
        )
    );
}

#[test]
fn a_damaged_frame_is_found_wherever_it_is() {
    let folder = Folder::new("flac-damage");
    let start = made(0, 0).len();
    let lengths: Vec<usize> = (0..5).map(|number| block(number).len()).collect();
    for total in [320, 0] {
        for number in 0..5 {
            let at: usize = lengths[..number].iter().sum();
            for place in [0, 1, 4, 9, 60, lengths[number] - 1] {
                let mut bytes = made(5, total);
                bytes[start + at + place] ^= 0x10;
                let sentence = refusal(&folder.file("a.flac", &bytes));
                assert!(
                    sentence.starts_with("is damaged") || sentence.starts_with("is cut short"),
                    "{number} {place}: {sentence}"
                );
            }
        }
    }
}

#[test]
fn a_missing_or_repeated_frame_is_found() {
    let folder = Folder::new("flac-order");
    for total in [256, 0] {
        let mut bytes = header(&stream_info(64, 44_100, 2, 16, total));
        let gap = [&bytes[..], &block(0), &block(1), &block(3)].concat();
        let sentence = refusal(&folder.file("a.flac", &gap));
        assert!(
            sentence.contains("fails its checksum or is missing"),
            "{sentence}"
        );
        assert!(sentence.contains("128 "), "{sentence}");
        bytes.extend([block(0), block(0), block(1), block(2)].concat());
        refusal(&folder.file("a.flac", &bytes));
    }
}

#[test]
fn a_wrong_md5_sum_is_found() {
    let folder = Folder::new("flac-md5");
    let mut bytes = REAL.to_vec();
    // The last byte of STREAMINFO is the last of the sum.
    bytes[41] ^= 1;
    let sentence = refusal(&folder.file("a.flac", &bytes));
    assert!(sentence.contains("MD5"), "{sentence}");
}

#[test]
fn depths_that_are_not_read_are_refused() {
    let folder = Folder::new("flac-depth");
    for bits in [8, 25, 32] {
        let bytes = header(&stream_info(64, 44_100, 2, bits, 64));
        let sentence = refusal(&folder.file("a.flac", &bytes));
        assert!(
            sentence.starts_with(&format!("holds {bits}-bit integer")),
            "{sentence}"
        );
    }
}
