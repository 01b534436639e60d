//! The table of parameters, made once from the plan's keys.

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

/// What the resistors of an owned pad say of themselves.
const OWNED_HELP: &str = "a resistor of a pad you own, from left to right as the network is drawn, of one leg; \
     0 is unused, and the pad is designed unless all are there";
const OWNED_KIND: RowKind = RowKind::Number {
    min: 0.0,
    max: 100_000.0,
    step: 0.01,
    default: 0.0,
    skewed: true,
};

fn build() -> Vec<Row> {
    let mut rows: Vec<Row> = KEYS.iter().filter_map(of_key).collect();
    // The loop first, the studio after it.
    rows.sort_by_key(|row| row.group == Group::Rig);
    let extra = |id, name, group, help, kind| Row {
        id,
        name,
        group,
        unit: "",
        help,
        kind,
        key: None,
    };
    let exact = extra(
        "pad.in_exact",
        "Exact load",
        Group::Pad,
        "whether the send sees the exact impedance or the minimum",
        RowKind::Flag { default: false },
    );
    // An owned pad, value by value; a fixed number of parameters, for hosts know no lists.
    let owned = [
        ("pad.resistor_1_ohms", "Pad own 1st"),
        ("pad.resistor_2_ohms", "Pad own 2nd"),
        ("pad.resistor_3_ohms", "Pad own 3rd"),
    ]
    .map(|(id, name)| Row {
        unit: "ohm",
        ..extra(id, name, Group::Pad, OWNED_HELP, OWNED_KIND)
    });
    let place = rows.iter().position(|row| row.id == "pad.parts");
    let place = place.map_or(rows.len(), |place| place + 1);
    rows.splice(place..place, owned);
    // Before the two that it decides between.
    let place = rows.iter().position(|row| row.id.starts_with("pad.in_"));
    rows.insert(place.unwrap_or(rows.len()), exact);
    rows.push(extra(
        "oversampling",
        "Oversampling",
        Group::Plugin,
        "how finely the circuit is sampled; 1 is a draft",
        RowKind::Choice {
            words: ["1", "2", "4", "8"].map(str::to_owned).to_vec(),
            values: [1.0, 2.0, 4.0, 8.0].map(Value::Number).to_vec(),
            default: 2,
        },
    ));
    rows.push(extra(
        "bypass",
        "Bypass",
        Group::Plugin,
        "the bus as it is, equally late",
        RowKind::Flag { default: false },
    ));
    rows
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
    let now = (key.get)(&Plan::default());
    let kind = match key.kind {
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
        },
        Kind::Steps(steps) => choice(
            steps.iter().map(|step| Value::Number(*step)).collect(),
            unit,
            now.as_ref(),
        ),
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
    };
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
