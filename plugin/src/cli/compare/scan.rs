//! What is known of a sound by hearing it once: loudness, peak, spectrum, waveform, loudest part.

use crate::cli::audio::Reader;
use crate::cli::error::Failure;
use crate::cli::pass::{self, Planar};
use penstock_dsp::analysis::{Spectrum, SpectrumBand};
use penstock_dsp::compare::Measured;
use penstock_dsp::meter::Loudness;
use penstock_dsp::units::SampleRate;
use std::path::Path;

/// Frames read at once.
const READ_FRAMES: usize = 8192;
/// Columns of a drawn waveform.
const COLUMNS: usize = 800;
/// Grains a second: one energy and one pair of extremes each.
const GRAINS_PER_SECOND: f64 = 50.0;

/// Facts of a sound.
pub(super) struct Heard {
    pub(super) frames: u64,
    pub(super) lufs: Option<f64>,
    pub(super) peak: f64,
    pub(super) bands: Vec<SpectrumBand>,
    pub(super) min_max: Vec<(f64, f64)>,
    /// Sum of squares of each grain.
    energies: Vec<f64>,
    grain_frames: u64,
}

impl Heard {
    pub(super) fn peak_dbfs(&self) -> Option<f64> {
        (self.peak > 0.0).then(|| 20.0 * self.peak.log10())
    }

    pub(super) fn measured(&self) -> Measured {
        Measured {
            lufs: self.lufs,
            peak: self.peak,
        }
    }

    /// First frame of the loudest stretch of a length.
    pub(super) fn loudest_start(&self, length_frames: u64) -> u64 {
        let grains = usize::try_from(length_frames.div_ceil(self.grain_frames)).unwrap_or(1);
        let windows = self.energies.windows(grains.max(1));
        let loudest = windows
            .map(|window| window.iter().sum::<f64>())
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(&b.1));
        loudest.map_or(0, |(grain, _)| grain as u64 * self.grain_frames)
    }
}

/// Hears a sound block by block.
pub(super) struct Ear {
    loudness: Loudness,
    spectrum: Spectrum,
    frames: u64,
    peak: f64,
    grain_frames: u64,
    grains: Vec<(f64, f64, f64)>,
}

impl Ear {
    pub(super) fn new(rate: SampleRate, channels: usize) -> Self {
        Self {
            loudness: Loudness::prepare(rate, channels, false),
            spectrum: Spectrum::prepare(rate.hz(), channels),
            frames: 0,
            peak: 0.0,
            grain_frames: (rate.hz() / GRAINS_PER_SECOND) as u64,
            grains: Vec::new(),
        }
    }

    pub(super) fn hear(&mut self, block: Planar) {
        self.loudness.process(block);
        self.spectrum.add(block);
        let frames = block.first().map_or(0, |samples| samples.len());
        for n in 0..frames {
            if (self.frames + n as u64).is_multiple_of(self.grain_frames) {
                self.grains.push((0.0, 0.0, 0.0));
            }
            for samples in block {
                let sample = samples[n];
                self.peak = self.peak.max(sample.abs());
                if let Some((low, high, energy)) = self.grains.last_mut() {
                    *low = low.min(sample);
                    *high = high.max(sample);
                    *energy += sample * sample;
                }
            }
        }
        self.frames += frames as u64;
    }

    pub(super) fn heard(self) -> Heard {
        let per_column = self.grains.len().div_ceil(COLUMNS).max(1);
        let column = |grains: &[(f64, f64, f64)]| {
            grains
                .iter()
                .fold((0.0, 0.0), |(low, high): (f64, f64), grain| {
                    (low.min(grain.0), high.max(grain.1))
                })
        };
        Heard {
            frames: self.frames,
            lufs: self.loudness.integrated_lufs(),
            peak: self.peak,
            bands: self.spectrum.bands(),
            min_max: self.grains.chunks(per_column).map(column).collect(),
            energies: self.grains.iter().map(|grain| grain.2).collect(),
            grain_frames: self.grain_frames,
        }
    }
}

/// A stretch of a sound, kept for a player.
pub(super) struct Excerpt {
    from: u64,
    to: u64,
    at: u64,
    pub(super) channels: Vec<Vec<f64>>,
}

impl Excerpt {
    pub(super) fn new(channels: usize, from: u64, frames: u64) -> Self {
        Self {
            from,
            to: from + frames,
            at: 0,
            channels: vec![Vec::new(); channels],
        }
    }

    pub(super) fn take(&mut self, block: Planar) {
        let frames = block.first().map_or(0, |samples| samples.len()) as u64;
        let within = |frame: u64| frame.clamp(self.at, self.at + frames) - self.at;
        let (from, to) = (within(self.from) as usize, within(self.to) as usize);
        for (kept, samples) in self.channels.iter_mut().zip(block) {
            kept.extend_from_slice(&samples[from..to]);
        }
        self.at += frames;
    }
}

/// A recording known.
pub(super) struct Scan {
    pub(super) rate: SampleRate,
    pub(super) sample_rate_hz: u32,
    pub(super) channels: usize,
    pub(super) heard: Heard,
}

/// Reads a whole recording; a fault anywhere in it is found before any work is done.
pub(super) fn scan(path: &Path) -> Result<Scan, Failure> {
    let mut reader = Reader::open(path)?;
    let rate = pass::rate_of(&reader)?;
    let (channels, sample_rate_hz) = (reader.format().channels, reader.format().sample_rate_hz);
    let mut ear = Ear::new(rate, channels);
    each_block(&mut reader, channels, |block| {
        ear.hear(block);
        Ok(())
    })?;
    Ok(Scan {
        rate,
        sample_rate_hz,
        channels,
        heard: ear.heard(),
    })
}

/// Calls `take` with every block of a file.
pub(super) fn each_block(
    reader: &mut Reader,
    channels: usize,
    mut take: impl FnMut(Planar) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let mut block = vec![Vec::with_capacity(READ_FRAMES); channels];
    while reader.read(&mut block, READ_FRAMES)? > 0 {
        let slices: Vec<&[f64]> = block.iter().map(Vec::as_slice).collect();
        take(&slices)?;
    }
    Ok(())
}
