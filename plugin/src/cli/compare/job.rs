//! One recording through every setting.

use super::Source;
use super::folder::Folder;
use super::scan::{Ear, Excerpt, Heard, Scan, each_block, scan};
use super::settings::Setting;
use crate::cli::audio::{Encoding, Reader, Writer};
use crate::cli::error::Failure;
use crate::cli::pass::{self, Planar, Sink};
use crate::report::{encode_wav_16, excerpt_seconds, soften_ends};
use indicatif::MultiProgress;
use penstock_dsp::analysis::{Tone, measure_tone};
use penstock_dsp::chain::Clipped;
use penstock_dsp::compare::{Measured, trims};
use penstock_dsp::meter::Loudness;
use penstock_dsp::meter::{PointLevel, PointMeter};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::{Plan, find};
use penstock_dsp::units::{Db, Dbfs};
use rayon::prelude::*;
use std::path::{Path, PathBuf};

/// A recording and what it is sent through.
pub(super) struct Job<'a> {
    pub(super) source: &'a Source,
    pub(super) settings: &'a [Setting],
    pub(super) oversampling: Oversampling,
    /// Players in the whole report: they share its size.
    pub(super) players: usize,
}

/// What came of a recording.
pub(super) struct Comparison {
    pub(super) scan: Scan,
    /// Gain of every player, the source's included, so that no peak clips.
    pub(super) player_trim: Db,
    pub(super) source_player: Vec<u8>,
    pub(super) excerpt_from: u64,
    pub(super) excerpt_frames: u64,
    pub(super) outcomes: Vec<Outcome>,
}

/// What came of one setting.
pub(super) struct Outcome {
    /// The plan with its loudness trim.
    pub(super) plan: Plan,
    pub(super) file_name: String,
    pub(super) written: Heard,
    pub(super) points: [PointLevel; 8],
    pub(super) clipped: Clipped,
    /// Of the sine with the programme's peak; none for silence.
    pub(super) tone: Option<Tone>,
    pub(super) player: Vec<u8>,
}

/// A setting rendered, not yet trimmed.
struct Raw {
    path: PathBuf,
    measured: Measured,
    points: [PointLevel; 8],
    clipped: Clipped,
    tone: Option<Tone>,
}

impl Job<'_> {
    pub(super) fn run(
        &self,
        folder: &Folder,
        progress: &MultiProgress,
    ) -> Result<Comparison, Failure> {
        let scan = scan(&self.source.path)?;
        let raws = self
            .settings
            .par_iter()
            .map(|setting| self.render(setting, &scan, folder.staging(), progress))
            .collect::<Result<Vec<Raw>, Failure>>()?;
        let measured: Vec<Measured> = raws.iter().map(|raw| raw.measured).collect();
        let found = trims(scan.heard.measured(), &measured);
        let hz = f64::from(scan.sample_rate_hz);
        let seconds = excerpt_seconds(scan.channels, hz, self.players);
        let excerpt_frames = ((seconds * hz) as u64).min(scan.heard.frames);
        let excerpt_from = scan.heard.loudest_start(excerpt_frames);
        let outcomes = self
            .settings
            .par_iter()
            .zip(raws)
            .zip(&found.settings)
            .map(|((setting, raw), trim)| {
                let excerpt = Excerpt::new(scan.channels, excerpt_from, excerpt_frames);
                let gains = (*trim, found.common);
                self.trim(setting, raw, gains, excerpt, &scan, folder.staging())
            })
            .collect::<Result<Vec<Outcome>, Failure>>()?;
        let mut excerpt = Excerpt::new(scan.channels, excerpt_from, excerpt_frames);
        each_block(
            &mut Reader::open(&self.source.path)?,
            scan.channels,
            |block| {
                excerpt.take(block);
                Ok(())
            },
        )?;
        let source_player = player(excerpt, scan.sample_rate_hz, found.common);
        Ok(Comparison {
            scan,
            player_trim: found.common,
            source_player,
            excerpt_from,
            excerpt_frames,
            outcomes,
        })
    }

    /// Sends the recording through one setting.
    fn render(
        &self,
        setting: &Setting,
        scan: &Scan,
        staging: &Path,
        progress: &MultiProgress,
    ) -> Result<Raw, Failure> {
        let mut reader = Reader::open(&self.source.path)?;
        let path = staging.join(format!(".{}-{}.raw.wav", self.source.stem, setting.id));
        let frames = Some(scan.heard.frames);
        let hz = scan.sample_rate_hz;
        let writer = Writer::create(&path, hz, scan.channels, Encoding::F32, frames, false)?;
        let loudness = Loudness::prepare(scan.rate, scan.channels, false);
        let mut sink = RawSink {
            writer,
            loudness,
            peak: 0.0,
        };
        let mut meter = PointMeter::prepare(&setting.plan, self.oversampling.factor(scan.rate));
        let bar = pass::bar(progress, &self.source.shown, frames);
        let oversampling = self.oversampling;
        let passed = pass::pass(
            &mut reader,
            &setting.plan,
            oversampling,
            &mut meter,
            &mut sink,
            &bar,
        )?;
        bar.finish_and_clear();
        sink.writer.finish()?;
        let tone = match scan.heard.peak {
            peak if peak > 0.0 => Some(measure_tone(
                &setting.plan,
                Dbfs::of_sine_peak(peak),
                oversampling,
            )?),
            _ => None,
        };
        let silent = passed.latency_frames as u64 * scan.channels as u64;
        let settled = match (scan.heard.lufs, sink.loudness.integrated_lufs()) {
            (Some(wanted), Some(first)) => Some(settle(&path, scan, wanted, first)?),
            (_, first) => first,
        };
        Ok(Raw {
            path,
            measured: Measured {
                lufs: settled,
                peak: sink.peak,
            },
            points: meter.levels(silent),
            clipped: passed.clipped,
            tone,
        })
    }

    /// Writes a rendering with its trim, under its final name; its player is lowered with all others.
    fn trim(
        &self,
        setting: &Setting,
        raw: Raw,
        (trim, common): (Db, Db),
        mut excerpt: Excerpt,
        scan: &Scan,
        staging: &Path,
    ) -> Result<Outcome, Failure> {
        let file_name = format!("{}-{}.wav", self.source.stem, setting.id);
        let (hz, frames) = (scan.sample_rate_hz, Some(scan.heard.frames));
        let path = staging.join(&file_name);
        let mut writer = Writer::create(&path, hz, scan.channels, Encoding::F32, frames, false)?;
        let mut ear = Ear::new(scan.rate, scan.channels);
        let gain = trim.ratio();
        each_block(&mut Reader::open(&raw.path)?, scan.channels, |block| {
            let louder = scaled(block, gain);
            let slices = as_slices(&louder);
            ear.hear(&slices);
            excerpt.take(&slices);
            writer.write(&slices)?;
            Ok(())
        })?;
        writer.finish()?;
        std::fs::remove_file(&raw.path).map_err(|error| {
            Failure::usage(format!("cannot remove {}: {error}", raw.path.display()))
        })?;
        let mut plan = setting.plan;
        plan.back.trim += trim;
        Ok(Outcome {
            plan,
            file_name,
            written: ear.heard(),
            points: raw.points,
            clipped: raw.clipped,
            tone: raw.tone,
            player: player(excerpt, hz, common),
        })
    }
}

impl Outcome {
    /// Whether the trim is one that a plan can hold.
    pub(super) fn trim_fits_plan(&self) -> bool {
        let key = find("return.trim_db");
        key.is_some_and(|key| {
            let value = penstock_dsp::plan::Value::Number(self.plan.back.trim.0);
            Plan::default().set(key, &value).is_ok()
        })
    }
}

/// The loudness of a rendering as its trim meets it. The absolute gate of BS.1770 (-70 LUFS) drops
/// other blocks once the rendering is trimmed, so that one measurement does not tell the trim: it is
/// measured again, trimmed, until the trimmed loudness is the one wanted.
fn settle(path: &Path, scan: &Scan, wanted: f64, first: f64) -> Result<f64, Failure> {
    /// A tenth of what loudness meters show.
    const NEAR_LU: f64 = 0.01;
    const MOST_ROUNDS: usize = 8;
    let mut trim = Db(wanted - first);
    for _ in 0..MOST_ROUNDS {
        let mut loudness = Loudness::prepare(scan.rate, scan.channels, false);
        each_block(&mut Reader::open(path)?, scan.channels, |block| {
            loudness.process(&as_slices(&scaled(block, trim.ratio())));
            Ok(())
        })?;
        let Some(found) = loudness.integrated_lufs() else {
            break;
        };
        trim += Db(wanted - found);
        if (wanted - found).abs() < NEAR_LU {
            break;
        }
    }
    Ok(wanted - trim.0)
}

/// Writes and measures a rendering.
struct RawSink {
    writer: Writer,
    loudness: Loudness,
    peak: f64,
}

impl Sink for RawSink {
    fn source(&mut self, _: Planar) -> Result<(), Failure> {
        Ok(())
    }

    fn result(&mut self, block: Planar) -> Result<(), Failure> {
        self.loudness.process(block);
        let samples = block.iter().flat_map(|channel| channel.iter());
        self.peak = samples.fold(self.peak, |peak, sample| peak.max(sample.abs()));
        self.writer.write(block)?;
        Ok(())
    }
}

/// The excerpt as a file for a player, without clicks at its ends.
fn player(mut excerpt: Excerpt, sample_rate_hz: u32, trim: Db) -> Vec<u8> {
    let gain = trim.ratio();
    let samples = excerpt.channels.iter_mut().flatten();
    samples.for_each(|sample| *sample *= gain);
    soften_ends(&mut excerpt.channels, f64::from(sample_rate_hz));
    encode_wav_16(&excerpt.channels, sample_rate_hz)
}

fn scaled(block: Planar, gain: f64) -> Vec<Vec<f64>> {
    block
        .iter()
        .map(|samples| samples.iter().map(|sample| sample * gain).collect())
        .collect()
}

fn as_slices(block: &[Vec<f64>]) -> Vec<&[f64]> {
    block.iter().map(Vec::as_slice).collect()
}
