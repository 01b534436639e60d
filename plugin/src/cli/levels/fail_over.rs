//! `levels --fail-over`: whether the programme passes a ceiling anywhere, and the nearest setting at which
//! it does not.

use super::measured::{diagrams, of_file};
use crate::cli::error::Failure;
use crate::cli::text;
use penstock_dsp::diagram::{DistortionCeilings, LevelDiagram, LimitKind};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::{Plan, PreampKind};
use penstock_dsp::statistics::{Above, PointStatistics, ProgrammeStatistics};
use penstock_dsp::units::Db;
use serde_json::{Value, json};
use std::path::Path;

/// Exit code of a programme that passes the ceiling.
const CODE: u8 = 3;
/// Passes over the recording that are spent on a setting at which it does not.
const MOST_PASSES: usize = 6;
/// Trims tried are multiples of this, down to the lowest there is.
const STEP_DB: f64 = 0.1;
const LOWEST_DB: f64 = -40.0;
/// A setting so close below the ceiling is the nearest.
const NEAR_DB: f64 = 0.25;

/// What came of it.
pub(in crate::cli) struct Verdict {
    kind: LimitKind,
    passed: Option<Passed>,
}

/// Where and when the ceiling is passed first, and what helps.
struct Passed {
    side: usize,
    has_sides: bool,
    point: PointStatistics,
    above: Above,
    /// Names of the other points, and how far it is passed at most anywhere.
    elsewhere: Vec<&'static str>,
    most: Db,
    trim_db: Option<f64>,
}

/// A ceiling's name as the option takes it.
pub(in crate::cli) fn kind(name: &str) -> Result<LimitKind, String> {
    LimitKind::from_name(name).ok_or_else(|| {
        let names = LimitKind::ALL.map(|kind| kind.to_string()).join(", ");
        format!("the ceilings are {names}")
    })
}

/// Refuses a ceiling that stands nowhere in the plan.
pub(super) fn check(kind: LimitKind, plan: &Plan) -> Result<(), Failure> {
    let why = match kind {
        LimitKind::Clip if !plan.rig.converters_clip => {
            "converters that do not clip (rig.converters_clip is false; true gives them one)"
        }
        LimitKind::Thd(_) if plan.rig.preamp == PreampKind::Own => {
            "an own preamp, whose data sheet states limits but no distortion (data-sheet judges those)"
        }
        LimitKind::DataSheet => {
            let [left, _] = diagrams(plan, None)?;
            if left.points.iter().any(|point| point.own.is_some()) {
                return Ok(());
            }
            "a plan without a data sheet's limit"
        }
        _ => return Ok(()),
    };
    Err(Failure::usage(format!(
        "--fail-over {kind}: there is no such ceiling with {why}"
    )))
}

impl Verdict {
    /// Of a recording's statistics; looks for a setting that helps where the ceiling is passed.
    pub(super) fn of(
        kind: LimitKind,
        file: &Path,
        plan: &Plan,
        oversampling: Oversampling,
        found: &[LevelDiagram; 2],
        statistics: &ProgrammeStatistics,
    ) -> Result<Self, Failure> {
        let mut passed = first(kind, statistics);
        if let Some(passed) = &mut passed {
            let search = Search {
                kind,
                file,
                plan,
                oversampling,
                found: &DistortionCeilings {
                    points: std::array::from_fn(|n| found[0].points[n].thd.clone()),
                },
            };
            passed.trim_db = search.nearest(passed.most)?;
        }
        Ok(Self { kind, passed })
    }

    pub(super) fn json(&self) -> Value {
        let passed = self.passed.as_ref();
        let of = |value: &dyn Fn(&Passed) -> Value| passed.map_or(Value::Null, value);
        json!({
            "ceiling": self.kind.to_string(),
            "exceeded": passed.is_some(),
            "point": of(&|p| p.point.point.name().into()),
            "channel": of(&|p| SIDES[p.side].into()),
            "first_seconds": of(&|p| p.start_seconds().into()),
            "above_seconds": of(&|p| p.above.seconds.into()),
            "over_db": of(&|p| p.above.over.0.into()),
            "most_over_db": of(&|p| p.most.0.into()),
            "send_trim_db": of(&|p| p.trim_db.into()),
        })
    }

    /// The failure that it is, in one sentence.
    pub(super) fn into_result(self) -> Result<(), Failure> {
        let Some(passed) = self.passed else {
            return Ok(());
        };
        Err(Failure {
            message: passed.sentence(self.kind),
            code: CODE,
        })
    }
}

const SIDES: [&str; 2] = ["left", "right"];

/// Where the ceiling is passed first in time.
fn first(kind: LimitKind, statistics: &ProgrammeStatistics) -> Option<Passed> {
    let of_kind = |above: &&Above| above.limit.kind == kind && !above.kept.is_empty();
    let passed: Vec<(usize, &PointStatistics, &Above)> = statistics
        .points()
        .filter_map(|(side, point)| {
            let above = point.above.iter().find(of_kind)?;
            Some((side, point, above))
        })
        .collect();
    let start = |above: &Above| {
        above
            .kept
            .first()
            .map_or(f64::INFINITY, |p| p.start_seconds)
    };
    let (side, point, above) = *passed
        .iter()
        .min_by(|a, b| start(a.2).total_cmp(&start(b.2)))?;
    let mut elsewhere: Vec<&str> = passed
        .iter()
        .map(|(_, other, _)| other.point.name())
        .filter(|name| *name != point.point.name())
        .collect();
    elsewhere.dedup();
    elsewhere.sort_unstable();
    elsewhere.dedup();
    let most = passed.iter().map(|(_, _, above)| above.over);
    Some(Passed {
        side,
        has_sides: statistics.sides[1].is_some(),
        point: point.clone(),
        above: above.clone(),
        elsewhere,
        most: most
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or(above.over),
        trim_db: None,
    })
}

impl Passed {
    fn start_seconds(&self) -> f64 {
        self.above
            .kept
            .first()
            .map_or(0.0, |first| first.start_seconds)
    }

    fn sentence(&self, kind: LimitKind) -> String {
        let side = if self.has_sides {
            format!("{}, ", SIDES[self.side])
        } else {
            String::new()
        };
        let passages = match self.above.passages {
            1 => "one passage".to_owned(),
            n => format!("{n} passages"),
        };
        let elsewhere = if self.elsewhere.is_empty() {
            String::new()
        } else {
            format!(
                "; it is passed at {} too, by up to {:.2} dB in all",
                self.elsewhere.join(", "),
                self.most.0
            )
        };
        let remedy = self.trim_db.map_or_else(
            || format!("no send.trim_db down to {LOWEST_DB} was found that keeps it below"),
            |trim| format!("with send.trim_db={trim} it stays below everywhere"),
        );
        format!(
            "the programme passes the {kind} ceiling at {} ({side}{} dBu) by up to {:.2} dB, first at {}, \
             for {} in all, in {passages}{elsewhere}; {remedy}",
            self.point.point.name(),
            text::db(self.above.limit.level.0),
            self.above.over.0,
            text::time(self.start_seconds()),
            text::seconds(self.above.seconds),
        )
    }
}

/// The way to a trim that helps.
struct Search<'a> {
    kind: LimitKind,
    file: &'a Path,
    plan: &'a Plan,
    oversampling: Oversampling,
    found: &'a DistortionCeilings,
}

impl Search<'_> {
    /// How far above the ceiling the programme comes with another trim.
    fn over(&self, trim_db: f64) -> Result<f64, Failure> {
        let mut plan = *self.plan;
        plan.send.trim = Db(trim_db);
        // The bus's own ceiling moves with the trim.
        let diagrams = diagrams(&plan, Some(self.found))?;
        let measured = of_file(self.file, &plan, self.oversampling, diagrams, None)?;
        let over = measured
            .statistics
            .and_then(|found| found.most_over(self.kind));
        Ok(over.map_or(f64::NEG_INFINITY, |over| over.0))
    }

    /// The highest trim found at which nothing is above: first as much lower as the programme is above,
    /// which is enough where the path is linear; then by secants, since an overloaded stage hides how far it
    /// is overloaded.
    fn nearest(&self, over: Db) -> Result<Option<f64>, Failure> {
        let mut high = (self.plan.send.trim.0, over.0);
        let mut low: Option<(f64, f64)> = None;
        let mut slope = 1.0;
        for _ in 0..MOST_PASSES {
            let (least, most) = (low.map_or(LOWEST_DB, |low| low.0), high.0 - STEP_DB);
            let wish = high.0 - high.1 / slope;
            let wish = if wish < least {
                0.5 * (least + most)
            } else {
                wish
            };
            let trim = grid(wish.clamp(least, most.max(least)));
            if low.is_some_and(|low| trim <= low.0) {
                break;
            }
            let now = self.over(trim)?;
            if now > 0.0 {
                slope = ((high.1 - now) / (high.0 - trim)).clamp(0.1, 2.0);
                high = (trim, now);
                if trim <= LOWEST_DB {
                    break;
                }
            } else {
                low = Some((trim, now));
                if now > -NEAR_DB || high.0 - trim <= 1.5 * STEP_DB {
                    break;
                }
                slope = ((high.1 - now) / (high.0 - trim)).clamp(0.1, 2.0);
            }
        }
        Ok(low.map(|low| low.0))
    }
}

/// Down to a multiple of the step, as it is written.
fn grid(trim_db: f64) -> f64 {
    let steps = 1.0 / STEP_DB;
    ((trim_db * steps - 1e-6).floor() / steps).max(LOWEST_DB)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trims_are_written_short_and_never_too_high() {
        assert_eq!(grid(-3.21).to_string(), "-3.3");
        assert_eq!(grid(-3.3).to_string(), "-3.4");
        assert_eq!(grid(-99.0).to_string(), "-40");
        assert_eq!(grid(0.0).to_string(), "-0.1");
    }

    #[test]
    fn what_is_no_ceiling_is_told_what_is() {
        let said = kind("2%").expect_err("no such ceiling");
        for name in ["0.1%", "1%", "3%", "clip"] {
            assert!(said.contains(name), "{said}");
        }
    }
}
