//! Plans and parameters: setting a plugin by ids and texts, and telling the program the same plan.

use std::time::{Duration, Instant};

use penstock::params::{Row, RowKind, rows};
use penstock_dsp::chain::build_pad;
use penstock_dsp::pad::Network;
use penstock_dsp::plan::Plan;

use super::plugin::Plugin;
use crate::random::Random;

/// How long a host may take to hear of a change; only a hang takes as long.
const PATIENCE: Duration = Duration::from_secs(10);

/// CLAP's and VST3's numeric id of a parameter's stable id.
///
/// The rule (a polynomial in 31 over the bytes, the highest bit cleared since VST3 reserves it) is
/// part of every project ever saved with automation; it is written here a second time on purpose.
#[must_use]
pub fn number_of(id: &str) -> u32 {
    let step = |hash: u32, byte| hash.wrapping_mul(31).wrapping_add(u32::from(byte));
    id.bytes().fold(0, step) & 0x7fff_ffff
}

/// A stable id with the text to type for it.
pub type Setting = (&'static str, String);

impl Plugin {
    /// The value that a typed text means for the parameter of this stable id.
    ///
    /// # Panics
    /// When the plugin refuses the text.
    #[must_use]
    pub fn value_of(&mut self, id: &str, text: &str) -> f64 {
        let value = self.typed(number_of(id), text);
        value.unwrap_or_else(|| panic!("{id} does not take {text:?}"))
    }

    /// Sets parameters by typed texts while inactive.
    pub fn set_texts(&mut self, settings: &[Setting]) {
        for (id, text) in settings {
            let value = self.value_of(id, text);
            self.set(number_of(id), value);
        }
    }

    /// Waits until the host has heard of a parameter's new value, in the plugin's words.
    ///
    /// # Panics
    /// When it never does.
    #[track_caller]
    pub fn text_becomes(&mut self, id: &str, wanted: &str) {
        let end = Instant::now() + PATIENCE;
        loop {
            let is = self.text(number_of(id));
            if is == wanted {
                return;
            }
            assert!(
                Instant::now() < end,
                "{id} is {is} for the host, not {wanted}"
            );
            self.idle(Duration::from_millis(10));
        }
    }

    /// Every parameter's text, in the order of the table.
    #[must_use]
    pub fn texts(&mut self) -> Vec<Setting> {
        let text = |row: &'static Row| (row.id, self.text(number_of(row.id)));
        rows().iter().map(text).collect()
    }
}

/// What to tell `penstock render` so that it does what a plugin with these texts does: the options
/// `--set` and `--oversampling`.
///
/// # Panics
/// When a text of the table is missing.
#[must_use]
pub fn arguments(texts: &[Setting]) -> Vec<String> {
    let mut arguments = Vec::new();
    for assignment in assignments(texts) {
        arguments.extend(["--set".to_owned(), assignment]);
    }
    arguments.extend([
        "--oversampling".to_owned(),
        text_of(texts, "oversampling").to_owned(),
    ]);
    arguments
}

/// `KEY=VALUE` for every parameter that is a key and holds.
fn assignments(texts: &[Setting]) -> Vec<String> {
    let exact = texts
        .iter()
        .any(|(id, text)| *id == "pad.in_exact" && is_on(text));
    let idle = if exact {
        "pad.in_ohms_min"
    } else {
        "pad.in_ohms"
    };
    let own = text_of(texts, "rig.preamp.kind") == "own unit";
    // Of an own preamplifier its own gain holds.
    let is_ours = |id: &str| matches!(id, "preamp.gain_db" | "preamp.attenuator_db");
    let keys = rows()
        .iter()
        .filter(|row| row.key.is_some() && row.id != idle && !(own && is_ours(row.id)));
    let assignment = |row: &Row| {
        let value = match (text_of(texts, row.id), &row.kind) {
            ("not stated", _) => return None,
            ("our circuit", _) => "model".to_owned(),
            ("own unit", _) => "own".to_owned(),
            (text, RowKind::Flag { .. }) => is_on(text).to_string(),
            (text, _) => number_in(text).to_owned(),
        };
        Some(format!("{}={value}", row.id))
    };
    let mut all: Vec<String> = keys.filter_map(assignment).collect();
    all.extend(owned(texts));
    let gains = listed(texts, "rig.preamp.gain_step_", 16);
    let attenuators = listed(texts, "rig.preamp.attenuator_step_", 4);
    all.push(format!("rig.preamp.gain_steps_db={gains:?}"));
    all.push(format!("rig.preamp.attenuator_db={attenuators:?}"));
    if own {
        let asked = |id: &str| -> f64 { number_in(text_of(texts, id)).parse().expect("a number") };
        // Without steps any gain from 0 to 90, and no attenuator.
        let gain = asked("preamp.own_gain_db");
        let gain = nearest(&gains, gain).unwrap_or(gain.clamp(0.0, 90.0));
        let attenuator = nearest(&attenuators, asked("preamp.own_attenuator_db"));
        all.push(format!("preamp.gain_db={gain}"));
        all.push(format!(
            "preamp.attenuator_db={}",
            attenuator.unwrap_or(0.0)
        ));
    }
    all
}

/// The text of a row.
fn text_of<'a>(texts: &'a [Setting], id: &str) -> &'a str {
    let row = texts.iter().find(|(of, _)| *of == id);
    &row.unwrap_or_else(|| panic!("no text of {id}")).1
}

/// A text without its unit; a plus sign is none of a number's.
fn number_in(text: &str) -> &str {
    let number = text.split(' ').next().unwrap_or_default();
    number.trim_start_matches('+')
}

/// The used places of a list.
fn listed(texts: &[Setting], prefix: &str, most: usize) -> Vec<f64> {
    (1..=most)
        .filter_map(|n| {
            number_in(text_of(texts, &format!("{prefix}{n}_db")))
                .parse()
                .ok()
        })
        .collect()
}

fn nearest(steps: &[f64], to: f64) -> Option<f64> {
    let away = |step: &f64| (step - to).abs();
    let steps = steps.iter().copied();
    steps.min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// An owned pad, which is a list in the plan: when every position of its network has a resistor.
fn owned(texts: &[Setting]) -> Option<String> {
    let text = |id: &str| texts.iter().find(|(of, _)| *of == id).map(|(_, text)| text);
    let name = text("pad.network")?;
    let network = Network::ALL.into_iter().find(|one| one.name() == name)?;
    let values: Vec<&str> = (1..=network.positions())
        .map(|n| text(&format!("pad.resistor_{n}_ohms")).map_or("0", String::as_str))
        .map(|text| text.split(' ').next().unwrap_or_default())
        .collect();
    let there = |value: &&str| value.parse::<f64>().is_ok_and(|ohms| ohms > 0.0);
    (!values.is_empty() && values.iter().all(there))
        .then(|| format!("pad.resistors_ohms=[{}]", values.join(", ")))
}

fn is_on(text: &str) -> bool {
    text == "on"
}

/// A random plan over every parameter that a plan has, the oversampling with it, as texts to type;
/// only pads that can be built (the program refuses the others).
#[must_use]
pub fn random_plan(random: &mut Random) -> Vec<Setting> {
    loop {
        let settings: Vec<Setting> = rows()
            .iter()
            .filter(|row| row.id != "bypass")
            .map(|row| match row.id {
                // Noise has a sequence of its own in every instance.
                "preamp.noise" => (row.id, "off".to_owned()),
                _ => (row.id, random_text(row, random)),
            })
            .collect();
        let mut plan = Plan::default();
        for assignment in assignments(&settings) {
            plan.assign(&assignment).expect("texts of the table");
        }
        if build_pad(&plan).is_ok() {
            return settings;
        }
    }
}

fn random_text(row: &Row, random: &mut Random) -> String {
    match &row.kind {
        RowKind::Number {
            min,
            max,
            step,
            none,
            ..
        } => {
            let is_step = row.id.contains("_step_");
            // Most steps of a list are unused.
            let share = if is_step { 4 } else { 2 };
            if let Some(none) = none.filter(|_| !random.bits().is_multiple_of(share)) {
                return none.to_owned();
            }
            let value = if is_step && row.id.contains("gain") || row.id == "preamp.own_gain_db" {
                random.between(15.0, 70.0)
            } else if row.id.starts_with("pad.resistor_") {
                // Unused half of the time, and never so far apart that nothing comes through.
                match random.bits() % 2 {
                    0 => 0.0,
                    _ => random.spread(100.0, 1000.0),
                }
            } else if row.id == "return.pad_db" {
                match random.bits() % 2 {
                    0 => 0.0,
                    _ => random.between(0.0, 20.0),
                }
            } else if row.unit == "ohm" {
                random.spread(*min, *max)
            } else {
                // What stands for none is one unit more.
                random.between(if none.is_some() { min + 1.0 } else { *min }, *max)
            };
            let per_unit = (1.0 / step).round();
            format!("{} {}", (value * per_unit).round() / per_unit, row.unit)
        }
        RowKind::Choice { words, .. } => {
            words[(random.bits() % words.len() as u64) as usize].clone()
        }
        RowKind::Flag { .. } => random.one_of(&["on", "off"]).to_owned(),
    }
}

/// A random value of any parameter in CLAP's unit, for automation of everything.
#[must_use]
pub fn random_value(row: &Row, random: &mut Random) -> f64 {
    match &row.kind {
        RowKind::Number { .. } => random.between(0.0, 1.0),
        RowKind::Choice { words, .. } => (random.bits() % words.len() as u64) as f64,
        RowKind::Flag { .. } => (random.bits() % 2) as f64,
    }
}
