//! Test signals and WAV files.

use std::f64::consts::TAU;
use std::path::Path;

use hound::{SampleFormat, WavReader, WavSpec, WavWriter};

use crate::random::Random;

/// Samples of one or two channels, interleaved; full scale is 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Wave {
    /// Frames each second.
    pub rate_hz: u32,
    /// How many channels.
    pub channels: u16,
    /// The samples, frame by frame.
    pub samples: Vec<f32>,
}

impl Wave {
    /// A mono signal from its value at each time in seconds.
    pub fn mono(rate_hz: u32, seconds: f64, value: impl Fn(f64) -> f64) -> Self {
        let frames = (seconds * f64::from(rate_hz)).round() as usize;
        let samples = (0..frames).map(|n| value(n as f64 / f64::from(rate_hz)) as f32);
        Self {
            rate_hz,
            channels: 1,
            samples: samples.collect(),
        }
    }

    /// A mono sine of `hz` and magnitude `peak`.
    #[must_use]
    pub fn sine(rate_hz: u32, hz: f64, peak: f64, seconds: f64) -> Self {
        Self::mono(rate_hz, seconds, |t| peak * (TAU * hz * t).sin())
    }

    /// Mono silence.
    #[must_use]
    pub fn silence(rate_hz: u32, seconds: f64) -> Self {
        Self::mono(rate_hz, seconds, |_| 0.0)
    }

    /// A mono sum of 60 sines of equal strength at random places between 150 Hz and 0.35 of the
    /// sample rate (at most 10 kHz), scaled to the largest magnitude `peak`: like a programme it is
    /// broadband and aperiodic, and nothing in it is near a filter's edge.
    #[must_use]
    pub fn programme(rate_hz: u32, peak: f64, seconds: f64, seed: u64) -> Self {
        let mut random = Random::new(seed);
        let highest = (0.35 * f64::from(rate_hz)).min(10_000.0);
        let partials: Vec<(f64, f64)> = (0..60)
            .map(|_| (random.spread(150.0, highest), random.between(0.0, TAU)))
            .collect();
        let sum = |t: f64| {
            partials
                .iter()
                .map(|(hz, phase)| (TAU * hz * t + phase).sin())
                .sum()
        };
        Self::mono(rate_hz, seconds, sum).scaled_to(peak)
    }

    /// Two mono signals of equal length as left and right.
    ///
    /// # Panics
    /// When they differ in rate or length, or are not mono.
    #[must_use]
    pub fn stereo(left: &Self, right: &Self) -> Self {
        assert_eq!(
            (left.rate_hz, left.channels),
            (right.rate_hz, 1),
            "two mono signals, one rate"
        );
        assert_eq!(
            left.samples.len(),
            right.samples.len(),
            "two signals of one length"
        );
        let frames = left.samples.iter().zip(&right.samples);
        let samples = frames.flat_map(|(left, right)| [*left, *right]).collect();
        Self {
            rate_hz: left.rate_hz,
            channels: 2,
            samples,
        }
    }

    /// The same with every sample multiplied.
    #[must_use]
    pub fn times(&self, factor: f32) -> Self {
        let samples = self.samples.iter().map(|sample| sample * factor).collect();
        Self { samples, ..*self }
    }

    fn scaled_to(self, peak: f64) -> Self {
        let factor = peak / self.peak();
        let samples = self
            .samples
            .iter()
            .map(|s| (f64::from(*s) * factor) as f32)
            .collect();
        Self { samples, ..self }
    }

    /// Largest magnitude.
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.samples
            .iter()
            .fold(0.0, |peak, sample| f64::from(sample.abs()).max(peak))
    }

    /// Root of the mean square over the samples from `from_seconds` to the end.
    #[must_use]
    pub fn rms_after(&self, from_seconds: f64) -> f64 {
        let first = (from_seconds * f64::from(self.rate_hz)) as usize * usize::from(self.channels);
        let part = &self.samples[first..];
        let squares: f64 = part.iter().map(|sample| f64::from(*sample).powi(2)).sum();
        (squares / part.len() as f64).sqrt()
    }

    /// How many frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.samples.len() / usize::from(self.channels)
    }

    /// One of the channels as a mono signal.
    #[must_use]
    pub fn channel(&self, index: usize) -> Self {
        let samples = self
            .samples
            .iter()
            .skip(index)
            .step_by(usize::from(self.channels));
        Self {
            rate_hz: self.rate_hz,
            channels: 1,
            samples: samples.copied().collect(),
        }
    }

    /// Largest difference to `other`, sample by sample.
    ///
    /// # Panics
    /// When they differ in shape.
    #[must_use]
    pub fn distance(&self, other: &Self) -> f64 {
        assert_eq!(
            self.samples.len(),
            other.samples.len(),
            "two signals of one length"
        );
        let pairs = self.samples.iter().zip(&other.samples);
        pairs.fold(0.0, |most, (a, b)| {
            (f64::from(*a) - f64::from(*b)).abs().max(most)
        })
    }

    /// Writes it as 32-bit float.
    ///
    /// # Panics
    /// When the file cannot be written.
    pub fn write(&self, path: &Path) {
        let spec = self.spec(32, SampleFormat::Float);
        let mut writer = WavWriter::create(path, spec).expect("the folder can be written");
        for sample in &self.samples {
            writer
                .write_sample(*sample)
                .expect("the folder can be written");
        }
        writer.finalize().expect("the folder can be written");
    }

    /// Writes it as integers of `bits` bits.
    ///
    /// # Panics
    /// When the file cannot be written.
    pub fn write_integer(&self, path: &Path, bits: u16) {
        let spec = self.spec(bits, SampleFormat::Int);
        let mut writer = WavWriter::create(path, spec).expect("the folder can be written");
        let steps = 2f64.powi(i32::from(bits) - 1);
        for sample in &self.samples {
            let value = (f64::from(*sample) * steps)
                .round()
                .clamp(-steps, steps - 1.0);
            writer
                .write_sample(value as i32)
                .expect("the folder can be written");
        }
        writer.finalize().expect("the folder can be written");
    }

    fn spec(&self, bits_per_sample: u16, sample_format: SampleFormat) -> WavSpec {
        let Self {
            rate_hz, channels, ..
        } = *self;
        WavSpec {
            channels,
            sample_rate: rate_hz,
            bits_per_sample,
            sample_format,
        }
    }

    /// Reads a WAV file of float or integer samples, and tells its sample format and bits.
    ///
    /// # Panics
    /// When it cannot be read.
    #[track_caller]
    #[must_use]
    pub fn read(path: &Path) -> (Self, SampleFormat, u16) {
        let mut reader = WavReader::open(path)
            .unwrap_or_else(|error| panic!("cannot read {}: {error}", path.display()));
        let WavSpec {
            channels,
            sample_rate,
            bits_per_sample,
            sample_format,
        } = reader.spec();
        let steps = 2f64.powi(i32::from(bits_per_sample) - 1);
        let samples: Result<Vec<f32>, hound::Error> = match sample_format {
            SampleFormat::Float => reader.samples::<f32>().collect(),
            SampleFormat::Int => {
                let integers = reader.samples::<i32>();
                integers
                    .map(|value| Ok((f64::from(value?) / steps) as f32))
                    .collect()
            }
        };
        let samples = samples.unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        (
            Self {
                rate_hz: sample_rate,
                channels,
                samples,
            },
            sample_format,
            bits_per_sample,
        )
    }
}
