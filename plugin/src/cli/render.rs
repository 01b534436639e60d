//! `penstock render`: a file through the chain.

use super::args::RenderArgs;
use super::audio::{Encoding, Reader, Writer};
use super::error::Failure;
use super::pass::{self, Planar, Sink};
use super::{json, text};
use crate::advice::own_remarks;
use indicatif::MultiProgress;
use penstock_dsp::meter::Loudness;
use penstock_dsp::units::SampleRate;
use serde_json::json;

/// Measures both sides and writes the result.
struct Rendering {
    writer: Writer,
    loudness_in: Loudness,
    loudness_out: Loudness,
    peak: f64,
}

impl Rendering {
    fn new(writer: Writer, rate: SampleRate, channels: usize) -> Self {
        Self {
            writer,
            loudness_in: Loudness::prepare(rate, channels, false),
            loudness_out: Loudness::prepare(rate, channels, false),
            peak: 0.0,
        }
    }
}

impl Sink for Rendering {
    fn source(&mut self, block: Planar) -> Result<(), Failure> {
        self.loudness_in.process(block);
        Ok(())
    }

    fn result(&mut self, block: Planar) -> Result<(), Failure> {
        self.loudness_out.process(block);
        let samples = block.iter().flat_map(|channel| channel.iter());
        self.peak = samples.fold(self.peak, |peak, sample| peak.max(sample.abs()));
        self.writer.write(block)?;
        Ok(())
    }
}

/// Renders one file.
pub(super) fn run(args: &RenderArgs) -> Result<u8, Failure> {
    let plan = args.common.plan()?;
    // The pad is tried before any file is touched.
    penstock_dsp::chain::build_pad(&plan)?;
    for remark in own_remarks(&plan) {
        eprintln!("{remark}");
    }
    let mut reader = Reader::open(&args.input)?;
    let rate = pass::rate_of(&reader)?;
    let (channels, declared) = (reader.format().channels, reader.format().frames);
    let encoding = if args.format == "s24" {
        Encoding::S24
    } else {
        Encoding::F32
    };
    let hz = reader.format().sample_rate_hz;
    let writer = Writer::create(&args.output, hz, channels, encoding, declared, args.force)?;
    let mut rendering = Rendering::new(writer, rate, channels);
    let progress = pass::bar(&MultiProgress::new(), &args.input, declared);
    let done = pass::pass(
        &mut reader,
        &plan,
        args.oversampling,
        &mut (),
        &mut rendering,
        &progress,
    )?;
    rendering.writer.finish()?;
    progress.finish_and_clear();
    let peak_dbfs = 20.0 * rendering.peak.log10();
    let (in_lufs, out_lufs) = (
        rendering.loudness_in.integrated_lufs(),
        rendering.loudness_out.integrated_lufs(),
    );
    if args.common.json {
        json::print(&json!({
            "frames": done.frames,
            "channels": channels,
            "sample_rate_hz": hz,
            "oversampling": args.oversampling.number(),
            "latency_frames": done.latency_frames,
            "clipped_send_frames": done.clipped.send_frames,
            "clipped_return_frames": done.clipped.return_frames,
            "peak_dbfs": peak_dbfs,
            "in_lufs": in_lufs,
            "out_lufs": out_lufs,
        }));
    } else {
        let lufs =
            |value: Option<f64>| value.map_or("undefined".to_owned(), |v| format!("{v:.1} LUFS"));
        println!(
            "{}: {} frames, {channels} channels, {hz} Hz",
            args.output.display(),
            done.frames
        );
        println!("loudness {} in, {} out", lufs(in_lufs), lufs(out_lufs));
        println!("peak {} dBFS", text::db(peak_dbfs));
        println!(
            "converters clipped: send {} frames, return {} frames",
            done.clipped.send_frames, done.clipped.return_frames
        );
    }
    Ok(0)
}
