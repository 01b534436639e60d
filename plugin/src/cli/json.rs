//! JSON answers: plain numbers, `null` for what is undefined or infinite, keys that never vanish.

use crate::advice::own_remarks;
use penstock_dsp::chain::{PadBuild, heard_plan, made_up, preamp_in_ohms};
use penstock_dsp::meter::PointLevel;
use penstock_dsp::pad::{LossKind, Pad};
use penstock_dsp::plan::{Plan, PreampKind};
use penstock_dsp::units::{Dbu, Ohms};
use serde_json::{Value, json};

/// Prints the one object that standard output carries.
pub(super) fn print(object: &Value) {
    println!("{object:#}");
}

/// A number, or `null` where it is not finite.
pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// A level at a point.
pub(super) fn point(level: &PointLevel) -> Value {
    json!({
        "name": level.point.name(),
        "dbu": level.dbu().0,
        "dbv": level.dbv().0,
        "volts_rms": level.volts.0,
        "volts_peak": level.peak.0,
        "dbfs": level.dbfs.map(|level| level.0),
    })
}

/// Whose preamplifier it is, and what an own one states.
pub(super) fn preamp(plan: &Plan) -> Value {
    let unit = &plan.rig.unit;
    let (is_own, heard) = (plan.rig.preamp == PreampKind::Own, heard_plan(plan));
    let stated = |level: Option<Dbu>| level.filter(|_| is_own).map(|level| level.0);
    json!({
        "kind": if is_own { "own" } else { "model" },
        "is_simulated": !is_own,
        "in_ohms": preamp_in_ohms(plan).0,
        "max_in_dbu": stated(unit.most_in),
        "max_out_dbu": stated(unit.most_out),
        "ein_dbu": stated(unit.ein),
        "heard_attenuator_db": heard.preamp.attenuator.0,
        "heard_gain_db": heard.preamp.gain.0,
        "made_up_db": made_up(plan).0,
        "notes": own_remarks(plan),
    })
}

/// A pad between a source and a load.
pub(super) fn pad(pad: &Pad, source: Ohms, load: Ohms) -> Value {
    let loss = |kind| pad.loss(kind, source, load).0;
    json!({
        "network": pad.network().name(),
        "r1_ohms": pad.r1().0,
        "r2_ohms": pad.r2().0,
        "r3_ohms": pad.r3().0,
        "arm_in_ohms": pad.arm_in().0,
        "arm_out_ohms": pad.arm_out().0,
        "shunt_ohms": pad.shunt().0,
        "shunt_in_ohms": pad.shunt_in().0,
        "values_ohms": pad.values(),
        "in_ohms": pad.in_ohms(load).0,
        "out_ohms": pad.out_ohms(source).0,
        "loss_loaded_db": loss(LossKind::Loaded),
        "loss_unloaded_db": loss(LossKind::Unloaded),
        "loss_matched_power_db": loss(LossKind::MatchedPower),
        "loss_open_circuit_db": loss(LossKind::OpenCircuit),
    })
}

/// A design and what is built of it.
pub(super) fn build(build: &PadBuild, source: Ohms) -> Value {
    json!({
        "ideal": pad(&build.ideal, source, build.load),
        "as_built": pad(&build.as_built, source, build.load),
    })
}
