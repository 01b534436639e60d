//! "Does rounding matter here?" in numbers: loss, match and harmonics of each series.

use super::job::{Built, Job};
use crate::cli::error::Failure;
use penstock_dsp::analysis::{Tone, measure_tone};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::pad::truth::spread;
use penstock_dsp::pad::{LossKind, Pad, Parts, Series, Stock, buy};
use penstock_dsp::plan::Resistors;
use penstock_dsp::units::{Db, Dbfs};
use serde_json::{Value, json};

/// What one series changes against the ideal pad.
pub(super) struct Rounding {
    pub(super) series: Series,
    pub(super) loss: Db,
    pub(super) in_percent: f64,
    pub(super) out_percent: f64,
    /// Two pads of this series' usual tolerance against one another, at worst.
    pub(super) pair: Db,
    /// Changes of harmonics 2 and 3, re the fundamental, in dB.
    pub(super) second_db: Option<f64>,
    pub(super) third_db: Option<f64>,
    /// The same harmonics of the ideal pad.
    pub(super) ideal_second_db: Option<f64>,
    pub(super) ideal_third_db: Option<f64>,
}

impl Rounding {
    pub(super) fn json(&self) -> Value {
        json!({
            "series": self.series.name(),
            "loss_change_db": self.loss.0,
            "in_change_percent": self.in_percent,
            "out_change_percent": self.out_percent,
            "pair_worst_db": self.pair.0,
            "h2_change_db": self.second_db,
            "h3_change_db": self.third_db,
            "ideal_h2_db": self.ideal_second_db,
            "ideal_h3_db": self.ideal_third_db,
        })
    }

    /// The tolerance that a series is usually sold with, in percent (common practice, no source).
    pub(super) fn usual_percent(series: Series) -> f64 {
        match series {
            Series::E12 => 10.0,
            Series::E24 => 5.0,
            _ => 1.0,
        }
    }
}

/// Measures every series at a bus level.
pub(super) fn measure(job: &Job, built: &Built, level: Dbfs) -> Result<Vec<Rounding>, Failure> {
    let request = &built.request;
    let ideal = &built.build.ideal;
    let exact = tone(job, ideal, level)?;
    let harmonic = |tone: &Tone, order| tone.harmonic_db(order);
    [Series::E12, Series::E24, Series::E96]
        .into_iter()
        .map(|series| {
            let stock = Stock::Series(series);
            let pad = buy(request, ideal, stock, Parts::Single, &job.weights)?.pad;
            let found = tone(job, &pad, level)?;
            let kind = LossKind::Loaded;
            let loss = |pad: &Pad| pad.loss(kind, request.source, request.load);
            let percent = |new: f64, old: f64| 100.0 * (new / old - 1.0);
            let share = Rounding::usual_percent(series) / 100.0;
            let spread = spread(&pad, kind, request.source, request.load, share).loss_db;
            let change = |order| Some(harmonic(&found, order)? - harmonic(&exact, order)?);
            Ok(Rounding {
                series,
                loss: loss(&pad) - loss(ideal),
                in_percent: percent(pad.in_ohms(request.load).0, ideal.in_ohms(request.load).0),
                out_percent: percent(
                    pad.out_ohms(request.source).0,
                    ideal.out_ohms(request.source).0,
                ),
                pair: Db(spread.high - spread.low),
                second_db: change(2),
                third_db: change(3),
                ideal_second_db: harmonic(&exact, 2),
                ideal_third_db: harmonic(&exact, 3),
            })
        })
        .collect()
}

/// A sine of this bus level through the plan with this pad in it.
fn tone(job: &Job, pad: &Pad, level: Dbfs) -> Result<Tone, Failure> {
    let mut plan = job.plan;
    plan.pad.network = pad.network();
    plan.pad.owned = Resistors::from_list(pad.values());
    Ok(measure_tone(&plan, level, Oversampling::default())?)
}
