//! The plan's alignment in words and as JSON: both converters, both channels, one against the other.

use super::error::Failure;
use super::text;
use crate::advice::alignment_remarks;
use penstock_dsp::alignment::{Converter, EBU_R68};
use penstock_dsp::chain::build_pad;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::{Db, Dbfs, Dbu, Ohms};
use serde_json::{Value, json};

/// The channels by name.
const SIDES: [&str; 2] = ["left", "right"];
/// Loads that meters and inputs show: a 600 ohm line, and what is called bridging.
const LOADS_OHMS: [f64; 2] = [600.0, 10_000.0];

/// An unloaded level behind the send's impedance, into a load.
fn into(plan: &Plan, unloaded: Dbu, load_ohms: f64) -> Dbu {
    unloaded + Db::from_ratio(load_ohms / (load_ohms + plan.rig.source.0))
}

/// What the plan's pad shows the send.
fn pad_in(plan: &Plan) -> Result<Ohms, Failure> {
    let build = build_pad(plan)?;
    Ok(build.as_built.in_ohms(build.load))
}

/// Both converters and how they compare.
pub(super) fn json(plan: &Plan) -> Result<Value, Failure> {
    let rig = &plan.rig;
    let pad_ohms = pad_in(plan)?.0;
    let text = |reading: Option<penstock_dsp::alignment::Reading>, converter| {
        reading.map(|reading| reading.text(converter))
    };
    let readings = [
        [rig.readings.send, rig.readings.send_right].map(|one| text(one, Converter::Send)),
        [rig.readings.back, rig.readings.back_right].map(|one| text(one, Converter::Return)),
    ];
    let send = |side: usize| {
        let full_scale = rig.send_full_scale_of(side).0;
        json!({
            "full_scale_dbu": full_scale.0,
            "into_pad_dbu": into(plan, full_scale, pad_ohms).0,
            "reading": readings[0][side],
        })
    };
    let back = |side: usize| {
        json!({
            "full_scale_dbu": rig.return_full_scale_of(side).0.0,
            "reading": readings[1][side],
        })
    };
    let [left, right] = [0, 1].map(|side| rig.straight(side));
    Ok(json!({
        "send": { "left": send(0), "right": send(1) },
        "return": { "left": back(0), "right": back(1) },
        "send_over_return_db": { "left": left.stated.0, "right": right.stated.0 },
        "through_a_cable_db": { "left": left.through.0, "right": right.through.0 },
        "right_over_left_db": {
            "send": rig.send_right.0,
            "return": rig.return_right.0,
            "through_a_cable": right.through.0 - left.through.0,
        },
    }))
}

/// The same in words.
pub(super) fn describe(plan: &Plan) -> Result<String, Failure> {
    let rig = &plan.rig;
    let pad_ohms = pad_in(plan)?.0;
    let mut lines = Vec::new();
    let alike = rig.channels_are_alike();
    for (side, name) in SIDES.iter().enumerate().take(if alike { 1 } else { 2 }) {
        let side_name = if alike {
            String::new()
        } else {
            format!(" {name}")
        };
        let send = rig.send_full_scale_of(side);
        lines.push(format!(
            "Send{side_name}: 0 dBFS = {} dBu unloaded, {} dBu into this pad ({}); {} dBFS = {} dBu unloaded",
            text::db(send.0.0),
            text::db(into(plan, send.0, pad_ohms).0),
            text::ohms(pad_ohms),
            EBU_R68.0,
            text::db(send.dbu(EBU_R68).0),
        ));
        let back = rig.return_full_scale_of(side);
        lines.push(format!(
            "Return{side_name}: 0 dBFS = {} dBu; {} dBFS = {} dBu",
            text::db(back.0.0),
            EBU_R68.0,
            text::db(back.dbu(EBU_R68).0),
        ));
    }
    lines.extend(alignment_remarks(plan));
    Ok(lines.join("\n"))
}

/// What a tone reads at the send.
struct Expected {
    side: &'static str,
    unloaded: Dbu,
    pad: Dbu,
    loads: [Dbu; 2],
}

fn expected(plan: &Plan, tone: Dbfs) -> Result<[Expected; 2], Failure> {
    let pad_ohms = pad_in(plan)?.0;
    Ok([0, 1].map(|side| {
        let unloaded = plan.rig.send_full_scale_of(side).dbu(tone);
        Expected {
            side: SIDES[side],
            unloaded,
            pad: into(plan, unloaded, pad_ohms),
            loads: LOADS_OHMS.map(|ohms| into(plan, unloaded, ohms)),
        }
    }))
}

/// What a tone reads at the send of each channel.
pub(super) fn readings_json(plan: &Plan, tone: Dbfs) -> Result<Value, Failure> {
    let side = |expected: &Expected| {
        json!({
            "unloaded_dbu": expected.unloaded.0,
            "into_600_ohms_dbu": expected.loads[0].0,
            "into_10k_ohms_dbu": expected.loads[1].0,
            "into_pad_dbu": expected.pad.0,
        })
    };
    let [left, right] = expected(plan, tone)?;
    Ok(json!({ "left": side(&left), "right": side(&right) }))
}

/// The same as a table, in three units.
pub(super) fn readings_text(plan: &Plan, tone: Dbfs) -> Result<String, Failure> {
    let heads = ["", "dBu", "dBV", "RMS"].map(str::to_owned).to_vec();
    let mut rows = vec![heads];
    for expected in expected(plan, tone)? {
        let levels = [
            ("unloaded", expected.unloaded),
            ("into 600 ohm", expected.loads[0]),
            ("into 10 kohm", expected.loads[1]),
            ("into this pad", expected.pad),
        ];
        for (load, level) in levels {
            rows.push(vec![
                format!("{}, {load}", expected.side),
                text::db(level.0),
                text::db(level.dbv().0),
                text::volts(level.volts().0),
            ]);
        }
    }
    Ok(text::table(&rows))
}
