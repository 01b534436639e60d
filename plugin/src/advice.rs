//! What is unwise about a plan, in plain words, each with its number. Used by report and window.

use penstock_dsp::alignment::EBU_R68;
use penstock_dsp::chain::{build_nearest, heard_plan};
use penstock_dsp::pad::Network;
use penstock_dsp::pad::truth::{load, rating_watts};
use penstock_dsp::plan::{Plan, PreampKind, Straight};
use penstock_dsp::units::{Db, Dbfs};

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

/// What an own preamplifier means for the figures, and what is heard in its place; nothing with our circuit.
#[must_use]
pub fn own_remarks(plan: &Plan) -> Vec<String> {
    if plan.rig.preamp == PreampKind::Model {
        return Vec::new();
    }
    let heard = heard_plan(plan);
    let made_up = heard.back.trim - plan.back.trim;
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
