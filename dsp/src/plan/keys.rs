//! The table of plan keys: name, what it takes, what it means, and how it reads and writes a plan.

use super::kind::{Key, Kind, Later};
use super::{NEWEST_MODEL_VERSION, Plan, Polarity, PreampKind, Resistors, Steps, Value};
use crate::alignment::{Converter, FullScale, Reading};
use crate::pad::{Input, LossKind, Network, Parts, Series};
use crate::units::{Db, Dbfs, Dbu, Ohms};

fn number(value: f64) -> Option<Value> {
    Some(Value::Number(value))
}

fn word(value: &str) -> Option<Value> {
    Some(Value::Word(value.to_owned()))
}

fn n(value: &Value) -> f64 {
    value.number().unwrap_or_default()
}

/// The one of `choices` whose name the value is.
fn pick<T: Copy>(value: &Value, choices: &[T], name: fn(T) -> &'static str, into: &mut T) {
    if let Value::Word(word) = value
        && let Some(choice) = choices.iter().find(|choice| name(**choice) == word)
    {
        *into = *choice;
    }
}

/// What a reading's text says.
fn reading(value: &Value, converter: Converter) -> Option<Reading> {
    match value {
        Value::Word(text) => Reading::parse(text, converter),
        _ => None,
    }
}

fn reading_text(reading: Option<Reading>, converter: Converter) -> Option<Value> {
    reading.map(|reading| Value::Word(reading.text(converter)))
}

/// One channel's full scale against the other's.
const OFFSET: Kind = Kind::Number {
    min: -12.0,
    max: 12.0,
};

/// What a converter adds: no better is built, and a worse one is broken.
const CONVERTER_NOISE: Kind = Kind::Number {
    min: -160.0,
    max: -40.0,
};

const POLARITIES: [Polarity; 2] = [Polarity::Normal, Polarity::Inverted];
const LOSS_KINDS: [LossKind; 4] = [
    LossKind::Loaded,
    LossKind::Unloaded,
    LossKind::MatchedPower,
    LossKind::OpenCircuit,
];
const PARTS: [Parts; 3] = [Parts::Nearest, Parts::Single, Parts::Pair];
const SERIES: [Series; 4] = [Series::Ideal, Series::E12, Series::E24, Series::E96];

const PREAMP_KINDS: [PreampKind; 2] = [PreampKind::Model, PreampKind::Own];

fn preamp_kind_name(kind: PreampKind) -> &'static str {
    match kind {
        PreampKind::Model => "model",
        PreampKind::Own => "own",
    }
}

fn numbers(list: &[f64]) -> Option<Value> {
    (!list.is_empty()).then(|| Value::Numbers(list.to_vec()))
}

fn list_of(value: &Value) -> Vec<f64> {
    match value {
        Value::Numbers(list) => list.clone(),
        other => vec![n(other)],
    }
}

fn polarity_name(polarity: Polarity) -> &'static str {
    match polarity {
        Polarity::Normal => "normal",
        Polarity::Inverted => "inverted",
    }
}

fn noise_name(on: bool) -> &'static str {
    if on { "on" } else { "off" }
}

/// Every key, in the order of the plan.
pub const KEYS: &[Key] = &[
    Key {
        name: "model_version",
        kind: Kind::Steps(&[NEWEST_MODEL_VERSION as f64]),
        later: Later::Nothing,
        help: "which circuit makes the sound; version 1 is gone, a plan that asks for it is refused",
        get: |plan| number(f64::from(plan.model_version)),
        set: |plan, value| plan.model_version = n(value) as u32,
    },
    Key {
        name: "rig.send.full_scale_dbu",
        kind: Kind::Number {
            min: 0.0,
            max: 30.0,
        },
        later: Later::Nothing,
        help: "send converter: unloaded level of a full-scale sine",
        get: |plan| match plan.rig.readings.send {
            None => number(plan.rig.send_full_scale.0.0),
            Some(_) => None,
        },
        set: |plan, value| {
            plan.rig.send_full_scale = FullScale(Dbu(n(value)));
            plan.rig.readings.send = None;
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.send.reading",
        kind: Kind::Reading(Converter::Send),
        later: Later::Nothing,
        help: "the same as measured: a tone at the bus reads so much at the output, `into` the ohms of \
               a meter that loads it; sets the full scale and clears `rig.send.full_scale_dbu`",
        get: |plan| reading_text(plan.rig.readings.send, Converter::Send),
        set: |plan, value| {
            plan.rig.readings.send = reading(value, Converter::Send);
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.send.right_db",
        kind: OFFSET,
        later: Later::Nothing,
        help: "by how much the right channel's full scale is higher than the left's",
        get: |plan| match plan.rig.readings.send_right {
            None => number(plan.rig.send_right.0),
            Some(_) => None,
        },
        set: |plan, value| {
            plan.rig.send_right = Db(n(value));
            plan.rig.readings.send_right = None;
        },
    },
    Key {
        name: "rig.send.right_reading",
        kind: Kind::Reading(Converter::Send),
        later: Later::Nothing,
        help: "the right channel as measured; clears `rig.send.right_db`",
        get: |plan| reading_text(plan.rig.readings.send_right, Converter::Send),
        set: |plan, value| {
            plan.rig.readings.send_right = reading(value, Converter::Send);
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.send.source_ohms",
        kind: Kind::Number {
            min: 1.0,
            max: 2000.0,
        },
        later: Later::Nothing,
        help: "send converter: output impedance, leg to leg",
        get: |plan| number(plan.rig.source.0),
        set: |plan, value| {
            plan.rig.source = Ohms(n(value));
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.return.full_scale_dbu",
        kind: Kind::Number {
            min: 0.0,
            max: 30.0,
        },
        later: Later::Nothing,
        help: "return converter: level of a sine that reads full scale",
        get: |plan| match plan.rig.readings.back {
            None => number(plan.rig.return_full_scale.0.0),
            Some(_) => None,
        },
        set: |plan, value| {
            plan.rig.return_full_scale = FullScale(Dbu(n(value)));
            plan.rig.readings.back = None;
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.return.reading",
        kind: Kind::Reading(Converter::Return),
        later: Later::Nothing,
        help: "the same as measured: what comes back as a tone of so many dBFS reads so much at the \
               input, or unloaded `from` a generator of some ohms; sets the full scale and clears \
               `rig.return.full_scale_dbu`",
        get: |plan| reading_text(plan.rig.readings.back, Converter::Return),
        set: |plan, value| {
            plan.rig.readings.back = reading(value, Converter::Return);
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.return.right_db",
        kind: OFFSET,
        later: Later::Nothing,
        help: "by how much the right channel's full scale is higher than the left's",
        get: |plan| match plan.rig.readings.back_right {
            None => number(plan.rig.return_right.0),
            Some(_) => None,
        },
        set: |plan, value| {
            plan.rig.return_right = Db(n(value));
            plan.rig.readings.back_right = None;
        },
    },
    Key {
        name: "rig.return.right_reading",
        kind: Kind::Reading(Converter::Return),
        later: Later::Nothing,
        help: "the right channel as measured; clears `rig.return.right_db`",
        get: |plan| reading_text(plan.rig.readings.back_right, Converter::Return),
        set: |plan, value| {
            plan.rig.readings.back_right = reading(value, Converter::Return);
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.return.in_ohms",
        kind: Kind::Number {
            min: 600.0,
            max: 100_000.0,
        },
        later: Later::Nothing,
        help: "return converter: input impedance, the load of the preamp",
        get: |plan| number(plan.rig.return_in.0),
        set: |plan, value| {
            plan.rig.return_in = Ohms(n(value));
            plan.rig.resolve();
        },
    },
    Key {
        name: "rig.converters_clip",
        kind: Kind::Flag,
        later: Later::Nothing,
        help: "send clips its samples at 0 dBFS, return clips before it is sampled; both counted",
        get: |plan| Some(Value::Flag(plan.rig.converters_clip)),
        set: |plan, value| plan.rig.converters_clip = *value == Value::Flag(true),
    },
    Key {
        name: "rig.send.noise_dbfs",
        kind: CONVERTER_NOISE,
        later: Later::Nothing,
        help: "what the send converter adds, A-weighted, against full scale: its dynamic range with a minus; \
               taken as white; in noise floors, not heard; not known unless given",
        get: |plan| plan.rig.send_noise.and_then(|level| number(level.0)),
        set: |plan, value| plan.rig.send_noise = Some(Dbfs(n(value))),
    },
    Key {
        name: "rig.return.noise_dbfs",
        kind: CONVERTER_NOISE,
        later: Later::Nothing,
        help: "the same of the return converter",
        get: |plan| plan.rig.return_noise.and_then(|level| number(level.0)),
        set: |plan, value| plan.rig.return_noise = Some(Dbfs(n(value))),
    },
    Key {
        name: "rig.preamp.kind",
        kind: Kind::Words(&["model", "own"]),
        later: Later::Nothing,
        help: "our circuit, or the user's own unit by its data sheet: then levels, headroom and noise are that \
               unit's, and what is heard is our circuit's nearest",
        get: |plan| word(preamp_kind_name(plan.rig.preamp)),
        set: |plan, value| {
            pick(value, &PREAMP_KINDS, preamp_kind_name, &mut plan.rig.preamp);
            plan.take_unit_steps();
        },
    },
    Key {
        name: "rig.preamp.in_ohms",
        kind: Kind::Number {
            min: 100.0,
            max: 100_000.0,
        },
        later: Later::Nothing,
        help: "own unit: input impedance",
        get: |plan| number(plan.rig.unit.input.0),
        set: |plan, value| plan.rig.unit.input = Ohms(n(value)),
    },
    Key {
        name: "rig.preamp.gain_steps_db",
        kind: Kind::List {
            most: 16,
            min: -20.0,
            max: 100.0,
        },
        later: Later::Nothing,
        help: "own unit: its gain steps; none is any gain from 0 to 90",
        get: |plan| numbers(plan.rig.unit.gains.list()),
        set: |plan, value| {
            plan.rig.unit.gains = Steps::from_list(&list_of(value));
            plan.take_unit_steps();
        },
    },
    Key {
        name: "rig.preamp.attenuator_db",
        kind: Kind::List {
            most: 4,
            min: 0.0,
            max: 60.0,
        },
        later: Later::Nothing,
        help: "own unit: its attenuator steps, 0 among them where it can be off; none is no attenuator",
        get: |plan| numbers(plan.rig.unit.attenuators.list()),
        set: |plan, value| {
            plan.rig.unit.attenuators = Steps::from_list(&list_of(value));
            plan.take_unit_steps();
        },
    },
    Key {
        name: "rig.preamp.max_in_dbu",
        kind: Kind::Number {
            min: -60.0,
            max: 40.0,
        },
        later: Later::Nothing,
        help: "own unit: largest input, attenuator off; a ceiling",
        get: |plan| plan.rig.unit.most_in.and_then(|level| number(level.0)),
        set: |plan, value| plan.rig.unit.most_in = Some(Dbu(n(value))),
    },
    Key {
        name: "rig.preamp.max_out_dbu",
        kind: Kind::Number {
            min: -20.0,
            max: 40.0,
        },
        later: Later::Nothing,
        help: "own unit: largest output; a ceiling",
        get: |plan| plan.rig.unit.most_out.and_then(|level| number(level.0)),
        set: |plan, value| plan.rig.unit.most_out = Some(Dbu(n(value))),
    },
    Key {
        name: "rig.preamp.ein_dbu",
        kind: Kind::Number {
            min: -140.0,
            max: -60.0,
        },
        later: Later::Nothing,
        help: "own unit: equivalent input noise from 150 ohm, 20 Hz to 20 kHz, unweighted",
        get: |plan| plan.rig.unit.ein.and_then(|level| number(level.0)),
        set: |plan, value| plan.rig.unit.ein = Some(Dbu(n(value))),
    },
    Key {
        name: "send.trim_db",
        kind: Kind::Number {
            min: -40.0,
            max: 12.0,
        },
        later: Later::Nothing,
        help: "digital gain before the send converter",
        get: |plan| number(plan.send.trim.0),
        set: |plan, value| plan.send.trim = Db(n(value)),
    },
    Key {
        name: "send.polarity",
        kind: Kind::Words(&["normal", "inverted"]),
        later: Later::Nothing,
        help: "which half-wave meets which side of the tubes; undone at the return",
        get: |plan| word(polarity_name(plan.send.polarity)),
        set: |plan, value| pick(value, &POLARITIES, polarity_name, &mut plan.send.polarity),
    },
    Key {
        name: "pad.network",
        kind: Kind::Words(&["none", "H", "T", "U", "L", "O", "pi"]),
        later: Later::Nothing,
        help: "H, U and O are balanced, T, L and pi their unbalanced forms; none is straight in",
        get: |plan| word(plan.pad.network.name()),
        set: |plan, value| pick(value, &Network::ALL, Network::name, &mut plan.pad.network),
    },
    Key {
        name: "pad.loss_db",
        kind: Kind::Number {
            min: 0.0,
            max: crate::pad::MOST_LOSS_DB,
        },
        later: Later::Nothing,
        help: "the loss wanted, counted as `pad.loss_kind` says",
        get: |plan| number(plan.pad.loss.0),
        set: |plan, value| plan.pad.loss = Db(n(value)),
    },
    Key {
        name: "pad.loss_kind",
        kind: Kind::Words(&["loaded", "unloaded", "matched-power", "open-circuit"]),
        later: Later::Nothing,
        help: "loaded: volts in over volts out with the preamp connected; unloaded: from the \
               output's unloaded level; the other two are the handbooks'",
        get: |plan| word(plan.pad.loss_kind.name()),
        set: |plan, value| pick(value, &LOSS_KINDS, LossKind::name, &mut plan.pad.loss_kind),
    },
    Key {
        name: "pad.in_ohms",
        kind: Kind::Number {
            min: 10.0,
            max: 100_000.0,
        },
        later: Later::Nothing,
        help: "what the send shall see, exactly; clears `pad.in_ohms_min`",
        get: |plan| match plan.pad.input {
            Input::Exact(ohms) => number(ohms.0),
            Input::AtLeast(_) => None,
        },
        set: |plan, value| plan.pad.input = Input::Exact(Ohms(n(value))),
    },
    Key {
        name: "pad.in_ohms_min",
        kind: Kind::Number {
            min: 10.0,
            max: 100_000.0,
        },
        later: Later::Nothing,
        help: "what the send shall see at least; clears `pad.in_ohms`",
        get: |plan| match plan.pad.input {
            Input::AtLeast(ohms) => number(ohms.0),
            Input::Exact(_) => None,
        },
        set: |plan, value| plan.pad.input = Input::AtLeast(Ohms(n(value))),
    },
    Key {
        name: "pad.out_ohms",
        kind: Kind::Number {
            min: 10.0,
            max: 2000.0,
        },
        later: Later::Nothing,
        help: "what the preamp shall see: a microphone is 150 to 200 ohm",
        get: |plan| number(plan.pad.out.0),
        set: |plan, value| plan.pad.out = Ohms(n(value)),
    },
    Key {
        name: "pad.series",
        kind: Kind::Words(&["ideal", "E12", "E24", "E96"]),
        later: Later::Nothing,
        help: "resistors one can buy; levels and sound use the pad as built",
        get: |plan| word(plan.pad.series.name()),
        set: |plan, value| pick(value, &SERIES, Series::name, &mut plan.pad.series),
    },
    Key {
        name: "pad.parts",
        kind: Kind::Words(&["nearest", "single", "pair"]),
        later: Later::Nothing,
        help: "how they are chosen: each the nearest to its ideal value; one a position, all chosen \
               together; or up to two a position",
        get: |plan| word(plan.pad.parts.name()),
        set: |plan, value| pick(value, &PARTS, Parts::name, &mut plan.pad.parts),
    },
    Key {
        name: "pad.resistors_ohms",
        kind: Kind::List {
            most: Resistors::MOST,
            min: 0.001,
            max: 1e7,
        },
        later: Later::Nothing,
        help: "an owned pad: its values from left to right as its network is drawn, of one leg where \
               balanced; overrides the request",
        get: |plan| match plan.pad.owned.list() {
            [] => None,
            list => Some(Value::Numbers(list.to_vec())),
        },
        set: |plan, value| {
            plan.pad.owned = match value {
                Value::Numbers(list) => Resistors::from_list(list),
                other => Resistors::from_list(&[n(other)]),
            }
        },
    },
    Key {
        name: "preamp.attenuator_db",
        kind: Kind::Steps(&[0.0, 20.0]),
        later: Later::Nothing,
        help: "the preamp's input attenuator; of an own unit its own steps",
        get: |plan| number(plan.preamp.attenuator.0),
        set: |plan, value| plan.preamp.attenuator = Db(n(value)),
    },
    Key {
        name: "preamp.gain_db",
        kind: Kind::Steps(&crate::circuit::GAIN_STEPS_DB),
        later: Later::Nothing,
        help: "terminals to output into 10 kohm, attenuator off, 1 kHz, small signal; of an own unit its own \
               steps",
        get: |plan| number(plan.preamp.gain.0),
        set: |plan, value| plan.preamp.gain = Db(n(value)),
    },
    Key {
        name: "preamp.noise",
        kind: Kind::Words(&["off", "on"]),
        later: Later::Nothing,
        help: "thermal and tube noise in the sound",
        get: |plan| word(noise_name(plan.preamp.noise)),
        set: |plan, value| pick(value, &[false, true], noise_name, &mut plan.preamp.noise),
    },
    Key {
        name: "return.pad_db",
        kind: Kind::Number {
            min: 0.0,
            max: 40.0,
        },
        later: Later::Nothing,
        help: "line-level pad before the return converter: a U that loads the preamp as the converter \
               would, or with 10 kohm",
        get: |plan| number(plan.back.pad.0),
        set: |plan, value| plan.back.pad = Db(n(value)),
    },
    Key {
        name: "return.trim_db",
        kind: Kind::Number {
            min: -60.0,
            max: 40.0,
        },
        later: Later::Nothing,
        help: "digital gain after the return converter",
        get: |plan| number(plan.back.trim.0),
        set: |plan, value| plan.back.trim = Db(n(value)),
    },
];

/// The key of this dotted name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Key> {
    KEYS.iter().find(|key| key.name == name)
}

/// The table of keys as Markdown, for the README.
#[must_use]
pub fn markdown() -> String {
    let defaults = Plan::default();
    let mut table = String::from("| key | takes | default | meaning |\n|---|---|---|---|\n");
    for key in KEYS {
        let later = match key.later {
            Later::Nothing => String::new(),
            Later::Key => " (not built yet)".to_owned(),
            Later::Words(words) => format!(" (not built yet: {})", words.join(", ")),
            Later::AllBut(only) => format!(" (not built yet: other than {only})"),
        };
        let default = (key.get)(&defaults).map_or_else(String::new, |value| value.to_string());
        let allowed = key.kind.allowed();
        let row = format!(
            "| `{}` | {allowed}{later} | {default} | {} |\n",
            key.name, key.help
        );
        table.push_str(&row);
    }
    table
}
