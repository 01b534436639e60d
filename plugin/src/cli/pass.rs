//! One pass of a recording through the chain: the only loop over a file, whatever listens.

use super::audio::Reader;
use super::error::Failure;
use indicatif::{MultiProgress, ProgressBar, ProgressStyle};
use penstock_dsp::chain::{Chain, Clipped, Observer};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use std::path::Path;

/// Frames read at once.
const READ_FRAMES: usize = 8192;

/// Planar audio, one slice a channel.
pub(super) type Planar<'a> = &'a [&'a [f64]];

/// Takes the recording and what came of it, block by block, time-aligned each for itself.
pub(super) trait Sink {
    /// A block of the recording.
    fn source(&mut self, block: Planar) -> Result<(), Failure>;
    /// A block of the result, as many frames in all as the recording has.
    fn result(&mut self, block: Planar) -> Result<(), Failure>;
}

/// What a pass counted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Passed {
    pub(super) frames: u64,
    pub(super) latency_frames: usize,
    pub(super) clipped: Clipped,
}

/// The rate of an opened file as the chain takes it.
pub(super) fn rate_of(reader: &Reader) -> Result<SampleRate, Failure> {
    Ok(SampleRate::new(f64::from(reader.format().sample_rate_hz))?)
}

/// Sends all that `reader` has through the plan's chain. The result has the recording's length:
/// the latency is flushed with silence and removed.
pub(super) fn pass(
    reader: &mut Reader,
    plan: &Plan,
    oversampling: Oversampling,
    observer: &mut impl Observer,
    sink: &mut impl Sink,
    progress: &ProgressBar,
) -> Result<Passed, Failure> {
    let rate = rate_of(reader)?;
    let channels = reader.format().channels;
    let mut chain = Chain::prepare(plan, rate, channels, oversampling)?;
    let latency_frames = chain.latency_frames();
    let mut skip = latency_frames;
    let mut block = vec![Vec::with_capacity(READ_FRAMES); channels];
    let mut frames = 0;
    loop {
        let read = reader.read(&mut block, READ_FRAMES)?;
        if read == 0 {
            break;
        }
        frames += read as u64;
        sink.source(&slices(&block, 0))?;
        through(&mut chain, &mut block, observer);
        let late = skip.min(read);
        skip -= late;
        sink.result(&slices(&block, late))?;
        progress.inc(read as u64);
    }
    // What is still inside the filters; a recording shorter than the latency skips the rest.
    block.iter_mut().for_each(|samples| {
        samples.clear();
        samples.resize(latency_frames, 0.0);
    });
    through(&mut chain, &mut block, observer);
    sink.result(&slices(&block, skip))?;
    Ok(Passed {
        frames,
        latency_frames,
        clipped: chain.clipped(),
    })
}

fn through(chain: &mut Chain, block: &mut [Vec<f64>], observer: &mut impl Observer) {
    let mut audio: Vec<&mut [f64]> = block.iter_mut().map(Vec::as_mut_slice).collect();
    chain.process(&mut audio, observer);
}

/// The channels of a block from frame `from` on.
fn slices(block: &[Vec<f64>], from: usize) -> Vec<&[f64]> {
    block.iter().map(|samples| &samples[from..]).collect()
}

/// A bar for work of some frames, on standard error and only where a person looks.
pub(super) fn bar(all: &MultiProgress, name: &Path, frames: Option<u64>) -> ProgressBar {
    let bar = all.add(frames.map_or_else(ProgressBar::new_spinner, ProgressBar::new));
    let style = ProgressStyle::with_template("{msg} {wide_bar} {percent:>3} % {eta:>4}");
    if let Ok(style) = style {
        bar.set_style(style);
    }
    bar.set_message(
        name.file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
    );
    bar
}
