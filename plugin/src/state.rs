//! Saved state: filled, clamped, migrated; a project is never refused. (What is no state at all, by
//! its JSON, the framework turns down and leaves everything as it is.)
//!
//! The framework stores parameters by id in plain units and does not check what it loads. Whatever
//! an old, new or damaged state holds becomes a state of this version: missing values get their
//! defaults, values out of range their nearest, unknown ids are dropped.

use crate::params::{Row, RowKind, rows};
use nice_plug::plugin::ParamValue;
use nice_plug::plugin::PluginState;
use std::collections::BTreeMap;

/// Makes any state one of this version.
pub fn mend(state: &mut PluginState) {
    let mut params = BTreeMap::new();
    // A project from before there was a choice of parts keeps its pad, and with it its sound. It has
    // nothing of what came with that choice.
    let old = !state.params.is_empty()
        && ["pad.parts", "return.pad_db", "pad.resistor_1_ohms"]
            .iter()
            .all(|id| !state.params.contains_key(*id));
    for row in rows() {
        let found = state.params.get(row.id).and_then(number);
        let before = (row.id == "pad.parts" && old).then_some(0.0);
        let found = found.or(before);
        params.insert(row.id.to_owned(), value(row, found));
    }
    state.params = params;
    state.version = env!("CARGO_PKG_VERSION").to_owned();
}

/// A stored value as a finite number, whatever kind it was stored as.
fn number(value: &ParamValue) -> Option<f64> {
    let number = match value {
        ParamValue::F32(number) => f64::from(*number),
        ParamValue::I32(number) => f64::from(*number),
        ParamValue::Bool(flag) => f64::from(u8::from(*flag)),
        ParamValue::String(_) => return None,
    };
    number.is_finite().then_some(number)
}

/// The nearest value that a row takes, or its default.
fn value(row: &Row, found: Option<f64>) -> ParamValue {
    match &row.kind {
        RowKind::Number {
            min, max, default, ..
        } => ParamValue::F32(found.map_or(*default, |number| number.clamp(*min, *max)) as f32),
        RowKind::Choice { words, default, .. } => {
            let last = words.len() as f64 - 1.0;
            let place = found.map_or(*default as f64, |number| number.round().clamp(0.0, last));
            ParamValue::I32(place as i32)
        }
        RowKind::Flag { default } => {
            ParamValue::Bool(found.map_or(*default, |number| number >= 0.5))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::params::PlanParams;

    fn mended(params: &[(&str, ParamValue)]) -> BTreeMap<String, ParamValue> {
        let params = params
            .iter()
            .map(|(id, value)| ((*id).to_owned(), value.clone()));
        let mut state = PluginState {
            version: "0.0.1".to_owned(),
            params: params.collect(),
            fields: BTreeMap::new(),
        };
        mend(&mut state);
        assert_eq!(state.params.len(), rows().len());
        state.params
    }

    fn float(value: &ParamValue) -> f64 {
        number(value).expect("a number")
    }

    #[test]
    fn an_empty_state_is_the_defaults() {
        let state = mended(&[]);
        assert_eq!(float(&state["pad.loss_db"]), 40.0);
        assert_eq!(float(&state["preamp.gain_db"]), 2.0);
        assert_eq!(float(&state["rig.converters_clip"]), 1.0);
        assert_eq!(state.len(), PlanParams::default().all.len());
    }

    #[test]
    fn broken_values_become_the_nearest_or_the_default() {
        let state = mended(&[
            ("pad.loss_db", ParamValue::F32(500.0)),
            ("send.trim_db", ParamValue::F32(f32::INFINITY)),
            ("preamp.gain_db", ParamValue::I32(-7)),
            ("pad.series", ParamValue::F32(2.0)),
            ("bypass", ParamValue::String("x".to_owned())),
            ("no.such", ParamValue::F32(1.0)),
        ]);
        assert_eq!(float(&state["pad.loss_db"]), 80.0);
        assert_eq!(float(&state["send.trim_db"]), 0.0);
        assert_eq!(float(&state["preamp.gain_db"]), 0.0);
        assert_eq!(float(&state["pad.series"]), 2.0);
        assert_eq!(float(&state["bypass"]), 0.0);
        assert!(!state.contains_key("no.such"));
    }
}
