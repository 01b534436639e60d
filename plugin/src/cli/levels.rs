//! `penstock levels`: the level at every point, of a sine or of a recording; ceilings, floors and what the
//! programme does between them.

mod csv;
pub(super) mod fail_over;
mod figures;
pub(super) mod measured;
mod say;

use super::args::LevelsArgs;
use super::distortion::Distortion;
use super::error::Failure;
use super::{json, level_page, page, text};
use fail_over::Verdict;
use measured::Measured;
use penstock_dsp::plan::Plan;
use std::path::Path;

/// Measures, writes what is to be written, and prints.
pub(super) fn run(args: &LevelsArgs) -> Result<u8, Failure> {
    let plan = args.common.plan()?;
    check(args, &plan)?;
    let measured = Measured::of(args, &plan)?;
    let distortion = (args.distortion || args.html.is_some() || args.csv.is_some())
        .then(|| Distortion::of(&plan, &measured.points))
        .transpose()?;
    let verdict = verdict(args, &plan, &measured)?;
    let answer = figures::answer(&plan, &measured, distortion.as_ref(), verdict.as_ref())?;
    if let (Some(path), Some(distortion)) = (&args.html, &distortion) {
        let programme = programme(args);
        level_page::write(path, args.force, &plan, &programme, &measured, distortion)?;
    }
    if let Some(path) = &args.csv {
        page::may_write(path, args.force)?;
        page::write(path, csv::text(&answer))?;
    }
    if args.common.json {
        json::print(&answer);
    } else {
        print!("{}", say::describe(&plan, &measured)?);
        if let Some(distortion) = distortion.filter(|_| args.distortion) {
            print!("{}", distortion.describe());
        }
    }
    verdict.map_or(Ok(()), Verdict::into_result)?;
    Ok(0)
}

/// Refuses what cannot be written or judged, before anything is measured.
fn check(args: &LevelsArgs, plan: &Plan) -> Result<(), Failure> {
    let outputs = [&args.html, &args.csv];
    for path in outputs.into_iter().flatten() {
        page::may_write(path, args.force)?;
        let same = |other: &Path| match (path.canonicalize(), other.canonicalize()) {
            (Ok(one), Ok(other)) => one == other,
            _ => path.as_path() == other,
        };
        if args.file.as_deref().is_some_and(same) {
            let what = "is the recording itself; write to another place";
            return Err(Failure::usage(format!("{}: {what}", path.display())));
        }
    }
    if let [Some(html), Some(csv)] = outputs
        && html == csv
    {
        let what = "cannot be both page and table; write them to two places";
        return Err(Failure::usage(format!("{}: {what}", html.display())));
    }
    let Some(kind) = args.fail_over else {
        return Ok(());
    };
    if args.file.is_none() {
        let what = "judges a recording; give a FILE instead of --level-dbfs";
        return Err(Failure::usage(format!("--fail-over {what}")));
    }
    fail_over::check(kind, plan)
}

fn verdict(
    args: &LevelsArgs,
    plan: &Plan,
    measured: &Measured,
) -> Result<Option<Verdict>, Failure> {
    let (Some(kind), Some(file), Some(statistics)) =
        (args.fail_over, &args.file, &measured.statistics)
    else {
        return Ok(None);
    };
    let diagrams = &measured.diagrams;
    Verdict::of(kind, file, plan, args.oversampling, diagrams, statistics).map(Some)
}

/// What is measured, by name.
fn programme(args: &LevelsArgs) -> String {
    let named = args.file.as_deref().and_then(Path::file_name);
    named.map_or_else(
        || {
            let level = args.level_dbfs.unwrap_or_default();
            format!("1 kHz sine at {} dBFS", text::db(level))
        },
        |name| name.to_string_lossy().into_owned(),
    )
}
