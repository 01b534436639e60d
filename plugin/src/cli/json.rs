//! JSON answers: plain numbers, `null` for what is undefined or infinite, keys that never vanish.

use penstock_dsp::chain::PadBuild;
use penstock_dsp::meter::PointLevel;
use penstock_dsp::pad::{LossKind, Pad};
use penstock_dsp::units::Ohms;
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
