//! Lists as hosts can keep them: a fixed number of parameters each, with a value that means "unused". And what
//! is chosen on an own preamplifier, whose steps no list of ours has.

use super::table::{Group, Role, Row, RowKind, extra};

/// What the resistors of an owned pad say of themselves.
const RESISTOR_HELP: &str = "a resistor of a pad you own, from left to right as the network is drawn, of one leg; \
     0 is unused, and the pad is designed unless all are there";
const RESISTOR: RowKind = RowKind::Number {
    min: 0.0,
    max: 100_000.0,
    step: 0.01,
    default: 0.0,
    skewed: true,
    none: None,
};
const GAIN_HELP: &str = "own unit: one of its gain steps; none is any gain from 0 to 90";
const ATTENUATOR_HELP: &str = "own unit: one of its attenuator steps, 0 among them where it can be off; none is no attenuator";

/// An owned pad, value by value.
pub(super) fn resistors() -> Vec<Row> {
    let ids = [
        ("pad.resistor_1_ohms", "Pad own 1st"),
        ("pad.resistor_2_ohms", "Pad own 2nd"),
        ("pad.resistor_3_ohms", "Pad own 3rd"),
    ];
    let row = |(place, (id, name))| Row {
        unit: "ohm",
        role: Role::Resistor(place),
        ..extra(id, name, Group::Pad, RESISTOR_HELP, RESISTOR)
    };
    ids.into_iter().enumerate().map(row).collect()
}

/// A number that may be left out: one unit more at the lower end stands for that, which is the default.
pub(super) fn optional(min: f64, max: f64, none: &'static str) -> RowKind {
    RowKind::Number {
        min: min - 1.0,
        max,
        step: 0.001,
        default: min - 1.0,
        skewed: false,
        none: Some(none),
    }
}

/// The steps of an own preamplifier.
pub(super) fn own_steps() -> Vec<Row> {
    let gain = |(place, (id, name))| Row {
        unit: "dB",
        role: Role::GainStep(place),
        ..extra(
            id,
            name,
            Group::Rig,
            GAIN_HELP,
            optional(-20.0, 100.0, "unused"),
        )
    };
    let attenuator = |(place, (id, name))| Row {
        unit: "dB",
        role: Role::AttenuatorStep(place),
        ..extra(
            id,
            name,
            Group::Rig,
            ATTENUATOR_HELP,
            optional(0.0, 60.0, "unused"),
        )
    };
    let gains = GAIN_STEPS.into_iter().enumerate().map(gain);
    let attenuators = ATTENUATOR_STEPS.into_iter().enumerate().map(attenuator);
    gains.chain(attenuators).collect()
}

/// What is chosen on it.
pub(super) fn own_choices() -> Vec<Row> {
    let number = |min, max, default| RowKind::Number {
        min,
        max,
        step: 0.001,
        default,
        skewed: false,
        none: None,
    };
    let row = |id, name, role, help, kind| Row {
        unit: "dB",
        role,
        ..extra(id, name, Group::Preamp, help, kind)
    };
    vec![
        row(
            "preamp.own_attenuator_db",
            "Preamp own attenuator",
            Role::OwnAttenuator,
            "the attenuator of an own unit: the nearest of its steps holds",
            number(0.0, 60.0, 0.0),
        ),
        row(
            "preamp.own_gain_db",
            "Preamp own gain",
            Role::OwnGain,
            "the gain of an own unit: the nearest of its steps holds",
            number(-20.0, 100.0, 40.0),
        ),
    ]
}

const GAIN_STEPS: [(&str, &str); 16] = [
    ("rig.preamp.gain_step_1_db", "Preamp gain step 1"),
    ("rig.preamp.gain_step_2_db", "Preamp gain step 2"),
    ("rig.preamp.gain_step_3_db", "Preamp gain step 3"),
    ("rig.preamp.gain_step_4_db", "Preamp gain step 4"),
    ("rig.preamp.gain_step_5_db", "Preamp gain step 5"),
    ("rig.preamp.gain_step_6_db", "Preamp gain step 6"),
    ("rig.preamp.gain_step_7_db", "Preamp gain step 7"),
    ("rig.preamp.gain_step_8_db", "Preamp gain step 8"),
    ("rig.preamp.gain_step_9_db", "Preamp gain step 9"),
    ("rig.preamp.gain_step_10_db", "Preamp gain step 10"),
    ("rig.preamp.gain_step_11_db", "Preamp gain step 11"),
    ("rig.preamp.gain_step_12_db", "Preamp gain step 12"),
    ("rig.preamp.gain_step_13_db", "Preamp gain step 13"),
    ("rig.preamp.gain_step_14_db", "Preamp gain step 14"),
    ("rig.preamp.gain_step_15_db", "Preamp gain step 15"),
    ("rig.preamp.gain_step_16_db", "Preamp gain step 16"),
];

const ATTENUATOR_STEPS: [(&str, &str); 4] = [
    (
        "rig.preamp.attenuator_step_1_db",
        "Preamp attenuator step 1",
    ),
    (
        "rig.preamp.attenuator_step_2_db",
        "Preamp attenuator step 2",
    ),
    (
        "rig.preamp.attenuator_step_3_db",
        "Preamp attenuator step 3",
    ),
    (
        "rig.preamp.attenuator_step_4_db",
        "Preamp attenuator step 4",
    ),
];
