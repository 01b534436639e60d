//! From measurements to what the report shows.

use super::job::{Comparison, Outcome};
use super::scan::Heard;
use super::settings::Setting;
use super::{Source, demo};
use crate::advice::{Remark, alignment_remarks, own_remarks, pad_remarks};
use crate::report as sheet;
use penstock_dsp::alignment::{EBU_R68, FullScale};
use penstock_dsp::chain::{Ceiling, Point, build_pad, ceilings};
use penstock_dsp::diagram::{DistortionCeilings, LevelDiagram, distortion_ceilings};
use penstock_dsp::meter::PointLevel;
use penstock_dsp::pad::{LossKind, Network, Pad};
use penstock_dsp::plan::{Plan, PreampKind};
use penstock_dsp::units::Dbu;
use std::sync::atomic::AtomicBool;

/// Everything the report shows.
pub(super) fn report(
    plan: &Plan,
    settings: &[Setting],
    done: &[(&Source, Comparison)],
) -> sheet::Report {
    // Searched once a setting: a recording only moves the programme.
    let nobody = AtomicBool::new(false);
    let searched: Vec<Option<DistortionCeilings>> = settings
        .iter()
        .map(|setting| distortion_ceilings(&setting.plan, &nobody).ok().flatten())
        .collect();
    let mut recordings: Vec<sheet::Recording> = done
        .iter()
        .map(|(source, comparison)| recording(source, comparison, settings, &searched))
        .collect();
    fit_players(&mut recordings);
    sheet::Report {
        program_version: env!("CARGO_PKG_VERSION").to_owned(),
        model_version: plan.model_version,
        rig: rig(plan),
        notes: notes(plan, done),
        warnings: Vec::new(),
        recordings,
    }
}

/// Remarks that qualify what is shown.
fn notes(plan: &Plan, done: &[(&Source, Comparison)]) -> Vec<String> {
    let mut notes = own_remarks(plan);
    notes.push(
        "Harmonics and THD are those of a 1 kHz sine with the programme's peak, through the \
             whole chain."
            .to_owned(),
    );
    for (source, comparison) in done {
        if comparison.player_trim.0 < 0.0 {
            notes.push(format!(
                "{}: every player, the source's included, is {:.1} dB lower than the files, so \
                 that no peak clips. The files hold peaks above 0 dBFS as 32-bit float.",
                source.shown.display(),
                -comparison.player_trim.0
            ));
        }
    }
    notes
}

/// Players of all recordings together stay within the limit: the last recordings lose theirs.
fn fit_players(recordings: &mut [sheet::Recording]) {
    let mut room = sheet::PLAYERS_BYTES;
    for recording in recordings {
        let players = recording
            .settings
            .iter()
            .map(|setting| setting.player_wav.len());
        let bytes: usize = players.sum::<usize>() + recording.player_wav.len();
        match room.checked_sub(bytes) {
            Some(left) => room = left,
            None => {
                recording.player_wav.clear();
                recording
                    .settings
                    .iter_mut()
                    .for_each(|setting| setting.player_wav.clear());
            }
        }
    }
}

fn rig(plan: &Plan) -> Vec<sheet::Fact> {
    let fact = |name: &str, value: String| sheet::Fact {
        name: name.to_owned(),
        value,
    };
    let aligned = |full_scale: FullScale| {
        format!(
            "0 dBFS = {} dBu, {} dBFS = {} dBu",
            signed(full_scale.0.0),
            EBU_R68.0,
            signed(full_scale.dbu(EBU_R68).0)
        )
    };
    let clip = if plan.rig.converters_clip {
        "at 0 dBFS, both"
    } else {
        "left out"
    };
    let circuit = format!("our circuit, model version {}", plan.model_version);
    let preamp = match plan.rig.preamp {
        PreampKind::Model => circuit,
        PreampKind::Own => format!("your own unit by its data sheet; heard is {circuit}"),
    };
    vec![
        fact(
            "Send full scale, unloaded",
            aligned(plan.rig.send_full_scale),
        ),
        fact(
            "Send source impedance",
            sheet::text::ohms(Some(plan.rig.source.0)),
        ),
        fact("Return full scale", aligned(plan.rig.return_full_scale)),
        fact(
            "Return input impedance",
            sheet::text::ohms(Some(plan.rig.return_in.0)),
        ),
        fact("Converter clipping", clip.to_owned()),
        fact("Preamplifier", preamp),
    ]
}

fn signed(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0;
    format!("{rounded:+}")
}

fn recording(
    source: &Source,
    comparison: &Comparison,
    settings: &[Setting],
    searched: &[Option<DistortionCeilings>],
) -> sheet::Recording {
    let scan = &comparison.scan;
    let hz = f64::from(scan.sample_rate_hz);
    let file = source
        .shown
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    sheet::Recording {
        name: if source.invented {
            demo::NAME.to_owned()
        } else {
            file
        },
        invented: source.invented,
        sample_rate_hz: hz,
        channels: scan.channels,
        seconds: scan.heard.frames as f64 / hz,
        lufs: scan.heard.lufs,
        peak_dbfs: scan.heard.peak_dbfs(),
        common_reduction_db: 0.0,
        excerpt: sheet::Excerpt {
            start_seconds: comparison.excerpt_from as f64 / hz,
            seconds: comparison.excerpt_frames as f64 / hz,
        },
        waveform: waveform(&scan.heard),
        spectrum: spectrum(&scan.heard),
        player_wav: comparison.source_player.clone(),
        settings: settings
            .iter()
            .zip(&comparison.outcomes)
            .zip(searched)
            .map(|((setting, outcome), found)| one(setting, outcome, found.as_ref()))
            .collect(),
    }
}

fn waveform(heard: &Heard) -> sheet::Waveform {
    sheet::Waveform {
        min_max: heard.min_max.clone(),
    }
}

fn spectrum(heard: &Heard) -> sheet::Spectrum {
    let hz_dbfs = heard
        .bands
        .iter()
        .map(|band| (band.frequency_hz, band.level_dbfs))
        .collect();
    sheet::Spectrum {
        hz_dbfs,
        bands: "sixth-octave bands".to_owned(),
    }
}

fn one(
    setting: &Setting,
    outcome: &Outcome,
    searched: Option<&DistortionCeilings>,
) -> sheet::Setting {
    let plan = &outcome.plan;
    let tone = outcome.tone.as_ref();
    let harmonic = |order: u32| sheet::Harmonic {
        order,
        level_db: tone.and_then(|tone| tone.harmonic_db(order as usize)),
    };
    let ceilings = ceilings(plan).unwrap_or_default();
    let change = |(key, value): &(&'static penstock_dsp::plan::Key, penstock_dsp::plan::Value)| {
        sheet::Change {
            key: key.name.to_owned(),
            value: value.to_string(),
        }
    };
    sheet::Setting {
        id: setting.id as u32,
        name: setting.name.clone(),
        changes: setting.changes.iter().map(change).collect(),
        plan_toml: plan.to_toml(),
        lufs: outcome.written.lufs,
        trim_db: plan.back.trim.0,
        peak_dbfs: outcome.written.peak_dbfs(),
        thd_percent: tone.and_then(|tone| tone.thd_percent()),
        harmonics: (2..=5).map(harmonic).collect(),
        clipped_send_frames: outcome.clipped.send_frames,
        clipped_return_frames: outcome.clipped.return_frames,
        points: outcome
            .points
            .iter()
            .map(|level| point(level, setting, plan, &ceilings))
            .collect(),
        diagram: diagram(setting, outcome, searched),
        waveform: waveform(&outcome.written),
        spectrum: spectrum(&outcome.written),
        player_wav: outcome.player.clone(),
        file_name: outcome.file_name.clone(),
        pad: pad(plan),
        warnings: warnings(outcome),
    }
}

/// The setting with its loudness trim as a level diagram.
fn diagram(
    setting: &Setting,
    outcome: &Outcome,
    searched: Option<&DistortionCeilings>,
) -> Option<LevelDiagram> {
    let plan = &outcome.plan;
    let trim = plan.back.trim - setting.plan.back.trim;
    let back = Point::Return as usize;
    let mut diagram = LevelDiagram::of_plan(plan).ok()?;
    if let Some(found) = searched {
        diagram.add_ceilings(found);
        for thd in &mut diagram.points[back].thd {
            thd.level = thd.level.map(|level| level + trim);
        }
    }
    let mut levels = outcome.points;
    let returned = &mut levels[back];
    returned.volts.0 *= trim.ratio();
    returned.peak.0 *= trim.ratio();
    diagram.add_programme(&levels);
    Some(diagram)
}

fn point(
    level: &PointLevel,
    setting: &Setting,
    plan: &Plan,
    ceilings: &[Ceiling],
) -> sheet::LevelPoint {
    // The return was metered before its loudness trim, which is a plain gain.
    let trim = match level.point {
        Point::Return => plan.back.trim - setting.plan.back.trim,
        _ => penstock_dsp::units::Db(0.0),
    };
    let finite = |level: Dbu| level.0.is_finite().then_some(level.0);
    let (rms, peak) = (level.dbu() + trim, level.peak_dbu() + trim);
    let (scale, full_scale) = match level.point {
        Point::Bus => (sheet::Scale::SendDbfs, Some(plan.rig.send_full_scale)),
        Point::Return => (sheet::Scale::ReturnDbfs, Some(plan.rig.return_full_scale)),
        _ => (sheet::Scale::Dbu, None),
    };
    let dbfs = |level: Dbu| full_scale.map(|full_scale| full_scale.dbfs(level).0);
    let ceiling = ceilings.iter().find(|ceiling| ceiling.point == level.point);
    sheet::LevelPoint {
        name: level.point.name().to_owned(),
        label: level.point.label().to_owned(),
        scale,
        rms_dbu: finite(rms),
        peak_sine_dbu: finite(peak),
        volts_rms: Some(level.volts.0 * trim.ratio()),
        volts_peak: Some(level.peak.0 * trim.ratio()),
        rms_dbfs: dbfs(rms).filter(|value| value.is_finite()),
        peak_dbfs: dbfs(peak).filter(|value| value.is_finite()),
        ceiling_dbu: ceiling.map(|ceiling| ceiling.level.0),
        ceiling_note: ceiling.map_or_else(String::new, |ceiling| ceiling.reason.to_owned()),
    }
}

fn pad(plan: &Plan) -> Option<sheet::PadBuild> {
    let build = build_pad(plan).ok()?;
    let pad = &build.as_built;
    (pad.network() != Network::None).then(|| sheet::PadBuild {
        network: pad.network().name().to_owned(),
        series: if plan.pad.owned.list().is_empty() {
            plan.pad.series.name().to_owned()
        } else {
            "own".to_owned()
        },
        resistors: resistors(pad),
        in_ohms: Some(pad.in_ohms(build.load).0),
        out_ohms: Some(pad.out_ohms(plan.rig.source).0),
        loss_loaded_db: Some(pad.loss(LossKind::Loaded, plan.rig.source, build.load).0),
        requested: format!("{} dB {}", plan.pad.loss.0, plan.pad.loss_kind.name()),
    })
}

fn resistors(pad: &Pad) -> Vec<sheet::Resistor> {
    let network = pad.network();
    let resistor = |(position, ohms): (usize, &f64)| {
        let count = network.count(position);
        let each = if count == 2 { ", each leg" } else { "" };
        sheet::Resistor {
            label: format!("{}{each}", network.position_name(position)),
            ohms: *ohms,
            count: count as u32,
        }
    };
    pad.values().iter().enumerate().map(resistor).collect()
}

/// What is unwise, each with its number.
fn warnings(outcome: &Outcome) -> Vec<String> {
    let plan = &outcome.plan;
    let mut warnings = Vec::new();
    let clipped = outcome.clipped;
    for (name, frames) in [
        ("send", clipped.send_frames),
        ("return", clipped.return_frames),
    ] {
        if frames > 0 {
            warnings.push(format!("The {name} converter clips in {frames} frames."));
        }
    }
    warnings.extend(pad_remarks(plan).iter().map(Remark::sentence));
    warnings.extend(alignment_remarks(plan));
    if outcome.written.lufs.is_none() {
        warnings.push("Too short or too quiet for a loudness: not trimmed.".to_owned());
    }
    if !outcome.trim_fits_plan() {
        warnings.push(format!(
            "A trim of {:.1} dB is outside what a plan holds (-60 to +40 dB).",
            plan.back.trim.0
        ));
    }
    warnings
}
