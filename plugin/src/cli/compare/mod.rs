//! `penstock compare`: recordings through several settings, each trimmed to the source's loudness.
//!
//! Every recording is read once to know it (`scan`), sent through every setting (`job`), trimmed
//! by one fixed gain a setting, and written into a folder that appears only when it is complete
//! (`folder`). The report is filled in `view`.

mod folder;
mod job;
mod scan;
mod settings;
mod view;

use super::args::CompareArgs;
use super::error::Failure;
use super::{demo, json, text};
use crate::cli::audio::{Encoding, Writer};
use folder::Folder;
use indicatif::MultiProgress;
use job::{Comparison, Job};
use rayon::prelude::*;
use serde_json::{Value, json};
use settings::Setting;
use std::path::{Path, PathBuf};

/// A recording to compare with.
struct Source {
    /// Where it is read.
    path: PathBuf,
    /// Where it is said to be.
    shown: PathBuf,
    /// Start of the names of its renders.
    stem: String,
    /// Whether it is the invented demo material.
    invented: bool,
}

/// Compares and writes the folder.
pub(super) fn run(args: &CompareArgs) -> Result<u8, Failure> {
    let plan = args.common.plan()?;
    let settings = settings::settings(&plan, &args.vary)?;
    let folder = Folder::prepare(args.out.as_deref(), args.force)?;
    let sources = sources(args, &folder)?;
    let progress = MultiProgress::new();
    let players = sources.len() * (settings.len() + 1);
    let job = |source: &Source| {
        let job = Job {
            source,
            settings: &settings,
            oversampling: args.oversampling,
            players,
        };
        job.run(&folder, &progress)
            .map_err(|failure| failure.of(source.shown.display()))
    };
    let results: Vec<Result<Comparison, Failure>> = sources.par_iter().map(job).collect();
    let (mut done, mut failed) = (Vec::new(), Vec::new());
    for (source, result) in sources.iter().zip(results) {
        match result {
            Ok(comparison) => done.push((source, comparison)),
            Err(failure) => failed.push(failure),
        }
    }
    if done.is_empty() {
        let reasons: Vec<String> = failed.into_iter().map(|failure| failure.message).collect();
        return Err(Failure::usage(reasons.join("; ")));
    }
    let report = folder.target().join("report.html");
    let page = crate::report::render(&view::report(&plan, &settings, &done));
    folder.write_text("report.html", &page)?;
    let answer = answer(&report, folder.target(), &settings, &done);
    folder.finish()?;
    if args.common.json {
        json::print(&answer);
    } else {
        describe(&report, &settings, &done);
    }
    for failure in &failed {
        eprintln!("penstock: {}", failure.message);
    }
    Ok(u8::from(!failed.is_empty()))
}

/// The files given, or the demo, written into the folder.
fn sources(args: &CompareArgs, folder: &Folder) -> Result<Vec<Source>, Failure> {
    if args.files.is_empty() {
        let path = folder.staging().join("demo.wav");
        let samples = demo::demo();
        let frames = Some(samples.len() as u64);
        let mut writer =
            Writer::create(&path, demo::SAMPLE_RATE_HZ, 1, Encoding::F32, frames, false)?;
        writer.write(&[&samples])?;
        writer.finish()?;
        let shown = folder.target().join("demo.wav");
        return Ok(vec![Source {
            path,
            shown,
            stem: "demo".to_owned(),
            invented: true,
        }]);
    }
    let mut stems: Vec<String> = Vec::new();
    let mut sources = Vec::new();
    for file in &args.files {
        let stem = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let mut unique = stem.clone();
        let mut number = 2;
        while stems.contains(&unique) {
            unique = format!("{stem}_{number}");
            number += 1;
        }
        stems.push(unique.clone());
        let (path, shown) = (file.clone(), file.clone());
        sources.push(Source {
            path,
            shown,
            stem: unique,
            invented: false,
        });
    }
    Ok(sources)
}

/// The JSON answer.
fn answer(
    report: &Path,
    target: &Path,
    settings: &[Setting],
    done: &[(&Source, Comparison)],
) -> Value {
    let path = |path: &Path| path.display().to_string();
    let mut rows = Vec::new();
    for (source, comparison) in done {
        for (setting, outcome) in settings.iter().zip(&comparison.outcomes) {
            let set: serde_json::Map<String, Value> = setting
                .changes
                .iter()
                .map(|(key, value)| (key.name.to_owned(), value.to_json()))
                .collect();
            let harmonic = |order| {
                outcome
                    .tone
                    .as_ref()
                    .and_then(|tone| tone.harmonic_db(order))
            };
            rows.push(json!({
                "id": setting.id,
                "name": setting.name,
                "set": set,
                "source": path(&source.shown),
                "file": path(&target.join(&outcome.file_name)),
                "lufs": outcome.written.lufs,
                "trim_db": outcome.plan.back.trim.0,
                "peak_dbfs": outcome.written.peak_dbfs(),
                "thd_percent": outcome.tone.as_ref().and_then(|tone| tone.thd_percent()),
                "h2_db": harmonic(2),
                "h3_db": harmonic(3),
                "h4_db": harmonic(4),
                "h5_db": harmonic(5),
            }));
        }
    }
    let sources: Vec<Value> = done
        .iter()
        .map(|(source, comparison)| {
            json!({
                "file": path(&source.shown),
                "lufs": comparison.scan.heard.lufs,
                "peak_dbfs": comparison.scan.heard.peak_dbfs(),
                "player_trim_db": comparison.player_trim.0,
            })
        })
        .collect();
    let first = done.first().map(|(source, _)| path(&source.shown));
    json!({ "report": path(report), "source": first, "sources": sources, "settings": rows })
}

/// The answer in words; the folder is the last line.
fn describe(report: &Path, settings: &[Setting], done: &[(&Source, Comparison)]) {
    for (source, comparison) in done {
        let made = if source.invented { demo::LABEL } else { "" };
        println!("{} {made}", source.shown.display());
        let heads = [
            "",
            "THD %",
            "H2 dB",
            "H3 dB",
            "LUFS",
            "trim dB",
            "peak dBFS",
        ];
        let mut rows = vec![heads.map(str::to_owned).to_vec()];
        for (setting, outcome) in settings.iter().zip(&comparison.outcomes) {
            let tone = outcome.tone.as_ref();
            let number = |value: Option<f64>, digits: usize| {
                value.map_or_else(|| "-".to_owned(), |value| format!("{value:.digits$}"))
            };
            rows.push(vec![
                format!("{} {}", setting.id, setting.name),
                number(tone.and_then(|tone| tone.thd_percent()), 3),
                number(tone.and_then(|tone| tone.harmonic_db(2)), 1),
                number(tone.and_then(|tone| tone.harmonic_db(3)), 1),
                number(outcome.written.lufs, 1),
                text::db(outcome.plan.back.trim.0),
                text::db(outcome.written.peak_dbfs().unwrap_or(f64::NEG_INFINITY)),
            ]);
        }
        println!("{}", text::table(&rows));
    }
    println!("Harmonics are those of a 1 kHz sine with the programme's peak.");
    println!("The report, with players: {}", report.display());
    println!("{}", report.parent().unwrap_or(report).display());
}
