//! `penstock tone`: an alignment tone as a file, and what meters shall read of it.

use super::args::ToneArgs;
use super::audio::{Encoding, SAMPLE_RATES_HZ, Writer};
use super::error::Failure;
use super::{alignment, json, text};
use penstock_dsp::chain::{AlignmentTone, TONE_FADE_SECONDS, ToneWish};
use penstock_dsp::units::{Dbfs, SampleRate};
use serde_json::json;

/// Frames made at once.
const BLOCK_FRAMES: usize = 8192;
/// Levels served, in dBFS: louder is no sine, quieter is under the dither.
const LEVELS_DBFS: (f64, f64) = (-100.0, 0.0);
/// Lengths served, in seconds: two fades with a tone between them, to an hour.
const LENGTHS_SECONDS: (f64, f64) = (0.2, 3600.0);
/// Lowest frequency, in hertz; the highest is this share of the sample rate.
const LOWEST_HZ: f64 = 5.0;
const HIGHEST_SHARE: f64 = 0.49;

/// Writes the file and says what to expect.
pub(super) fn run(args: &ToneArgs) -> Result<u8, Failure> {
    let plan = args.common.plan()?;
    check(args)?;
    let rate = SampleRate::new(f64::from(args.rate))?;
    let frames = (args.seconds * rate.hz()).round() as u64;
    let encoding = if args.format == "s24" {
        Encoding::S24
    } else {
        Encoding::F32
    };
    let wish = ToneWish {
        hz: args.tone_hz,
        level: Dbfs(args.level_dbfs),
        interrupted: args.interrupt_left,
    };
    let (channels, seconds) = (args.channels, frames as f64 / rate.hz());
    let mut writer = Writer::create(
        &args.output,
        args.rate,
        channels,
        encoding,
        Some(frames),
        args.force,
    )?;
    let mut tone = AlignmentTone::prepare(rate, wish, seconds);
    tone.start();
    let mut left_frames = frames;
    while left_frames > 0 {
        let count = left_frames.min(BLOCK_FRAMES as u64) as usize;
        let mut block = vec![vec![0.0; count]; channels];
        let mut audio: Vec<&mut [f64]> = block.iter_mut().map(Vec::as_mut_slice).collect();
        tone.process(&mut audio);
        let block: Vec<&[f64]> = block.iter().map(Vec::as_slice).collect();
        writer.write(&block)?;
        left_frames -= count as u64;
    }
    writer.finish()?;
    if args.common.json {
        json::print(&json!({
            "frames": frames,
            "channels": channels,
            "sample_rate_hz": args.rate,
            "tone_hz": args.tone_hz,
            "level_dbfs": args.level_dbfs,
            "fade_seconds": TONE_FADE_SECONDS,
            "interrupted_left": args.interrupt_left && channels > 1,
            "reads": alignment::readings_json(&plan, wish.level)?,
        }));
    } else {
        println!(
            "{}: {frames} frames, {channels} channels, {} Hz",
            args.output.display(),
            args.rate
        );
        println!(
            "A sine of {} Hz at {} dBFS reads at the send, by this plan's alignment:\n",
            args.tone_hz,
            text::db(args.level_dbfs)
        );
        print!("{}", alignment::readings_text(&plan, wish.level)?);
        println!("\nTurn your monitors down before you play it.");
    }
    Ok(0)
}

/// Refuses what no tone can be made of, with what can.
fn check(args: &ToneArgs) -> Result<(), Failure> {
    let (lowest_rate, highest_rate) = (*SAMPLE_RATES_HZ.start(), *SAMPLE_RATES_HZ.end());
    let rate = f64::from(args.rate);
    let limits = [
        (
            "--rate",
            rate,
            f64::from(lowest_rate),
            f64::from(highest_rate),
            "Hz",
        ),
        ("--channels", args.channels as f64, 1.0, 2.0, "channels"),
        (
            "--tone-hz",
            args.tone_hz,
            LOWEST_HZ,
            HIGHEST_SHARE * rate,
            "Hz",
        ),
        (
            "--level-dbfs",
            args.level_dbfs,
            LEVELS_DBFS.0,
            LEVELS_DBFS.1,
            "dBFS",
        ),
        (
            "--seconds",
            args.seconds,
            LENGTHS_SECONDS.0,
            LENGTHS_SECONDS.1,
            "s",
        ),
    ];
    for (name, given, least, most, unit) in limits {
        if !(least..=most).contains(&given) {
            return Err(Failure::usage(format!(
                "`{name}` cannot be {given}; it takes {least} to {most} {unit}; the nearest is {}",
                given.clamp(least, most)
            )));
        }
    }
    if args.interrupt_left && args.channels < 2 {
        return Err(Failure::usage(
            "`--interrupt-left` needs two channels; there is no left of `--channels 1`",
        ));
    }
    Ok(())
}
