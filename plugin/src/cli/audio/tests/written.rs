//! Files as they are written: read back here and by hound, and byte for byte.

use std::fs;

use super::{Folder, read_all};
use crate::cli::audio::{Encoding, Writer};

/// A few hundred frames of two channels, some beyond full scale.
fn programme() -> [Vec<f64>; 2] {
    let left = (0..700)
        .map(|n| (f64::from(n) * 0.05).sin() * 1.25)
        .collect();
    let right = (0..700)
        .map(|n| (f64::from(n) * 0.011).cos() / 3.0)
        .collect();
    [left, right]
}

#[test]
fn float_files_hold_the_nearest_32_bit_float() {
    let folder = Folder::new("float");
    let path = folder.path("a.wav");
    let [left, right] = programme();
    let mut writer = Writer::create(&path, 96_000, 2, Encoding::F32, Some(700), false).unwrap();
    for part in [0..1, 1..400, 400..400, 400..700] {
        writer.write(&[&left[part.clone()], &right[part]]).unwrap();
    }
    assert_eq!(writer.clipped_samples(), 0);
    writer.finish().unwrap();

    let (format, read) = read_all(&path, 256).unwrap();
    assert_eq!((format.sample_rate_hz, format.frames), (96_000, Some(700)));
    let nearest = |samples: &[f64]| samples.iter().map(|&s| f64::from(s as f32)).collect();
    assert_eq!(read, [nearest(&left), nearest(&right)] as [Vec<f64>; 2]);

    let mut hound = hound::WavReader::open(&path).unwrap();
    assert_eq!(
        (hound.spec().channels, hound.spec().sample_rate),
        (2, 96_000)
    );
    assert_eq!(hound.spec().sample_format, hound::SampleFormat::Float);
    let samples: Vec<f32> = hound.samples().map(Result::unwrap).collect();
    assert!(
        samples
            .chunks(2)
            .enumerate()
            .all(|(n, pair)| pair == [left[n] as f32, right[n] as f32])
    );
    assert_eq!(folder.names(), ["a.wav"], "no temporary file is left");
}

#[test]
fn integer_files_are_padded_and_clip() {
    let folder = Folder::new("integer");
    let path = folder.path("a.wav");
    let [left, _] = programme();
    let mut writer = Writer::create(&path, 44_100, 1, Encoding::S24, None, false).unwrap();
    writer.write(&[&left[..699]]).unwrap();
    let beyond = left[..699]
        .iter()
        .filter(|sample| sample.abs() > 1.0)
        .count() as u64;
    assert!(beyond > 100);
    assert_eq!(writer.clipped_samples(), beyond);
    writer.finish().unwrap();

    // 699 x 3 bytes are an odd number, so one of padding follows, counted in the whole only.
    let bytes = fs::read(&path).unwrap();
    assert_eq!(bytes.len(), 44 + 2097 + 1);
    assert_eq!(bytes[4..8], (bytes.len() as u32 - 8).to_le_bytes());
    assert_eq!(bytes[36..44], *b"data\x31\x08\x00\x00");

    let mut hound = hound::WavReader::open(&path).unwrap();
    assert_eq!(
        (hound.spec().bits_per_sample, hound.spec().sample_rate),
        (24, 44_100)
    );
    let (_, read) = read_all(&path, 100).unwrap();
    for ((back, read), put) in hound.samples::<i32>().zip(&read[0]).zip(&left) {
        let put = put.clamp(-1.0, 1.0) * 8_388_608.0;
        let back = f64::from(back.unwrap());
        // Half a step of rounding and one of dither.
        assert!((back - put).abs() <= 1.5, "{back} {put}");
        assert_eq!(read * 8_388_608.0, back);
    }
}

#[test]
fn headers_are_plain_and_complete() {
    // Field by field as in Microsoft, "Multiple Channel Audio Data and WAVE Files": float has an
    // extension size of 0 and a `fact` chunk with the number of frames.
    let folder = Folder::new("headers");
    let path = folder.path("a.wav");
    let mut writer = Writer::create(&path, 48_000, 2, Encoding::F32, None, false).unwrap();
    writer.write(&[&[0.0; 3], &[1.0; 3]]).unwrap();
    writer.finish().unwrap();
    let expected: &[u8] = b"RIFF\x4a\x00\x00\x00WAVEfmt \x12\x00\x00\x00\x03\x00\x02\x00\
        \x80\xbb\x00\x00\x00\xdc\x05\x00\x08\x00\x20\x00\x00\x00fact\x04\x00\x00\x00\x03\x00\x00\
        \x00data\x18\x00\x00\x00";
    assert_eq!(fs::read(&path).unwrap()[..58], *expected);
    assert_eq!(fs::read(&path).unwrap().len(), 58 + 24);
}

#[test]
fn long_blocks_and_many_blocks_give_the_same_file() {
    let folder = Folder::new("blocks");
    let samples: Vec<f64> = (0..100_000).map(|n| f64::from(n % 777) / 800.0).collect();
    for (name, size) in [("a.wav", 100_000), ("b.wav", 63)] {
        let mut writer =
            Writer::create(&folder.path(name), 8_000, 1, Encoding::S24, None, false).unwrap();
        for part in samples.chunks(size) {
            writer.write(&[part]).unwrap();
        }
        writer.finish().unwrap();
    }
    assert!(fs::read(folder.path("a.wav")).unwrap() == fs::read(folder.path("b.wav")).unwrap());
}
