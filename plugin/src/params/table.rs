//! The table of parameters, made once from the plan's keys.

use super::lists;
use penstock_dsp::plan::{KEYS, Key, Kind, Later, Plan, Value};
use std::sync::OnceLock;

/// Where a parameter belongs: the sections of the insert loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// Before the send converter.
    Send,
    /// The pad.
    Pad,
    /// The preamplifier's switches.
    Preamp,
    /// After the return converter.
    Return,
    /// Facts of the studio.
    Rig,
    /// Of the plugin itself.
    Plugin,
}

/// What a parameter holds.
#[derive(Clone, Debug, PartialEq)]
pub enum RowKind {
    /// A number in the row's unit, on a grid of `step`.
    Number {
        /// Smallest.
        min: f64,
        /// Largest.
        max: f64,
        /// Distance of neighbours.
        step: f64,
        /// Where it starts.
        default: f64,
        /// Whether small values get more room.
        skewed: bool,
        /// What the range's lowest unit says in place of a number: not stated, or not used.
        none: Option<&'static str>,
    },
    /// One of a list.
    Choice {
        /// As shown, unit included.
        words: Vec<String>,
        /// As the plan has them.
        values: Vec<Value>,
        /// Where it starts.
        default: usize,
    },
    /// On or off.
    Flag {
        /// Where it starts.
        default: bool,
    },
}

/// What a parameter is to the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The value of its key.
    Key,
    /// The pad's network, by its place.
    Network,
    /// The load that the send sees: which of the two holds, exactly, and at least.
    Exact,
    /// As above.
    InOhms,
    /// As above.
    InOhmsMin,
    /// A resistor of an owned pad, by its place.
    Resistor(usize),
    /// A gain step of an own preamplifier, by its place.
    GainStep(usize),
    /// An attenuator step of it.
    AttenuatorStep(usize),
    /// The gain of an own preamplifier.
    OwnGain,
    /// Its attenuator.
    OwnAttenuator,
    /// How finely the circuit is sampled.
    Oversampling,
    /// The way around.
    Bypass,
}

/// One parameter.
#[derive(Clone, Debug)]
pub struct Row {
    /// Stable id.
    pub id: &'static str,
    /// Name for people.
    pub name: &'static str,
    /// Section.
    pub group: Group,
    /// Unit of a number; empty for choices and flags.
    pub unit: &'static str,
    /// What it means, one sentence.
    pub help: &'static str,
    /// What it holds.
    pub kind: RowKind,
    /// The plan key it writes, if it is one.
    pub key: Option<&'static Key>,
    /// What it is to the plan.
    pub role: Role,
}

impl Group {
    /// The section's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Send => "Send",
            Self::Pad => "Pad",
            Self::Preamp => "Preamp",
            Self::Return => "Return",
            Self::Rig => "Rig",
            Self::Plugin => "Plugin",
        }
    }
}

/// Every parameter, in the order shown.
#[must_use]
pub fn rows() -> &'static [Row] {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    ROWS.get_or_init(build)
}

fn build() -> Vec<Row> {
    let mut rows: Vec<Row> = KEYS.iter().filter_map(of_key).collect();
    // The loop first, the studio after it.
    rows.sort_by_key(|row| row.group == Group::Rig);
    after(&mut rows, "pad.parts", lists::resistors());
    // Before the two that it decides between.
    let exact = Row {
        role: Role::Exact,
        ..extra(
            "pad.in_exact",
            "Exact load",
            Group::Pad,
            "whether the send sees the exact impedance or the minimum",
            RowKind::Flag { default: false },
        )
    };
    let place = rows.iter().position(|row| row.id.starts_with("pad.in_"));
    rows.insert(place.unwrap_or(rows.len()), exact);
    after(&mut rows, "preamp.gain_db", lists::own_choices());
    after(&mut rows, "rig.preamp.in_ohms", lists::own_steps());
    rows.push(Row {
        role: Role::Oversampling,
        ..extra(
            "oversampling",
            "Oversampling",
            Group::Plugin,
            "how finely the circuit is sampled; 1 is a draft",
            RowKind::Choice {
                words: ["1", "2", "4", "8"].map(str::to_owned).to_vec(),
                values: [1.0, 2.0, 4.0, 8.0].map(Value::Number).to_vec(),
                default: 2,
            },
        )
    });
    rows.push(Row {
        role: Role::Bypass,
        ..extra(
            "bypass",
            "Bypass",
            Group::Plugin,
            "the bus as it is, equally late",
            RowKind::Flag { default: false },
        )
    });
    rows
}

/// A row that is no key of the plan.
pub(super) fn extra(
    id: &'static str,
    name: &'static str,
    group: Group,
    help: &'static str,
    kind: RowKind,
) -> Row {
    Row {
        id,
        name,
        group,
        unit: "",
        help,
        kind,
        key: None,
        role: Role::Key,
    }
}

/// Puts rows behind the one of this id.
fn after(rows: &mut Vec<Row>, id: &str, more: Vec<Row>) {
    let place = rows.iter().position(|row| row.id == id);
    let place = place.map_or(rows.len(), |place| place + 1);
    rows.splice(place..place, more);
}

/// Names for people; a key without one is no parameter.
fn name(key: &str) -> Option<(&'static str, Group)> {
    Some(match key {
        "rig.send.full_scale_dbu" => ("Send full scale", Group::Rig),
        "rig.send.right_db" => ("Send right over left", Group::Rig),
        "rig.send.source_ohms" => ("Send source", Group::Rig),
        "rig.return.full_scale_dbu" => ("Return full scale", Group::Rig),
        "rig.return.right_db" => ("Return right over left", Group::Rig),
        "rig.return.in_ohms" => ("Return input", Group::Rig),
        "rig.converters_clip" => ("Converters clip", Group::Rig),
        "rig.preamp.kind" => ("Preamp", Group::Rig),
        "rig.preamp.in_ohms" => ("Preamp input", Group::Rig),
        "rig.preamp.max_in_dbu" => ("Preamp largest input", Group::Rig),
        "rig.preamp.max_out_dbu" => ("Preamp largest output", Group::Rig),
        "rig.preamp.ein_dbu" => ("Preamp input noise", Group::Rig),
        "send.trim_db" => ("Send trim", Group::Send),
        "send.polarity" => ("Send polarity", Group::Send),
        "pad.network" => ("Pad network", Group::Pad),
        "pad.loss_db" => ("Pad loss", Group::Pad),
        "pad.loss_kind" => ("Pad loss kind", Group::Pad),
        "pad.in_ohms" => ("Send sees exactly", Group::Pad),
        "pad.in_ohms_min" => ("Send sees at least", Group::Pad),
        "pad.out_ohms" => ("Preamp sees", Group::Pad),
        "pad.series" => ("Pad resistors", Group::Pad),
        "pad.parts" => ("Pad parts", Group::Pad),
        "preamp.attenuator_db" => ("Preamp attenuator", Group::Preamp),
        "preamp.gain_db" => ("Preamp gain", Group::Preamp),
        "preamp.noise" => ("Preamp noise", Group::Preamp),
        "return.pad_db" => ("Return pad", Group::Return),
        "return.trim_db" => ("Return trim", Group::Return),
        _ => return None,
    })
}

/// The parameter of a key, if it is one.
fn of_key(key: &'static Key) -> Option<Row> {
    let (name, group) = name(key.name)?;
    if matches!(key.later, Later::Key | Later::AllBut(_)) {
        return None;
    }
    let unit = match key.name.rsplit('_').next() {
        Some("db") => "dB",
        Some("dbu") => "dBu",
        Some("ohms" | "min") => "ohm",
        _ => "",
    };
    let kind = kind_of(key, group, unit)?;
    let unit = if matches!(kind, RowKind::Number { .. }) {
        unit
    } else {
        ""
    };
    Some(Row {
        id: key.name,
        name,
        group,
        unit,
        help: key.help,
        kind,
        key: Some(key),
        role: match key.name {
            "pad.network" => Role::Network,
            "pad.in_ohms" => Role::InOhms,
            "pad.in_ohms_min" => Role::InOhmsMin,
            _ => Role::Key,
        },
    })
}

/// What the parameter of a key holds; `None` where that is a list.
fn kind_of(key: &Key, group: Group, unit: &str) -> Option<RowKind> {
    let now = (key.get)(&Plan::default());
    Some(match key.kind {
        // What a data sheet may leave out.
        Kind::Number { min, max } if now.is_none() && group == Group::Rig => {
            lists::optional(min, max, "not stated")
        }
        Kind::Number { min, max } => RowKind::Number {
            min,
            max,
            step: match (unit, max) {
                ("ohm", 10_000.0..) => 0.1,
                ("ohm", _) => 0.01,
                _ => 0.001,
            },
            // An exact input impedance has no default in the plan: the classic line load.
            default: now.as_ref().and_then(Value::number).unwrap_or(600.0),
            skewed: unit == "ohm",
            none: None,
        },
        Kind::Steps(steps) => choice(
            steps.iter().map(|step| Value::Number(*step)).collect(),
            unit,
            now.as_ref(),
        ),
        // As people say it; the plan's own words are read too.
        Kind::Words(words) if key.name == "rig.preamp.kind" => RowKind::Choice {
            words: ["our circuit", "own unit"].map(str::to_owned).to_vec(),
            values: words
                .iter()
                .map(|word| Value::Word((*word).to_owned()))
                .collect(),
            default: 0,
        },
        Kind::Words(words) => choice(
            words
                .iter()
                .map(|word| Value::Word((*word).to_owned()))
                .collect(),
            "",
            now.as_ref(),
        ),
        Kind::Flag => RowKind::Flag {
            default: now == Some(Value::Flag(true)),
        },
        Kind::Numbers | Kind::List { .. } | Kind::Reading(_) => return None,
    })
}

fn choice(values: Vec<Value>, unit: &str, now: Option<&Value>) -> RowKind {
    let words = values
        .iter()
        .map(|value| format!("{value} {unit}").trim().to_owned())
        .collect();
    let default = values
        .iter()
        .position(|value| Some(value) == now)
        .unwrap_or(0);
    RowKind::Choice {
        words,
        values,
        default,
    }
}
