//! Arguments of the program.

use super::error::Failure;
use super::pad::PadArgs;
use crate::presets::{self, Factory};
use clap::{Parser, Subcommand};
use penstock_dsp::diagram::LimitKind;
use penstock_dsp::meter::MeterKind;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use std::path::PathBuf;

/// Settles, before the hardware, how a line-level bus drives a padded tube preamplifier.
#[derive(Parser, Debug)]
#[command(name = "penstock", version, disable_help_subcommand = true)]
pub(super) struct Args {
    #[command(subcommand)]
    pub(super) verb: Verb,
}

#[derive(Subcommand, Debug)]
pub(super) enum Verb {
    /// Level at every point of the chain: dBFS, dBu, dBV, volts
    Levels(LevelsArgs),
    /// Design a pad: ideal values and resistors one can buy
    Pad(Box<PadArgs>),
    /// Send a file through the chain
    Render(RenderArgs),
    /// Send files through several settings at equal loudness, with a report to look at and hear
    Compare(CompareArgs),
    /// Print the chain as a complete deck for ngspice
    Netlist(NetlistArgs),
    /// Write an alignment tone, and say what meters shall read of it
    Tone(ToneArgs),
}

/// What every verb takes.
#[derive(clap::Args, Debug)]
pub(super) struct Common {
    /// One JSON object on standard output, nothing else
    #[arg(long)]
    pub(super) json: bool,
    /// A plan to start from (TOML)
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// The choices of a preset in place of the plan's; its rig stays
    #[arg(long, value_name = "NAME", value_parser = preset)]
    preset: Option<&'static Factory>,
    /// Change one key of the plan; may be given often, left to right
    #[arg(long = "set", value_name = "KEY=VALUE", allow_hyphen_values = true)]
    assignments: Vec<String>,
}

impl Common {
    /// Whether the user has said anything of this key, or may have in a plan.
    pub(super) fn names(&self, key: &str) -> bool {
        let set = |assignment: &String| {
            let name = assignment.split('=').next().unwrap_or_default();
            name.trim() == key
        };
        self.plan.is_some() || self.preset.is_some() || self.assignments.iter().any(set)
    }

    /// The plan after `--plan`, `--preset` and every `--set`.
    pub(super) fn plan(&self) -> Result<Plan, Failure> {
        let mut plan = match &self.plan {
            None => Plan::default(),
            Some(path) => {
                let text = std::fs::read_to_string(path).map_err(|error| {
                    Failure::usage(format!("cannot read the plan {}: {error}", path.display()))
                })?;
                Plan::from_toml(&text)
                    .map_err(|error| Failure::usage(format!("{}: {error}", path.display())))?
            }
        };
        if let Some(preset) = self.preset {
            plan = plan.with_choices_of(&preset.plan());
            plan.take_unit_steps();
        }
        for assignment in &self.assignments {
            plan.assign(assignment)?;
        }
        Ok(plan)
    }
}

#[derive(clap::Args, Debug)]
pub(super) struct LevelsArgs {
    #[command(flatten)]
    pub(super) common: Common,
    /// A recording; its RMS and peak are measured over the whole file
    #[arg(required_unless_present = "level_dbfs", conflicts_with = "level_dbfs")]
    pub(super) file: Option<PathBuf>,
    /// A 1 kHz sine of this level on the bus instead, in steady state
    #[arg(long, value_name = "X", allow_hyphen_values = true, value_parser = level)]
    pub(super) level_dbfs: Option<f64>,
    /// How finely the circuit is sampled: 1 (draft), 2, 4 or 8
    #[arg(long, default_value = "4", allow_hyphen_values = true, value_parser = oversampling)]
    pub(super) oversampling: Oversampling,
    /// Also: harmonics, THD, THD+N and intermodulation at each point at the programme's level
    #[arg(long)]
    pub(super) distortion: bool,
    /// Also: what this meter reads at each point, in its own unit
    #[arg(long, value_name = "METER", value_parser = meter)]
    pub(super) meter: Option<MeterKind>,
    /// Exit with 3 when the recording passes this ceiling at any point: 0.1%, 1% or 3% (distortion of a
    /// 1 kHz sine of the same peak), clip, grid or data-sheet
    #[arg(
        long,
        value_name = "CEILING",
        allow_hyphen_values = true,
        value_parser = super::levels::fail_over::kind
    )]
    pub(super) fail_over: Option<LimitKind>,
    /// Write the level diagram with its tables as one HTML page
    #[arg(long, value_name = "OUT")]
    pub(super) html: Option<PathBuf>,
    /// Write everything as tables in one CSV file
    #[arg(long, value_name = "OUT")]
    pub(super) csv: Option<PathBuf>,
    /// Replace page and tables if they are there
    #[arg(long)]
    pub(super) force: bool,
}

#[derive(clap::Args, Debug)]
pub(super) struct RenderArgs {
    #[command(flatten)]
    pub(super) common: Common,
    /// The recording: WAV, FLAC or AIFF, one or two channels, 8 to 192 kHz
    #[arg(value_name = "IN")]
    pub(super) input: PathBuf,
    /// The WAV to write
    #[arg(value_name = "OUT")]
    pub(super) output: PathBuf,
    /// How finely the circuit is sampled: 1 (draft), 2, 4 or 8
    #[arg(long, default_value = "4", allow_hyphen_values = true, value_parser = oversampling)]
    pub(super) oversampling: Oversampling,
    /// f32, or s24 with dither
    #[arg(long, default_value = "f32", value_parser = ["f32", "s24"])]
    pub(super) format: String,
    /// Replace OUT if it exists
    #[arg(long)]
    pub(super) force: bool,
}

#[derive(clap::Args, Debug)]
pub(super) struct CompareArgs {
    #[command(flatten)]
    pub(super) common: Common,
    /// Recordings; without one, the invented demo material
    #[arg(value_name = "FILE")]
    pub(super) files: Vec<PathBuf>,
    /// Values of one plan key; given often, every combination is compared
    #[arg(long, value_name = "KEY=A,B,C", allow_hyphen_values = true)]
    pub(super) vary: Vec<String>,
    /// The folder to write [./penstock-compare, or -2, -3, ...]
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// How finely the circuit is sampled: 1 (draft), 2, 4 or 8
    #[arg(long, default_value = "4", allow_hyphen_values = true, value_parser = oversampling)]
    pub(super) oversampling: Oversampling,
    /// Replace files of the same names in DIR
    #[arg(long)]
    pub(super) force: bool,
}

#[derive(clap::Args, Debug)]
pub(super) struct NetlistArgs {
    #[command(flatten)]
    pub(super) common: Common,
    /// A sine of this frequency, starting softly
    #[arg(long, value_name = "F", allow_hyphen_values = true, value_parser = finite)]
    #[arg(conflicts_with = "wav", requires = "level_dbfs")]
    pub(super) tone_hz: Option<f64>,
    /// Level of that sine on the bus
    #[arg(long, value_name = "L", allow_hyphen_values = true, value_parser = level)]
    #[arg(conflicts_with = "wav")]
    pub(super) level_dbfs: Option<f64>,
    /// A recording instead: its first channel
    #[arg(long, value_name = "FILE")]
    pub(super) wav: Option<PathBuf>,
    /// How long to simulate
    #[arg(long, value_name = "T", allow_hyphen_values = true, value_parser = finite)]
    pub(super) seconds: f64,
    /// Steps in a second: 32 times the sample rate of 48 kHz unless said otherwise
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = finite)]
    #[arg(default_value = "1536000")]
    pub(super) steps_per_second: f64,
    /// Where the deck shall write two columns: time, output volts in phase with the bus
    #[arg(long, value_name = "FILE")]
    pub(super) data: Option<PathBuf>,
}

#[derive(clap::Args, Debug)]
pub(super) struct ToneArgs {
    #[command(flatten)]
    pub(super) common: Common,
    /// The WAV to write
    #[arg(value_name = "OUT")]
    pub(super) output: PathBuf,
    /// Frequency of the sine
    #[arg(
        long,
        value_name = "F",
        default_value = "1000",
        allow_hyphen_values = true
    )]
    #[arg(value_parser = finite)]
    pub(super) tone_hz: f64,
    /// Its level: -18 is the alignment level of EBU R68, -20 that of SMPTE RP 155
    #[arg(
        long,
        value_name = "L",
        default_value = "-18",
        allow_hyphen_values = true
    )]
    #[arg(value_parser = finite)]
    pub(super) level_dbfs: f64,
    /// Length, fades of 50 ms included
    #[arg(
        long,
        value_name = "T",
        default_value = "60",
        allow_hyphen_values = true
    )]
    #[arg(value_parser = finite)]
    pub(super) seconds: f64,
    /// Sample rate
    #[arg(
        long,
        value_name = "HZ",
        default_value = "48000",
        allow_hyphen_values = true
    )]
    pub(super) rate: u32,
    /// 1 or 2
    #[arg(
        long,
        value_name = "N",
        default_value = "2",
        allow_hyphen_values = true
    )]
    pub(super) channels: usize,
    /// Interrupt the left channel for 250 ms in every 3 s, to tell it from the right
    #[arg(long)]
    pub(super) interrupt_left: bool,
    /// f32, or s24 with dither
    #[arg(long, default_value = "f32", value_parser = ["f32", "s24"])]
    pub(super) format: String,
    /// Replace OUT if it exists
    #[arg(long)]
    pub(super) force: bool,
}

fn meter(text: &str) -> Result<MeterKind, String> {
    let names = MeterKind::ALL.map(MeterKind::name);
    MeterKind::from_name(text).ok_or_else(|| format!("one of {}", names.join(", ")))
}

fn oversampling(text: &str) -> Result<Oversampling, String> {
    let setting = text.parse().ok().and_then(Oversampling::from_number);
    setting.ok_or_else(|| "oversampling is 1, 2, 4 or 8".to_owned())
}

fn preset(name: &str) -> Result<&'static Factory, String> {
    presets::find(name).ok_or_else(|| format!("the presets are {}", presets::ids()))
}

/// A finite number.
pub(super) fn finite(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err("it must be a finite number".to_owned()),
    }
}

/// A bus level: -200 to +40 dBFS, beyond which nothing is meant.
pub(super) fn level(text: &str) -> Result<f64, String> {
    let level = finite(text)?;
    if (-200.0..=40.0).contains(&level) {
        Ok(level)
    } else {
        Err("it must be from -200 to 40 dBFS".to_owned())
    }
}

/// What the argument parser says, as one sentence on one line.
pub(super) fn one_line(error: &clap::Error) -> String {
    let text = error.to_string();
    let said = text.split("\n\nUsage:").next().unwrap_or(&text);
    let said = said.split("\n\nFor more").next().unwrap_or(said);
    let words: Vec<&str> = said.split_whitespace().collect();
    let sentence = words.join(" ");
    let sentence = sentence.strip_prefix("error: ").unwrap_or(&sentence);
    // Without a verb the parser prints its help.
    if error.kind() == clap::error::ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        return "say a verb: levels, pad, render, compare, netlist or tone (--help explains each)"
            .to_owned();
    }
    format!("{sentence} (--help shows what is allowed)")
}
