//! `levels --distortion`: what the circuit does to the programme's level at each point, and its response.

use super::error::Failure;
use super::text;
use penstock_dsp::analysis::{Peaks, StageDistortion, response, stage_distortion};
use penstock_dsp::meter::PointLevel;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::Db;
use serde_json::{Value, json};
use std::sync::atomic::AtomicBool;

/// What was found.
pub(super) struct Distortion {
    pub(super) stages: Vec<StageDistortion>,
    pub(super) response: Vec<(f64, Db)>,
}

impl Distortion {
    /// At a programme's peaks.
    pub(super) fn of(plan: &Plan, levels: &[PointLevel; 8]) -> Result<Self, Failure> {
        let peaks: Peaks =
            std::array::from_fn(|n| Some(levels[n].peak_dbu()).filter(|peak| peak.0.is_finite()));
        let stages = stage_distortion(plan, &peaks, &AtomicBool::new(false))?;
        Ok(Self {
            // Nobody stops it.
            stages: stages.unwrap_or_default(),
            response: response(plan)?,
        })
    }

    /// By point.
    pub(super) fn stages_json(&self) -> Value {
        self.stages.iter().map(stage).collect()
    }

    /// From the send's unloaded output to the preamplifier's, re 1 kHz.
    pub(super) fn response_json(&self) -> Value {
        self.response
            .iter()
            .map(|(hz, gain)| json!({ "hz": hz, "db": gain.0 }))
            .collect()
    }

    /// For people.
    pub(super) fn describe(&self) -> String {
        let heads = [
            "",
            "THD",
            "THD+N",
            "2nd",
            "3rd",
            "4th",
            "5th",
            "60 Hz + 7 kHz",
            "19 + 20 kHz",
        ];
        let mut rows = vec![heads.map(str::to_owned).to_vec()];
        for stage in &self.stages {
            let percent =
                |value: Option<f64>| value.map_or_else(String::new, |p| format!("{p:.4} %"));
            let order = |n: usize| {
                let gain = stage.harmonic(n);
                gain.map_or_else(String::new, |gain| format!("{:.1} dB", gain.0))
            };
            let mut row = vec![
                stage.point.name().to_owned(),
                percent(stage.thd_percent),
                percent(stage.thd_n_percent),
            ];
            row.extend((2..=5).map(order));
            row.extend([stage.smpte_percent, stage.ccif_percent].map(percent));
            rows.push(row);
        }
        let ends = [self.response.first(), self.response.last()];
        let ends = ends.into_iter().flatten();
        let ends: Vec<String> = ends
            .map(|(hz, gain)| format!("{} dB at {hz:.0} Hz", text::db(gain.0)))
            .collect();
        format!(
            "\nDistortion of a 1 kHz sine with the programme's peak at the point, without converter clipping;\n\
             both kinds of intermodulation at the same peak.\n\n{}\n\
             Response from send to preamp_out re 1 kHz: {}\n",
            text::table(&rows),
            ends.join(", ")
        )
    }
}

fn stage(stage: &StageDistortion) -> Value {
    let order = |n: usize| stage.harmonic(n).map(|gain| gain.0);
    let harmonics: Vec<_> = (2..=stage.harmonics.len()).map(order).collect();
    json!({
        "name": stage.point.name(),
        "peak_dbu": stage.peak.0,
        "thd_percent": stage.thd_percent,
        "thd_n_percent": stage.thd_n_percent,
        "h2_db": order(2),
        "h3_db": order(3),
        "h4_db": order(4),
        "h5_db": order(5),
        "harmonics_db": harmonics,
        "smpte_percent": stage.smpte_percent,
        "ccif_percent": stage.ccif_percent,
        "transfer_volts": stage.curve,
    })
}
