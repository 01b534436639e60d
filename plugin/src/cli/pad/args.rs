//! The options of `penstock pad`.

use crate::cli::args::{Common, finite, level};
use std::path::PathBuf;

#[derive(clap::Args, Debug)]
pub(in crate::cli) struct PadArgs {
    #[command(flatten)]
    pub(super) common: Common,
    /// Impedance of the output that drives the pad
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    pub(super) source_ohms: Option<f64>,
    /// What that output shall see, exactly
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    pub(super) in_ohms: Option<f64>,
    /// What that output shall see at least
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    #[arg(conflicts_with = "in_ohms")]
    pub(super) in_ohms_min: Option<f64>,
    /// What the preamplifier shall see
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    pub(super) out_ohms: Option<f64>,
    /// Input impedance of the preamplifier [our circuit's, over frequency]
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    pub(super) load_ohms: Option<f64>,
    /// The loss; a comma list gives a table
    #[arg(long, value_name = "X", allow_hyphen_values = true)]
    pub(super) loss_db: Option<String>,
    /// How the loss is counted: loaded, unloaded, matched-power, open-circuit
    #[arg(long, value_name = "K")]
    pub(super) loss_kind: Option<String>,
    /// Instead of a loss: the level that goes in, with --to-dbu
    #[arg(long, value_name = "L", allow_hyphen_values = true, value_parser = finite)]
    #[arg(requires = "to_dbu", conflicts_with = "loss_db")]
    pub(super) from_dbu: Option<f64>,
    /// The level that shall come out
    #[arg(long, value_name = "L", allow_hyphen_values = true, value_parser = finite)]
    #[arg(requires = "from_dbu")]
    pub(super) to_dbu: Option<f64>,
    /// H, U, O (balanced), T, L or pi [U where it serves, H where matching is exact]
    #[arg(long, value_name = "N")]
    pub(super) network: Option<String>,
    /// ideal, E12, E24 or E96
    #[arg(long, value_name = "S")]
    pub(super) series: Option<String>,
    /// How resistors are chosen: nearest, single or pair
    #[arg(long, value_name = "P")]
    pub(super) parts: Option<String>,
    /// The resistors you have, instead of a series: a comma list in ohms (4k7 is 4700)
    #[arg(long, value_name = "LIST", conflicts_with = "series")]
    pub(super) drawer: Option<String>,
    /// Deviation of the loss that costs 1
    #[arg(long, value_name = "DB", allow_hyphen_values = true, value_parser = finite)]
    pub(super) loss_weight_db: Option<f64>,
    /// Deviation of the input impedance that costs 1, as the logarithm of a ratio
    #[arg(long, value_name = "X", allow_hyphen_values = true, value_parser = finite)]
    pub(super) in_weight: Option<f64>,
    /// The same of the output impedance
    #[arg(long, value_name = "X", allow_hyphen_values = true, value_parser = finite)]
    pub(super) out_weight: Option<f64>,
    /// Analyse a pad you own: its values from left to right as the network is drawn
    #[arg(
        long,
        value_name = "LIST",
        requires = "network",
        allow_hyphen_values = true
    )]
    pub(super) resistors_ohms: Option<String>,
    /// Those values are of one leg (balanced networks)
    #[arg(long, requires = "resistors_ohms", conflicts_with = "both_legs")]
    pub(super) per_leg: bool,
    /// Those values are of both legs together
    #[arg(long, requires = "resistors_ohms")]
    pub(super) both_legs: bool,
    /// The line-level pad before the return converter instead
    #[arg(long = "return")]
    pub(super) of_return: bool,
    /// Tolerance of every resistor
    #[arg(long, value_name = "T", allow_hyphen_values = true, value_parser = finite)]
    #[arg(default_value = "1")]
    pub(super) tolerance_percent: f64,
    /// From each leg to ground at the preamplifier: phantom feed resistors, unless there are none
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    #[arg(default_value = "6810")]
    pub(super) common_mode_ohms: f64,
    /// Capacitance of the cable from output to pad, leg to leg
    #[arg(long, value_name = "C", allow_hyphen_values = true, value_parser = finite)]
    #[arg(default_value = "1000")]
    pub(super) line_cable_pf: f64,
    /// Capacitance of the cable from pad to preamplifier and of its input
    #[arg(long, value_name = "C", allow_hyphen_values = true, value_parser = finite)]
    #[arg(default_value = "250")]
    pub(super) mic_cable_pf: f64,
    /// Does rounding matter? Loss, match and harmonics of each series, with a sine of this bus level
    #[arg(long, value_name = "X", allow_hyphen_values = true, value_parser = level)]
    pub(super) rounding_at_dbfs: Option<f64>,
    /// Write a sheet to build from: one HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Paper of that sheet: a4 or letter
    #[arg(long, value_name = "P", default_value = "a4", value_parser = ["a4", "letter"])]
    pub(super) paper: String,
    /// Replace FILE if it exists
    #[arg(long)]
    pub(super) force: bool,
}
