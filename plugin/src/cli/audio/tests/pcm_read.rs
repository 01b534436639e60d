//! Values of samples: exact in every depth, and equal to what two other readers make of the same
//! bytes.

use std::fs;
use std::path::Path;

use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::probe::Hint;
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};

use super::bytes::{AiffBytes, WavBytes};
use super::{Folder, Xorshift, read_all};

/// The samples of a file as symphonia reads them, interleaved.
fn by_symphonia(path: &Path) -> Vec<f64> {
    let source = Box::new(fs::File::open(path).unwrap());
    let stream = MediaSourceStream::new(source, MediaSourceStreamOptions::default());
    let mut demuxer = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, Default::default(), Default::default())
        .unwrap();
    let parameters = demuxer.tracks()[0].codec_params.clone().unwrap();
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(parameters.audio().unwrap(), &AudioDecoderOptions::default())
        .unwrap();
    let mut all = Vec::new();
    let mut part = Vec::new();
    while let Some(packet) = demuxer.next_packet().unwrap() {
        decoder
            .decode(&packet)
            .unwrap()
            .copy_to_vec_interleaved::<f64>(&mut part);
        all.extend_from_slice(&part);
    }
    all
}

fn interleaved(channels: &[Vec<f64>]) -> Vec<f64> {
    (0..channels[0].len())
        .flat_map(|frame| channels.iter().map(move |c| c[frame]))
        .collect()
}

/// Random bytes that are finite numbers in any depth: no exponent of a float is all ones.
fn random_bytes(count: usize, seed: u64) -> Vec<u8> {
    let mut random = Xorshift(seed);
    (0..count)
        .map(|_| (random.next() >> 20) as u8 & 0xbf)
        .collect()
}

#[test]
fn every_wav_depth_reads_as_other_readers_read_it() {
    let folder = Folder::new("wav-depths");
    for (tag, bits) in [(1, 16), (1, 24), (1, 32), (3, 32), (3, 64)] {
        for channels in [1, 2] {
            let data = random_bytes(5003 * usize::from(channels * bits / 8), 77);
            let mut wav = WavBytes::new(tag, bits, data);
            wav.channels = channels;
            for (kind, bytes) in [("plain", wav.build()), ("ext", wav.build_extensible(bits))] {
                let path = folder.file("a.wav", &bytes);
                let (format, read) = read_all(&path, 1999).unwrap();
                assert_eq!(format.frames, Some(5003), "{tag} {bits} {kind}");
                assert_eq!(
                    interleaved(&read),
                    by_symphonia(&path),
                    "{tag} {bits} {kind}"
                );
                if bits < 64 && (tag == 1 || kind == "plain") {
                    assert_eq!(
                        interleaved(&read),
                        by_hound(&path, bits),
                        "{tag} {bits} {kind}"
                    );
                }
            }
        }
    }
}

/// The samples of a file as hound reads them, interleaved.
fn by_hound(path: &Path, bits: u16) -> Vec<f64> {
    let mut reader = hound::WavReader::open(path).unwrap();
    match reader.spec().sample_format {
        hound::SampleFormat::Float => reader
            .samples::<f32>()
            .map(|sample| f64::from(sample.unwrap()))
            .collect(),
        hound::SampleFormat::Int => {
            let scale = 2f64.powi(i32::from(bits) - 1);
            reader
                .samples::<i32>()
                .map(|sample| f64::from(sample.unwrap()) / scale)
                .collect()
        }
    }
}

#[test]
fn every_aiff_coding_reads_as_symphonia_reads_it() {
    let folder = Folder::new("aiff-depths");
    let codings: [(Option<[u8; 4]>, u16); 12] = [
        (None, 16),
        (None, 24),
        (None, 32),
        (None, 20),
        (Some(*b"NONE"), 24),
        (Some(*b"twos"), 16),
        (Some(*b"sowt"), 16),
        (Some(*b"in24"), 24),
        (Some(*b"in32"), 32),
        (Some(*b"23ni"), 32),
        (Some(*b"fl32"), 32),
        (Some(*b"FL64"), 64),
    ];
    for (coding, bits) in codings {
        let data = random_bytes(1201 * 2 * usize::from(bits.div_ceil(8)), 5);
        let mut aiff = AiffBytes::new(coding, bits, 1201, data);
        aiff.channels = 2;
        let path = folder.file("a.aiff", &aiff.build());
        let (format, read) = read_all(&path, 512).unwrap();
        assert_eq!((format.sample_rate_hz, format.frames), (44_100, Some(1201)));
        assert_eq!(interleaved(&read), by_symphonia(&path), "{coding:?} {bits}");
    }
}

#[test]
fn no_bit_of_32_bit_integer_and_64_bit_float_is_lost() {
    let folder = Folder::new("lossless");
    let integers = [
        i32::MIN,
        i32::MIN + 1,
        -1,
        0,
        1,
        0x1234_5677,
        i32::MAX - 1,
        i32::MAX,
    ];
    let data = integers
        .iter()
        .flat_map(|value| value.to_le_bytes())
        .collect();
    let path = folder.file("i32.wav", &WavBytes::new(1, 32, data).build());
    let (_, read) = read_all(&path, 3).unwrap();
    let back: Vec<i64> = read[0]
        .iter()
        .map(|value| (value * 2f64.powi(31)) as i64)
        .collect();
    assert_eq!(back, integers.map(i64::from));
    assert_eq!(
        (read[0][0], read[0][4]),
        (-1.0, 2f64.powi(-31)),
        "full scale is 1.0"
    );

    let floats = [
        std::f64::consts::PI,
        -1.0 - f64::EPSILON,
        f64::MIN_POSITIVE,
        5e-324,
        -0.0,
        9e99,
    ];
    let data = floats
        .iter()
        .flat_map(|value| value.to_le_bytes())
        .collect();
    let path = folder.file("f64.wav", &WavBytes::new(3, 64, data).build());
    let (_, read) = read_all(&path, 4096).unwrap();
    assert!(
        read[0]
            .iter()
            .zip(floats)
            .all(|(read, put)| read.to_bits() == put.to_bits())
    );
    assert_eq!(read[0].len(), floats.len());
}
