//! What is unwise about a plan, in plain words, each with its number. Used by report and window.

use penstock_dsp::alignment::EBU_R68;
use penstock_dsp::chain::build_nearest;
use penstock_dsp::pad::Network;
use penstock_dsp::pad::truth::{load, rating_watts};
use penstock_dsp::plan::{Plan, Straight};
use penstock_dsp::units::Db;

/// Shown wherever a pad is.
pub const PHANTOM: &str = "Phantom power off before a line output meets a microphone input.";

/// Alignments that differ by less are alike: the tenth of a dB to which they are set.
const ALIKE_DB: f64 = 0.05;

/// Remarks on send against return and right against left, where they differ.
#[must_use]
pub fn alignment_remarks(plan: &Plan) -> Vec<String> {
    let rig = &plan.rig;
    let [left, right] = [0, 1].map(|channel| rig.straight(channel));
    let differ = |one: Db, other: Db| (one.0 - other.0).abs() >= ALIKE_DB;
    let mut remarks = Vec::new();
    if differ(left.stated, Db(0.0)) || differ(right.stated, Db(0.0)) {
        // Minus zero is nothing that anybody reads.
        let back = |straight: Straight| EBU_R68 + straight.through + Db(0.0);
        let backs = if differ(left.stated, right.stated) {
            format!("{:.1} dBFS left, {:.1} right", back(left).0, back(right).0)
        } else {
            format!("{:.1} dBFS", back(left).0)
        };
        remarks.push(format!(
            "Send and return are aligned differently: through a plain cable {} dBFS come back as {backs}.",
            EBU_R68.0
        ));
    }
    let sides = [
        ("send", rig.send_right, rig.send_full_scale_of(1)),
        ("return", rig.return_right, rig.return_full_scale_of(1)),
    ];
    for (name, offset, full_scale) in sides {
        if differ(offset, Db(0.0)) {
            remarks.push(format!(
                "Right is not left: the {name}'s full scale is {:+.2} dB higher there, {:+.2} dBu.",
                offset.0, full_scale.0.0
            ));
        }
    }
    remarks
}

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
