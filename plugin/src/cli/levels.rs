//! `penstock levels`: the level at every point, of a sine or of a recording.

use super::args::LevelsArgs;
use super::audio::Reader;
use super::distortion::Distortion;
use super::error::Failure;
use super::metered::Metered;
use super::pass::{self, Planar, Sink};
use super::{alignment, json, level_page, page, text};
use crate::advice::own_remarks;
use indicatif::MultiProgress;
use penstock_dsp::analysis::measure_tone;
use penstock_dsp::chain::{build_pad, ceilings};
use penstock_dsp::meter::{MetersAlong, PointLevel, PointMeter};
use penstock_dsp::plan::Plan;
use penstock_dsp::units::Dbfs;
use serde_json::json;
use std::path::Path;

/// Only the meter listens.
struct Unheard;

impl Sink for Unheard {
    fn source(&mut self, _: Planar) -> Result<(), Failure> {
        Ok(())
    }

    fn result(&mut self, _: Planar) -> Result<(), Failure> {
        Ok(())
    }
}

/// Measures and prints.
pub(super) fn run(args: &LevelsArgs) -> Result<u8, Failure> {
    let plan = args.common.plan()?;
    if let Some(path) = &args.html {
        page::may_write(path, args.force)?;
    }
    let Measured {
        points,
        sides,
        metered,
    } = match (&args.file, args.level_dbfs) {
        (Some(file), _) => of_file(file, &plan, args)?,
        (None, level) => of_tone(Dbfs(level.unwrap_or_default()), &plan, args)?,
    };
    if let Some(path) = &args.html {
        let named = args.file.as_deref().and_then(Path::file_name);
        let programme = named.map_or_else(
            || {
                let level = args.level_dbfs.unwrap_or_default();
                format!("1 kHz sine at {} dBFS", text::db(level))
            },
            |name| name.to_string_lossy().into_owned(),
        );
        level_page::write(
            path,
            args.force,
            &plan,
            &programme,
            &points,
            metered.as_ref(),
        )?;
    }
    let distortion = args
        .distortion
        .then(|| Distortion::of(&plan, &points))
        .transpose()?;
    if args.common.json {
        let list = |points: &[PointLevel; 8]| points.iter().map(json::point).collect::<Vec<_>>();
        let [left, right] = sides.map(|side| side.as_ref().map(list));
        json::print(&json!({
            "points": list(&points),
            "channels": { "left": left, "right": right },
            "alignment": alignment::json(&plan)?,
            "preamp": json::preamp(&plan),
            "meter": metered.as_ref().map(Metered::json),
            "distortion": distortion.as_ref().map(Distortion::stages_json),
            "response": distortion.as_ref().map(Distortion::response_json),
        }));
    } else {
        print!("{}", describe(&plan, &points)?);
        if let Some(metered) = &metered {
            print!("{}", metered.describe());
        }
        if let Some(distortion) = &distortion {
            print!("{}", distortion.describe());
        }
    }
    Ok(0)
}

/// Levels over both channels, and of each that there is.
struct Measured {
    points: [PointLevel; 8],
    sides: [Option<[PointLevel; 8]>; 2],
    metered: Option<Metered>,
}

/// Of a sine in both channels; over both are the left one's levels.
fn of_tone(level: Dbfs, plan: &Plan, args: &LevelsArgs) -> Result<Measured, Failure> {
    let of = |side| measure_tone(&plan.of_channel(side), level, args.oversampling);
    let points = of(0)?.points;
    let right = if plan.rig.channels_are_alike() {
        points
    } else {
        of(1)?.points
    };
    Ok(Measured {
        points,
        sides: [Some(points), Some(right)],
        metered: args
            .meter
            .map(|kind| Metered::of_tone(kind, plan, level, args.oversampling))
            .transpose()?,
    })
}

fn of_file(file: &Path, plan: &Plan, args: &LevelsArgs) -> Result<Measured, Failure> {
    build_pad(plan)?;
    let mut reader = Reader::open(file)?;
    let rate = pass::rate_of(&reader)?;
    let channels = reader.format().channels as u64;
    let factor = args.oversampling.factor(rate);
    let along = |kind| MetersAlong::prepare(kind, rate, factor, channels as usize);
    let mut meters = (PointMeter::prepare(plan, factor), args.meter.map(along));
    let progress = pass::bar(&MultiProgress::new(), file, reader.format().frames);
    let done = pass::pass(
        &mut reader,
        plan,
        args.oversampling,
        &mut meters,
        &mut Unheard,
        &progress,
    )?;
    progress.finish_and_clear();
    let silent = done.latency_frames as u64;
    let (meter, along) = meters;
    Ok(Measured {
        points: meter.levels(silent * channels),
        sides: [0, 1].map(|side| meter.levels_of(side, silent)),
        metered: along.map(|along| Metered::of_file(along, plan)),
    })
}

fn describe(plan: &Plan, points: &[PointLevel; 8]) -> Result<String, Failure> {
    let ceilings = ceilings(plan)?;
    let heads = [
        "",
        "dBFS",
        "dBu",
        "dBV",
        "RMS",
        "peak",
        "peak as a sine",
        "ceiling",
    ];
    let mut rows = vec![heads.map(str::to_owned).to_vec()];
    // An own preamplifier has no such point.
    for level in points.iter().filter(|level| level.volts.0.is_finite()) {
        let ceiling = ceilings.iter().find(|ceiling| ceiling.point == level.point);
        rows.push(vec![
            level.point.name().to_owned(),
            level
                .dbfs
                .map_or_else(String::new, |level| text::db(level.0)),
            text::db(level.dbu().0),
            text::db(level.dbv().0),
            text::volts(level.volts.0),
            text::volts(level.peak.0),
            format!("{} dBu", text::db(level.peak_dbu().0)),
            ceiling.map_or_else(String::new, |ceiling| {
                format!("{} dBu: {}", text::db(ceiling.level.0), ceiling.reason)
            }),
        ]);
    }
    let own: String = own_remarks(plan)
        .iter()
        .map(|line| format!("\n{line}"))
        .collect();
    Ok(format!(
        "{}{own}\nAt bus and return dBu and volts are what the converter's alignment makes of the samples.\n\n{}",
        alignment::describe(plan)?,
        text::table(&rows)
    ))
}
