//! The plugin's parameters: one table made from the plan's keys, read by the shell, the editor, the
//! documentation and the tests.
//!
//! A parameter's stable id is the plan key's dotted name; the few that are no key (`bypass`,
//! `oversampling`, `pad.in_exact`) are added at the end. Ranges never change once released: what a
//! later version needs gets a new id.

mod held;
mod lists;
mod of_plan;
mod steps;
mod table;
mod text;

pub use steps::{format_steps, parse_steps};
pub use table::{Group, Role, Row, RowKind, rows};
pub use text::{format_number, on_grid, parse_choice, parse_flag, parse_number, stands_for_none};

use crate::tone::{Tone, ToneSwitch};
use held::Held;
#[cfg(feature = "editor")]
use nice_plug::params::persist;
use nice_plug::prelude::*;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::{NEWEST_MODEL_VERSION, Plan, Value};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

/// One parameter of the framework beside its row of the table.
pub struct Parameter {
    /// What it is.
    pub row: &'static Row,
    /// The framework's value.
    pub value: ParamKind,
}

/// The framework's three kinds of values.
pub enum ParamKind {
    /// A number.
    Float(FloatParam),
    /// A place in a list.
    Int(IntParam),
    /// On or off.
    Bool(BoolParam),
}

/// All parameters, and what is kept beside them.
pub struct PlanParams {
    /// In the order of the table.
    pub all: Vec<Parameter>,
    /// The model version that the loaded project was saved with; 0 before one is loaded.
    saved_model: AtomicU32,
    /// The alignment tone asked for: never saved, off whenever a project loads.
    pub tone: ToneSwitch,
    /// How the window looks; not a choice, never heard.
    #[cfg(feature = "editor")]
    pub view: Arc<crate::editor::ViewState>,
    /// The same as the project has it, for a build without a window to keep.
    #[cfg(not(feature = "editor"))]
    view: std::sync::RwLock<String>,
}

impl Default for PlanParams {
    fn default() -> Self {
        Self {
            all: rows().iter().map(Parameter::new).collect(),
            saved_model: AtomicU32::new(0),
            tone: ToneSwitch::default(),
            view: Default::default(),
        }
    }
}

impl Parameter {
    fn new(row: &'static Row) -> Self {
        let value = match &row.kind {
            RowKind::Number {
                min,
                max,
                step,
                default,
                skewed,
                ..
            } => {
                let (min, max) = (*min as f32, *max as f32);
                let range = if *skewed {
                    let factor = FloatRange::skew_factor(-2.0);
                    FloatRange::Skewed { min, max, factor }
                } else {
                    FloatRange::Linear { min, max }
                };
                let param = FloatParam::new(row.name, *default as f32, range)
                    .with_step_size(*step as f32)
                    .with_value_to_string(Arc::new(|value| format_number(row, f64::from(value))))
                    .with_string_to_value(Arc::new(|text| {
                        parse_number(row, text).map(|value| value as f32)
                    }));
                ParamKind::Float(param)
            }
            RowKind::Choice { words, default, .. } => {
                let range = IntRange::Linear {
                    min: 0,
                    max: words.len() as i32 - 1,
                };
                let param = IntParam::new(row.name, *default as i32, range)
                    .with_value_to_string(Arc::new(|value| {
                        words.get(value as usize).cloned().unwrap_or_default()
                    }))
                    .with_string_to_value(Arc::new(|text| {
                        parse_choice(row, text).map(|index| index as i32)
                    }));
                ParamKind::Int(param)
            }
            RowKind::Flag { default } => {
                let param = BoolParam::new(row.name, *default)
                    .with_value_to_string(Arc::new(|on| if on { "on" } else { "off" }.to_owned()))
                    .with_string_to_value(Arc::new(parse_flag));
                ParamKind::Bool(if row.id == "bypass" {
                    param.make_bypass()
                } else {
                    param
                })
            }
        };
        Self { row, value }
    }

    /// The pointer by which the framework knows it.
    #[must_use]
    pub fn pointer(&self) -> ParamPtr {
        match &self.value {
            ParamKind::Float(param) => param.as_ptr(),
            ParamKind::Int(param) => param.as_ptr(),
            ParamKind::Bool(param) => param.as_ptr(),
        }
    }

    /// A number on the grid of its steps, free of the framework's 32-bit rounding.
    fn number(&self) -> f64 {
        match (&self.value, &self.row.kind) {
            (ParamKind::Float(param), RowKind::Number { .. }) => {
                on_grid(self.row, f64::from(param.value()))
            }
            (ParamKind::Int(param), _) => f64::from(param.value()),
            (ParamKind::Bool(param), _) => f64::from(u8::from(param.value())),
            _ => 0.0,
        }
    }

    fn on(&self) -> bool {
        self.number() != 0.0
    }

    /// The number, unless it stands for none.
    #[must_use]
    pub fn stated(&self) -> Option<f64> {
        let number = self.number();
        stands_for_none(self.row, number)
            .is_none()
            .then_some(number)
    }

    /// Writes its value into a plan. Never allocates.
    fn apply(&self, plan: &mut Plan) {
        let Some(key) = self.row.key else { return };
        match (&self.row.kind, &self.value) {
            (RowKind::Number { .. }, _) => {
                if let Some(number) = self.stated() {
                    (key.set)(plan, &Value::Number(number));
                }
            }
            (RowKind::Choice { values, .. }, ParamKind::Int(param)) => {
                if let Some(value) = values.get(param.value() as usize) {
                    (key.set)(plan, value);
                }
            }
            (RowKind::Flag { .. }, _) => (key.set)(plan, &Value::Flag(self.on())),
            _ => {}
        }
    }
}

impl PlanParams {
    /// The parameter of this id.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<&Parameter> {
        self.all.iter().find(|parameter| parameter.row.id == id)
    }

    /// The model version that the loaded project was saved with, if it is not the one that sounds.
    #[must_use]
    pub fn older_model(&self) -> Option<u32> {
        let saved = self.saved_model.load(Ordering::Relaxed);
        (saved != 0 && saved != NEWEST_MODEL_VERSION).then_some(saved)
    }

    /// The place of the parameter of this id.
    #[must_use]
    pub fn index(&self, id: &str) -> Option<usize> {
        self.all.iter().position(|parameter| parameter.row.id == id)
    }

    /// The place of the parameter that holds a key of the plan now: gain and attenuator of an own preamplifier
    /// have parameters of their own.
    #[must_use]
    pub fn index_of_key(&self, key: &str) -> Option<usize> {
        match key {
            "preamp.gain_db" if self.is_own() => self.index("preamp.own_gain_db"),
            "preamp.attenuator_db" if self.is_own() => self.index("preamp.own_attenuator_db"),
            key => self.index(key),
        }
    }

    /// Whether the preamplifier is the user's own.
    #[must_use]
    pub fn is_own(&self) -> bool {
        self.find("rig.preamp.kind").is_some_and(Parameter::on)
    }

    /// The plan that the parameters hold, and the oversampling. Never allocates.
    #[must_use]
    pub fn plan(&self) -> (Plan, Oversampling) {
        let mut plan = Plan::default();
        let mut held = Held::default();
        for parameter in &self.all {
            held.take(parameter, &mut plan);
        }
        held.put(&mut plan);
        (plan, held.oversampling)
    }

    /// Whether the plugin is bypassed.
    #[must_use]
    pub fn bypassed(&self) -> bool {
        self.find("bypass").is_some_and(Parameter::on)
    }
}

// SAFETY: the pointers are into `all`, which is never changed after construction, and the
// framework keeps the parameters alive in an `Arc` for as long as it uses the pointers.
unsafe impl Params for PlanParams {
    fn param_map(&self) -> Vec<(String, ParamPtr, String)> {
        let entry = |parameter: &Parameter| {
            let group = parameter.row.group.name().to_owned();
            (parameter.row.id.to_owned(), parameter.pointer(), group)
        };
        self.all.iter().map(entry).collect()
    }

    fn serialize_fields(&self) -> BTreeMap<String, String> {
        #[cfg(feature = "editor")]
        let view = persist::serialize_field(&self.view.get()).unwrap_or_default();
        #[cfg(not(feature = "editor"))]
        let view = self
            .view
            .read()
            .map(|view| view.clone())
            .unwrap_or_default();
        let version = NEWEST_MODEL_VERSION.to_string();
        BTreeMap::from([
            ("view".to_owned(), view),
            ("model_version".to_owned(), version),
        ])
    }

    fn deserialize_fields(&self, serialized: &BTreeMap<String, String>) {
        self.tone.set(Tone::Off);
        // A project from before the field was written was saved with the first.
        let saved = serialized.get("model_version");
        let saved = saved.and_then(|text| text.parse().ok()).unwrap_or(1);
        self.saved_model.store(saved, Ordering::Relaxed);
        let Some(text) = serialized.get("view") else {
            return;
        };
        #[cfg(feature = "editor")]
        if let Ok(view) = persist::deserialize_field(text) {
            self.view.put(view);
        }
        #[cfg(not(feature = "editor"))]
        if let Ok(mut view) = self.view.write() {
            view.clone_from(text);
        }
    }
}

#[cfg(test)]
mod tests;
