//! Remarks on a preamplifier of one's own, and on whose noise is counted.

use penstock_dsp::chain::{heard_plan, made_up};
use penstock_dsp::plan::{Plan, PreampKind};
use penstock_dsp::units::Dbfs;

/// What an own preamplifier means for the figures, and what is heard in its place; nothing with our circuit.
#[must_use]
pub fn own_remarks(plan: &Plan) -> Vec<String> {
    if plan.rig.preamp == PreampKind::Model {
        return Vec::new();
    }
    let heard = heard_plan(plan);
    let made_up = made_up(plan);
    let unit = &plan.rig.unit;
    let mut remarks = vec![
        "The preamplifier is your own unit, by its data sheet: levels, headroom and noise are that unit's, \
         without distortion, and its circuit is not simulated."
            .to_owned(),
        format!(
            "What is heard, and every distortion figure, is our circuit in its place: attenuator {} dB, gain \
             {} dB, and {:+.1} dB made up at the return.",
            heard.preamp.attenuator.0, heard.preamp.gain.0, made_up.0
        ),
    ];
    let missing: Vec<&str> = [
        (unit.most_in.is_none(), "rig.preamp.max_in_dbu"),
        (unit.most_out.is_none(), "rig.preamp.max_out_dbu"),
        (unit.ein.is_none(), "rig.preamp.ein_dbu"),
    ]
    .into_iter()
    .filter_map(|(is_missing, key)| is_missing.then_some(key))
    .collect();
    if !missing.is_empty() {
        remarks.push(format!(
            "Its data sheet is not complete here: without {} there is no such ceiling or floor.",
            missing.join(", ")
        ));
    }
    remarks
}

/// Whose noise is in the floors.
#[must_use]
pub fn noise_remark(plan: &Plan) -> String {
    let rig = &plan.rig;
    let stated = |level: Dbfs| format!("{:+} dBFS A-weighted", level.0);
    let converters = match (rig.send_noise, rig.return_noise) {
        (None, None) => "That of the converters is not known, so not counted: \
                         `rig.send.noise_dbfs`, `rig.return.noise_dbfs`."
            .to_owned(),
        (send, back) => {
            let word = |level: Option<Dbfs>| level.map_or_else(|| "not known".to_owned(), stated);
            format!(
                "Converters, taken as white: send {}, return {}.",
                word(send),
                word(back)
            )
        }
    };
    let preamp = match rig.preamp {
        PreampKind::Model => "resistors at 20 degC and of tubes",
        PreampKind::Own => "resistors at 20 degC and of the unit's equivalent input noise",
    };
    format!("Noise is that of {preamp}. {converters}")
}
