//! The build sheet: from facts to what the page shows, and the file.

use super::PadArgs;
use super::facts::{Facts, SELECTED_PERCENT};
use super::job::{Built, Job};
use crate::cli::error::Failure;
use crate::cli::page as page_file;
use crate::cli::text;
use crate::report::sheet::{Drawing, Drawn, Material, Sheet, page};
use crate::report::text::signed;
use penstock_dsp::pad::truth::{Deviation, rating_watts};
use penstock_dsp::pad::{LossKind, Part};
use penstock_dsp::units::{Db, Dbu};
use std::path::Path;

/// Writes the sheet beside its place under a temporary name, then renames it.
pub(super) fn write(
    path: &Path,
    args: &PadArgs,
    job: &Job,
    built: &Built,
    facts: &Facts,
) -> Result<(), Failure> {
    page_file::may_write(path, args.force)?;
    page_file::write(path, page(&sheet(args, job, built, facts)))
}

fn sheet(args: &PadArgs, job: &Job, built: &Built, facts: &Facts) -> Sheet {
    let pad = &built.build.as_built;
    let network = pad.network();
    let request = &built.request;
    let what = if args.of_return { "return pad" } else { "pad" };
    let loss = pad.loss(request.kind, request.source, request.load);
    Sheet {
        title: format!(
            "{} {what}, {:.1} dB {}",
            network.name(),
            loss.0,
            request.kind.name()
        ),
        purpose: if args.of_return {
            "A line-level pad between a preamplifier driven for colour and the return converter."
                .to_owned()
        } else {
            "Between a line output and a microphone input.".to_owned()
        },
        block: vec![
            ("from".to_owned(), ohms(request.source.0)),
            ("into".to_owned(), ohms(request.load.0)),
            ("resistors".to_owned(), {
                let stock = if built.owned {
                    "yours"
                } else {
                    job.stock_name()
                };
                format!("{stock}, {} %", facts.tolerance_percent)
            }),
        ],
        drawing: drawing(built),
        materials: materials(built, facts),
        figures: figures(built, facts, args.of_return),
        remarks: remarks(built, facts, args.of_return),
        readings: readings(facts),
        levels: levels(facts, args.of_return),
        balanced: network.is_balanced(),
        before_microphone_input: !args.of_return,
        loss_db: built
            .build
            .as_built
            .loss(LossKind::Loaded, built.request.source, built.request.load)
            .0,
        paper: args.paper.clone(),
        program_version: env!("CARGO_PKG_VERSION").to_owned(),
    }
}

/// Ohms as a parts list writes them: no digits that are not there.
fn ohms(value: f64) -> String {
    crate::report::text::ohms(Some(value))
}

fn value(part: &Part) -> String {
    match part {
        Part::Single(a) => ohms(*a),
        Part::Series(a, b) => format!("{} + {}", ohms(*a), ohms(*b)),
        Part::Parallel(a, b) => format!("{} ∥ {}", ohms(*a), ohms(*b)),
    }
}

/// Names of the resistors of a position, as the network's list counts them.
fn names(built: &Built, position: usize) -> Vec<String> {
    let branches = built.build.as_built.network().branches().iter().enumerate();
    branches
        .filter(|(_, branch)| branch.position == position)
        .map(|(place, _)| format!("R{}", place + 1))
        .collect()
}

fn drawing(built: &Built) -> Drawing {
    let network = built.build.as_built.network();
    let positions: Vec<Drawn> = built
        .build
        .purchase
        .parts()
        .iter()
        .enumerate()
        .map(|(position, part)| Drawn {
            names: names(built, position),
            value: value(part),
        })
        .collect();
    let said: Vec<String> = positions
        .iter()
        .enumerate()
        .map(|(position, drawn)| {
            format!(
                "{}: {} {}",
                network.position_name(position),
                drawn.names.join(" and "),
                drawn.value
            )
        })
        .collect();
    Drawing {
        description: format!("{} pad. {}.", network.name(), said.join("; ")),
        balanced: network.is_balanced(),
        begins_with_shunt: network.is_pi(),
        positions,
    }
}

fn rating(watts: f64) -> String {
    match rating_watts(watts) {
        Some(rating) => format!("{rating} W"),
        None => format!("over {} W", 2.0 * watts),
    }
}

fn materials(built: &Built, facts: &Facts) -> Vec<Material> {
    let network = built.build.as_built.network();
    let mut list: Vec<Material> = Vec::new();
    for (position, part) in built.build.purchase.parts().iter().enumerate() {
        let count = network.count(position);
        let names = names(built, position).join(", ");
        // The hotter of two legs; they are equal but for rounding.
        let hottest = network
            .branches()
            .iter()
            .zip(facts.load.heat)
            .filter(|(branch, _)| branch.position == position)
            .fold(0.0, |hottest: f64, (_, watts)| hottest.max(watts));
        for ohms_of_it in part.values() {
            let what = format!(
                "Resistor {}, {} %, {} or more, metal film",
                ohms(ohms_of_it),
                facts.tolerance_percent,
                rating(hottest)
            );
            let purpose = format!("{}: {names}", network.position_name(position));
            match list.iter_mut().find(|line| line.what == what) {
                Some(line) => {
                    line.one += count;
                    line.pair += 2 * count;
                    if !line.purpose.contains(&names) {
                        line.purpose = format!("{}; {purpose}", line.purpose);
                    }
                }
                None => list.push(Material {
                    what,
                    purpose,
                    one: count,
                    pair: 2 * count,
                }),
            }
        }
    }
    for (what, purpose) in [
        (
            "XLR connectors, 3 pins: one female, one male",
            "input, output",
        ),
        ("Metal housing, or an XLR barrel", "joined to both shells"),
    ] {
        list.push(Material {
            what: what.to_owned(),
            purpose: purpose.to_owned(),
            one: 1,
            pair: 2,
        });
    }
    list
}

/// "-0.09 to +0.09 dB, +-0.05 dB root-sum-square".
fn around(deviation: &Deviation, unit: &str, digits: usize) -> String {
    format!(
        "{:+.digits$} to {:+.digits$} {unit} at worst, ±{:.digits$} {unit} root-sum-square",
        deviation.low, deviation.high, deviation.rss
    )
}

fn figures(built: &Built, facts: &Facts, of_return: bool) -> Vec<[String; 3]> {
    let pad = &built.build.as_built;
    let (source, load) = (built.request.source, built.request.load);
    let loss = |kind| format!("{:.2} dB", pad.loss(kind, source, load).0);
    let row = |name: &str, value: String, note: String| [name.to_owned(), value, note];
    let heat: f64 = facts.load.heat.iter().sum();
    let hottest = facts.load.heat.iter().fold(0.0, |a: f64, b| a.max(*b));
    let mut rows = vec![
        row(
            "loss, V in / V out",
            loss(LossKind::Loaded),
            around(&facts.spread.loss_db, "dB", 2),
        ),
        row(
            "loss from the unloaded level",
            loss(LossKind::Unloaded),
            match of_return {
                true => "what the preamplifier's level loses up to the converter".to_owned(),
                false => "what the bus level loses up to the preamplifier".to_owned(),
            },
        ),
        row(
            "the output sees",
            ohms(pad.in_ohms(load).0),
            around(&facts.spread.in_ohms, "ohm", 0),
        ),
        row(
            "what follows sees",
            ohms(pad.out_ohms(source).0),
            around(&facts.spread.out_ohms, "ohm", 1),
        ),
        row(
            "at full scale",
            format!("{} dBu", text::db(Dbu::from_volts(facts.load.volts).0)),
            format!(
                "{} dBu unloaded; {} and {:.2} mA out of the output",
                text::db(facts.unloaded.0),
                text::volts(facts.load.volts.0),
                facts.load.amps * 1e3
            ),
        ),
        row(
            "heat, steady full scale",
            milliwatts(heat),
            format!("the hottest resistor {}", milliwatts(hottest)),
        ),
        row(
            "noise, 20 Hz to 20 kHz",
            format!("{:.1} dBu", facts.noise.open.0),
            format!(
                "{} dB against a 150 ohm microphone",
                signed(facts.noise.over_150_ohm.0, 1)
            ),
        ),
    ];
    if !of_return {
        rows.push(row(
            "phantom power left on",
            format!("{:.2} mA", facts.phantom.source_amps * 1e3),
            "into each leg of the line output: switch it off".to_owned(),
        ));
    }
    rows
}

/// Milliwatts with three digits that count.
fn milliwatts(watts: f64) -> String {
    let milliwatts = watts * 1e3;
    let digits = (2.0 - milliwatts.abs().max(1e-3).log10().floor()).clamp(0.0, 4.0);
    format!("{milliwatts:.*} mW", digits as usize)
}

fn remarks(built: &Built, facts: &Facts, of_return: bool) -> Vec<String> {
    let mut remarks = Vec::new();
    let pair = |deviation: &Deviation| deviation.high - deviation.low;
    remarks.push(format!(
        "Left and right differ by up to {:.2} dB at {} %; measured and selected to {SELECTED_PERCENT} % by up \
         to {:.2} dB.",
        pair(&facts.spread.loss_db),
        facts.tolerance_percent,
        pair(&facts.selected.loss_db)
    ));
    match &facts.hum {
        Some(hum) => remarks.push(format!(
            "Hum common to both legs ({} to ground each): the legs reject {:.1} dB at worst; select the two \
             resistors of a pair of legs alike. What the {} itself lets through rises by {:.1} dB \
             against the programme.",
            ohms(facts.common_mode_ohms),
            hum.rejection_db,
            if of_return { "converter" } else { "preamplifier" },
            hum.rise_db
        )),
        None => remarks.push("Unbalanced: a difference of grounds is signal.".to_owned()),
    }
    if built
        .build
        .purchase
        .parts()
        .iter()
        .any(|p| !matches!(p, Part::Single(_)))
    {
        remarks.push("+ is two resistors in series, ∥ two in parallel, in each leg.".to_owned());
    }
    remarks
}

fn readings(facts: &Facts) -> Vec<[String; 5]> {
    let share = facts.tolerance_percent / 100.0;
    let readings = &facts.readings;
    [
        ("input, 2 to 3", "output open", readings.in_open_ohms),
        (
            "input, 2 to 3",
            "output 2 and 3 joined",
            readings.in_shorted_ohms,
        ),
        ("output, 2 to 3", "input open", readings.out_open_ohms),
        (
            "output, 2 to 3",
            "input 2 and 3 joined",
            readings.out_shorted_ohms,
        ),
        ("input 2 to output 2", "all else open", readings.hot_ohms),
        ("input 3 to output 3", "all else open", readings.cold_ohms),
    ]
    .into_iter()
    .map(|(at, with, reads)| {
        // Every reading grows with every resistor, so the corners are those of all at once.
        [
            at.to_owned(),
            with.to_owned(),
            ohms(reads),
            ohms(reads * (1.0 - share)),
            ohms(reads * (1.0 + share)),
        ]
    })
    .collect()
}

fn levels(facts: &Facts, of_return: bool) -> Vec<[String; 4]> {
    let level = |dbu: Dbu| format!("{} dBu ({})", text::db(dbu.0), text::volts(dbu.volts().0));
    let spread = &facts.spread.loss_db;
    facts
        .tests
        .iter()
        .map(|test| {
            let apart = test.line - test.mic;
            [
                if of_return {
                    // Nothing of the bus is known there.
                    format!("{} dB below full scale", -test.bus.0)
                } else {
                    format!("{} dBFS", text::db(test.bus.0))
                },
                level(test.line),
                level(test.mic),
                format!(
                    "{:.2} to {:.2} dB",
                    (apart + Db(spread.low)).0,
                    (apart + Db(spread.high)).0
                ),
            ]
        })
        .collect()
}
