//! `penstock levels` for people.

use super::figures::full_scale;
use super::measured::Measured;
use crate::advice::own_remarks;
use crate::cli::error::Failure;
use crate::cli::{alignment, text};
use penstock_dsp::chain::ceilings;
use penstock_dsp::diagram::LimitKind;
use penstock_dsp::meter::PointLevel;
use penstock_dsp::plan::{Plan, PreampKind};
use penstock_dsp::statistics::{Above, Percentiles, PointStatistics, ProgrammeStatistics};
use penstock_dsp::units::Dbu;

/// So many passages are written out.
const PASSAGES: usize = 4;
const SIDES: [&str; 2] = ["left", "right"];
/// Ceilings that have a column of their own, with our circuit and with an own preamplifier.
const COLUMNS: [LimitKind; 4] = [
    LimitKind::Thd(0.1),
    LimitKind::Thd(1.0),
    LimitKind::Thd(3.0),
    LimitKind::Clip,
];
const OWN_COLUMNS: [LimitKind; 2] = [LimitKind::DataSheet, LimitKind::Clip];

/// Levels, and of a recording its statistics.
pub(super) fn describe(plan: &Plan, measured: &Measured) -> Result<String, Failure> {
    let own: String = own_remarks(plan)
        .iter()
        .map(|line| format!("\n{line}"))
        .collect();
    let mut said = format!(
        "{}{own}\nAt bus and return dBu and volts are what the converter's alignment makes of the samples.\n",
        alignment::describe(plan)?
    );
    if measured.sides_are_alike() {
        said += &levels(plan, "", &measured.points)?;
    } else {
        for (n, side) in measured.sides.iter().enumerate() {
            if let Some(points) = side {
                said += &levels(&plan.of_channel(n), SIDES[n], points)?;
            }
        }
    }
    if let Some(metered) = &measured.metered {
        said += &metered.describe();
    }
    if let Some(found) = &measured.statistics {
        said += &statistics(plan, found, measured.sides_are_alike());
    }
    Ok(said)
}

fn levels(plan: &Plan, side: &str, points: &[PointLevel; 8]) -> Result<String, Failure> {
    let ceilings = ceilings(plan)?;
    let heads = [
        side,
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
    Ok(format!("\n{}", text::table(&rows)))
}

fn statistics(plan: &Plan, found: &ProgrammeStatistics, alike: bool) -> String {
    let mut said = String::from(
        "\nStatistics: the largest sample and the true peak, as the sine of the same peak; RMS over 3 s, below \
         which\nthe programme lies for 10, 50 and 95 % of the time; how long samples are above a ceiling. dBFS at \
         bus and return,\nelse dBu. Ceilings are those of a 1 kHz sine. Converter clipping counts where the \
         converter gets the signal.\n",
    );
    for (n, side) in found
        .sides
        .iter()
        .enumerate()
        .take(if alike { 1 } else { 2 })
    {
        let Some(points) = side else { continue };
        let name = if alike { "" } else { SIDES[n] };
        said += &format!("\n{}", text::table(&table(plan, n, name, points)));
    }
    let lufs = |p: &Percentiles| {
        [p.p10, p.p50, p.p95]
            .map(|lufs| lufs.map_or("-inf".to_owned(), |lufs| format!("{lufs:.1}")))
    };
    for (name, p) in [("bus", &found.bus_lufs), ("return", &found.return_lufs)] {
        if p.most.is_some() {
            let [low, middle, high] = lufs(p);
            said += &format!(
                "short-term loudness at the {name}: 10 % below {low}, 50 % below {middle}, 95 % below {high} LUFS\n"
            );
        }
    }
    said + &when(found, alike)
}

fn table(plan: &Plan, side: usize, name: &str, points: &[PointStatistics]) -> Vec<Vec<String>> {
    let mut heads: Vec<String> = [name, "largest", "true peak", "10 %", "50 %", "95 %"]
        .map(str::to_owned)
        .to_vec();
    let columns: &[LimitKind] = match plan.rig.preamp {
        PreampKind::Model => &COLUMNS,
        PreampKind::Own => &OWN_COLUMNS,
    };
    heads.extend(columns.iter().map(|kind| format!("over {kind}")));
    let mut rows = vec![heads];
    for point in points.iter().filter(|point| point.is_there()) {
        let full_scale = full_scale(plan, side, point).unwrap_or(Dbu(0.0)).0;
        let level = |dbu: f64| text::db(dbu - full_scale);
        let rms = |dbu: Option<f64>| dbu.map_or_else(String::new, level);
        let mut row = vec![
            point.point.name().to_owned(),
            level(point.peak.0),
            level(point.true_peak.0),
        ];
        row.extend(
            [
                point.short_term.p10,
                point.short_term.p50,
                point.short_term.p95,
            ]
            .map(rms),
        );
        row.extend(columns.iter().map(|kind| {
            let above = point.above.iter().find(|above| above.limit.kind == *kind);
            above.map_or_else(String::new, |above| text::seconds(above.seconds))
        }));
        rows.push(row);
    }
    rows
}

/// The passages above each ceiling.
fn when(found: &ProgrammeStatistics, alike: bool) -> String {
    let mut said = String::new();
    for (side, point) in found.points().filter(|(side, _)| *side == 0 || !alike) {
        for above in point.above.iter().filter(|above| above.passages > 0) {
            let side = if alike {
                String::new()
            } else {
                format!(" ({})", SIDES[side])
            };
            said += &format!(
                "{}{side} over {}: by up to {:.2} dB, {}\n",
                point.point.name(),
                above.limit.kind,
                above.over.0,
                passages(above)
            );
        }
    }
    if said.is_empty() {
        said
    } else {
        format!("\n{said}")
    }
}

/// The first few, as times and lengths.
fn passages(above: &Above) -> String {
    let shown: Vec<String> = above
        .kept
        .iter()
        .take(PASSAGES)
        .map(|passage| {
            let (start, long) = (passage.start_seconds, passage.seconds);
            format!("{} for {}", text::time(start), text::seconds(long))
        })
        .collect();
    let more = above.passages as usize - shown.len();
    let more = if more > 0 {
        format!(", and {more} more")
    } else {
        String::new()
    };
    format!("at {}{more}", shown.join(", "))
}
