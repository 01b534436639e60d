//! Everything that `penstock levels` knows, as JSON.

use super::Distortion;
use super::fail_over::Verdict;
use super::measured::Measured;
use crate::cli::error::Failure;
use crate::cli::metered::Metered;
use crate::cli::{alignment, json};
use penstock_dsp::diagram::{DiagramPoint, LevelDiagram};
use penstock_dsp::meter::PointLevel;
use penstock_dsp::plan::Plan;
use penstock_dsp::statistics::{Above, Percentiles, PointStatistics, ProgrammeStatistics};
use penstock_dsp::units::Dbu;
use serde_json::{Value, json};

/// The whole answer.
pub(super) fn answer(
    plan: &Plan,
    measured: &Measured,
    distortion: Option<&Distortion>,
    verdict: Option<&Verdict>,
) -> Result<Value, Failure> {
    let list = |points: &[PointLevel; 8]| points.iter().map(json::point).collect::<Vec<_>>();
    let [left, right] = &measured.sides;
    let side = |side: &Option<[PointLevel; 8]>| side.as_ref().map(list);
    Ok(json!({
        "points": list(&measured.points),
        "channels": { "left": side(left), "right": side(right) },
        "alignment": alignment::json(plan)?,
        "preamp": json::preamp(plan),
        "meter": measured.metered.as_ref().map(Metered::json),
        "ceilings": by_side(measured, |diagram| points(diagram, |p| ceiling(p, measured.searched))),
        "floors": by_side(measured, |diagram| points(diagram, floor)),
        "statistics": measured.statistics.as_ref().map(|found| statistics(plan, found, measured.seconds)),
        "distortion": distortion.map(Distortion::stages_json),
        "response": distortion.map(Distortion::response_json),
        "fail_over": verdict.map(Verdict::json),
    }))
}

fn by_side(measured: &Measured, of: impl Fn(&LevelDiagram) -> Value) -> Value {
    let [left, right] = [0, 1].map(|n| {
        measured.sides[n]
            .as_ref()
            .map(|_| of(&measured.diagrams[n]))
    });
    json!({ "left": left, "right": right })
}

fn points(diagram: &LevelDiagram, of: impl Fn(&DiagramPoint) -> Value) -> Value {
    diagram.points.iter().map(of).collect()
}

fn dbu(level: Option<Dbu>) -> Option<f64> {
    level.map(|level| level.0)
}

/// What lies above the programme; ceilings by distortion are `null` where nobody searched.
fn ceiling(point: &DiagramPoint, searched: bool) -> Value {
    let thd = |thd: &penstock_dsp::diagram::ThdCeiling| json!({ "tone_hz": thd.tone_hz, "percent": thd.percent, "dbu": dbu(thd.level) });
    let thd = searched.then(|| point.thd.iter().map(thd).collect::<Vec<_>>());
    json!({
        "name": point.point.name(),
        "thd": thd,
        "clip_dbu": dbu(point.clip),
        "grid_dbu": dbu(point.grid),
        "data_sheet_dbu": dbu(point.own),
        "ceiling_dbu": dbu(point.ceiling()),
        "headroom_db": point.headroom().map(|db| db.0),
    })
}

/// And below.
fn floor(point: &DiagramPoint) -> Value {
    let floor = |weighted: fn(&penstock_dsp::diagram::Floor) -> Dbu| {
        point.floor.as_ref().map(|floor| weighted(floor).0)
    };
    json!({
        "name": point.point.name(),
        "flat_dbu": floor(|f| f.flat),
        "a_dbu": floor(|f| f.a),
        "itu_468_dbu": floor(|f| f.itu_468),
        "signal_to_noise_db": point.signal_to_noise().map(|db| db.0),
    })
}

fn statistics(plan: &Plan, found: &ProgrammeStatistics, seconds: Option<f64>) -> Value {
    let side = |n: usize| {
        let points = found.sides[n].as_ref()?;
        let shift = |point: &PointStatistics| full_scale(plan, n, point);
        Some(
            points
                .iter()
                .map(|p| point(p, shift(p)))
                .collect::<Vec<_>>(),
        )
    };
    json!({
        "seconds": seconds,
        "loudness": [
            loudness("bus", &found.bus_lufs),
            loudness("return", &found.return_lufs),
        ],
        "left": side(0),
        "right": side(1),
    })
}

/// What reads 0 dBFS at a digital point of a channel.
pub(in crate::cli) fn full_scale(plan: &Plan, side: usize, point: &PointStatistics) -> Option<Dbu> {
    match point.point {
        penstock_dsp::chain::Point::Bus => Some(plan.rig.send_full_scale_of(side).0),
        penstock_dsp::chain::Point::Return => Some(plan.rig.return_full_scale_of(side).0),
        _ => None,
    }
}

fn loudness(name: &str, lufs: &Percentiles) -> Value {
    json!({
        "name": name,
        "p10_lufs": lufs.p10,
        "p50_lufs": lufs.p50,
        "p95_lufs": lufs.p95,
        "max_lufs": lufs.most,
    })
}

fn point(point: &PointStatistics, full_scale: Option<Dbu>) -> Value {
    let dbfs = |dbu: f64| full_scale.map(|full| dbu - full.0);
    let rms = &point.short_term;
    json!({
        "name": point.point.name(),
        "peak_dbu": point.peak.0,
        "peak_dbfs": dbfs(point.peak.0),
        "true_peak_dbu": point.true_peak.0,
        "true_peak_dbfs": dbfs(point.true_peak.0),
        "p10_dbu": rms.p10,
        "p50_dbu": rms.p50,
        "p95_dbu": rms.p95,
        "max_dbu": rms.most,
        "p10_dbfs": rms.p10.and_then(dbfs),
        "p50_dbfs": rms.p50.and_then(dbfs),
        "p95_dbfs": rms.p95.and_then(dbfs),
        "max_dbfs": rms.most.and_then(dbfs),
        "above": point.above.iter().map(above).collect::<Vec<_>>(),
    })
}

fn above(above: &Above) -> Value {
    let passage = |passage: &penstock_dsp::statistics::Passage| {
        json!({
            "start_seconds": passage.start_seconds,
            "seconds": passage.seconds,
            "over_db": passage.over.0,
        })
    };
    json!({
        "ceiling": above.limit.kind.to_string(),
        "level_dbu": above.limit.level.0,
        "over_db": above.over.0,
        "above_seconds": above.seconds,
        "passages": above.passages,
        "first_seconds": above.kept.first().map(|first| first.start_seconds),
        "list": above.kept.iter().map(passage).collect::<Vec<_>>(),
    })
}
