//! What is unwise about a plan, in plain words, each with its number. Used by report and window.

use penstock_dsp::chain::build_nearest;
use penstock_dsp::pad::Network;
use penstock_dsp::pad::truth::{load, rating_watts};
use penstock_dsp::plan::Plan;

/// Shown wherever a pad is.
pub const PHANTOM: &str = "Phantom power off before a line output meets a microphone input.";

/// Remarks on what the send drives and what the preamplifier sees.
#[must_use]
pub fn pad_remarks(plan: &Plan) -> Vec<String> {
    let (build, error) = build_nearest(plan);
    let mut remarks: Vec<String> = Vec::new();
    if let Some(error) = error {
        remarks.push(format!("{error}; the nearest is used."));
    }
    let network = build.as_built.network();
    if network == Network::None {
        remarks.push(
            "No pad: line level straight into a microphone input. It overdrives the first tube, and \
             phantom power reaches the line output unhindered."
                .to_owned(),
        );
    } else if !network.is_balanced() {
        remarks.push(format!(
            "A {} pad is unbalanced: it rejects no hum. {} is its balanced form.",
            network.name(),
            network.balanced().name()
        ));
    }
    let emf = plan.rig.send_full_scale.volts();
    let hottest = load(&build.as_built, emf, plan.rig.source, build.load)
        .heat
        .into_iter()
        .fold(0.0, f64::max);
    // What every resistor of a quarter of a watt bears with room to spare.
    if hottest > 0.125 {
        remarks.push(format!(
            "Full scale heats a resistor of the pad with {:.0} mW: buy {} or more.",
            hottest * 1e3,
            rating_watts(hottest).map_or("more than 5 W".to_owned(), |watts| format!("{watts} W"))
        ));
    }
    let in_ohms = build.as_built.in_ohms(build.load).0;
    let out_ohms = build.as_built.out_ohms(plan.rig.source).0;
    if in_ohms < 10.0 * plan.rig.source.0 {
        remarks.push(format!(
            "The send drives {in_ohms:.0} ohm from {} ohm: less than ten times its own impedance.",
            plan.rig.source.0
        ));
    }
    if !(100.0..=300.0).contains(&out_ohms) {
        remarks.push(format!(
            "The preamp sees {out_ohms:.0} ohm; microphones are 150 to 200 ohm."
        ));
    }
    remarks
}
