//! Every parameter as hosts see it: who it is, what its texts are, what can be typed.

use std::fmt::Write;

use penstock::params::{Row, RowKind, rows};
use penstock_tests::host::{Bundle, Param, ParamFlags, Plugin, number_of};

fn described(plugin: &mut Plugin) -> Vec<(&'static Row, Param)> {
    let params = plugin.params();
    let find = |row: &'static Row| {
        let id = number_of(row.id);
        let mut found = params.iter().filter(|param| param.id == id);
        let param = found
            .next()
            .unwrap_or_else(|| panic!("no parameter {}", row.id));
        assert!(found.next().is_none(), "{} twice", row.id);
        (row, param.clone())
    };
    rows().iter().map(find).collect()
}

#[test]
fn every_row_is_a_parameter_and_every_parameter_a_row() {
    let mut plugin = Bundle::load().instance();
    assert_eq!(plugin.params().len(), rows().len());
    for (row, param) in described(&mut plugin) {
        let (id, flags) = (row.id, param.flags);
        assert_eq!(param.name, row.name);
        assert_eq!(param.module, row.group.name(), "{id}");
        let last = match &row.kind {
            RowKind::Choice { words, .. } => words.len() as f64 - 1.0,
            _ => 1.0,
        };
        assert_eq!((param.min, param.max), (0.0, last), "{id}");
        assert!(flags.contains(ParamFlags::IS_AUTOMATABLE), "{id}");
        assert!(!flags.contains(ParamFlags::IS_HIDDEN), "{id}");
        assert!(!flags.contains(ParamFlags::IS_READONLY), "{id}");
        assert_eq!(
            flags.contains(ParamFlags::IS_BYPASS),
            id == "bypass",
            "{id}"
        );
        if !matches!(row.kind, RowKind::Number { .. }) {
            assert!(flags.contains(ParamFlags::IS_STEPPED), "{id}");
        }
        assert_eq!(
            plugin.get(param.id),
            param.default,
            "{id} starts at its default"
        );
    }
}

/// The ends, the default and many places between.
fn grid(param: &Param) -> Vec<f64> {
    let places = 257;
    let mut values: Vec<f64> = (0..places)
        .map(|n| param.min + (param.max - param.min) * f64::from(n) / f64::from(places - 1))
        .collect();
    if param.flags.contains(ParamFlags::IS_STEPPED) && param.max > 1.0 {
        values = (0..=param.max as u32).map(f64::from).collect();
    }
    values.push(param.default);
    values
}

#[test]
fn texts_carry_their_unit_and_come_back_as_they_were() {
    let mut plugin = Bundle::load().instance();
    for (row, param) in described(&mut plugin) {
        for value in grid(&param) {
            let text = plugin.text_of(param.id, value);
            if let RowKind::Number {
                min,
                max,
                step,
                none,
                ..
            } = row.kind
                && none != Some(text.as_str())
            {
                // What stands for none is the lowest unit.
                let min = if none.is_some() { min + 1.0 } else { min };
                let number = text.strip_suffix(row.unit).map(str::trim);
                let number = number.and_then(|number| number.parse::<f64>().ok());
                let number = number.unwrap_or_else(|| panic!("{}: {text:?}", row.id));
                assert!((min..=max).contains(&number), "{}: {text}", row.id);
                let steps = number / step;
                assert!(
                    (steps - steps.round()).abs() < 1e-6,
                    "{}: {text} off the grid",
                    row.id
                );
            }
            let back = plugin.value_of(row.id, &text);
            let again = plugin.text_of(param.id, back);
            assert_eq!(again, text, "{} at {value}", row.id);
            // And set as a host sets it, it is what it says.
            plugin.set(param.id, back);
            assert_eq!(plugin.text(param.id), text, "{} at {value}", row.id);
        }
    }
}

#[test]
fn the_ends_of_ranges_are_the_ends_of_the_table() {
    let mut plugin = Bundle::load().instance();
    for (row, param) in described(&mut plugin) {
        if let RowKind::Number {
            min,
            max,
            default,
            none,
            ..
        } = row.kind
        {
            for (value, wanted) in [(param.min, min), (param.max, max), (param.default, default)] {
                let text = plugin.text_of(param.id, value);
                if none.is_some() && wanted == min {
                    assert_eq!(Some(text.as_str()), none, "{}", row.id);
                    continue;
                }
                let number = text.split(' ').next().map(str::parse);
                assert_eq!(number, Some(Ok(wanted)), "{}: {text}", row.id);
            }
        }
    }
}

/// What people type, and the text that it then is.
const TYPED: [(&str, &str, &str); 48] = [
    ("send.trim_db", "-6", "-6 dB"),
    ("send.trim_db", "-6dB", "-6 dB"),
    ("send.trim_db", "-6 db", "-6 dB"),
    ("send.trim_db", "  -6   DB ", "-6 dB"),
    ("send.trim_db", "-6,5", "-6.5 dB"),
    ("send.trim_db", "\u{2212}6.5 dB", "-6.5 dB"),
    ("send.trim_db", "+3", "+3 dB"),
    ("send.trim_db", "100", "+12 dB"),
    ("send.trim_db", "-1000 dB", "-40 dB"),
    ("send.trim_db", "-0", "0 dB"),
    ("send.trim_db", ".5", "+0.5 dB"),
    ("send.trim_db", "1.", "+1 dB"),
    ("pad.loss_db", "46", "46 dB"),
    ("pad.loss_db", "46.0004", "46 dB"),
    ("pad.in_ohms_min", "2000", "2000 ohm"),
    ("pad.in_ohms_min", "2k", "2000 ohm"),
    ("pad.in_ohms_min", "2K", "2000 ohm"),
    ("pad.in_ohms_min", "2 kOhm", "2000 ohm"),
    ("pad.in_ohms_min", "2,2 kohm", "2200 ohm"),
    ("pad.in_ohms_min", "2000 \u{3a9}", "2000 ohm"),
    ("pad.in_ohms_min", "0.05M", "50000 ohm"),
    ("pad.in_ohms_min", "1M", "100000 ohm"),
    ("pad.in_ohms_min", "1500 OHMS", "1500 ohm"),
    ("rig.send.full_scale_dbu", "18", "+18 dBu"),
    ("rig.send.full_scale_dbu", "+18 dBu", "+18 dBu"),
    ("rig.send.full_scale_dbu", "18 DBU", "+18 dBu"),
    ("preamp.gain_db", "64", "64 dB"),
    ("preamp.gain_db", "64dB", "64 dB"),
    ("preamp.gain_db", " 64 db ", "64 dB"),
    ("preamp.attenuator_db", "20", "20 dB"),
    ("pad.network", "h", "H"),
    ("pad.network", "NONE", "none"),
    ("pad.loss_kind", "Matched-Power", "matched-power"),
    ("pad.series", "e24", "E24"),
    ("send.polarity", " Inverted", "inverted"),
    ("oversampling", "8", "8"),
    ("bypass", "ON", "on"),
    ("bypass", "0", "off"),
    ("rig.converters_clip", "False", "off"),
    ("pad.in_exact", "yes", "on"),
    ("rig.preamp.kind", "own", "own unit"),
    ("rig.preamp.kind", "Own Unit", "own unit"),
    ("rig.preamp.kind", "MODEL", "our circuit"),
    ("rig.preamp.gain_step_16_db", "Unused", "unused"),
    ("rig.preamp.gain_step_16_db", "-20.7", "-20 dB"),
    ("rig.preamp.attenuator_step_1_db", "0", "0 dB"),
    ("rig.preamp.ein_dbu", "-127,5", "-127.5 dBu"),
    ("rig.preamp.max_out_dbu", "not stated", "not stated"),
];

#[test]
fn what_people_type_is_understood() {
    let mut plugin = Bundle::load().instance();
    for (id, typed, text) in TYPED {
        let value = plugin.value_of(id, typed);
        assert_eq!(
            plugin.text_of(number_of(id), value),
            text,
            "{id}: {typed:?}"
        );
    }
}

#[test]
fn nonsense_is_refused() {
    let mut plugin = Bundle::load().instance();
    let nonsense = [
        "",
        " ",
        "nan",
        "NaN dB",
        "inf",
        "-inf",
        "infinity",
        "1e999",
        "dB",
        "ohm",
        "abc",
        "--6",
        "6-",
        "1.2.3",
        "6 volts",
        "0x10",
        "\u{221e}",
        "6 dB dB",
        "k",
        "\u{1f39a}",
    ];
    for (row, param) in described(&mut plugin) {
        for text in nonsense {
            let taken = plugin.typed(param.id, text);
            assert_eq!(taken, None, "{} takes {text:?}", row.id);
        }
        let long = "9".repeat(5000);
        if let Some(value) = plugin.typed(param.id, &long) {
            assert!(
                (param.min..=param.max).contains(&value),
                "{}: {value}",
                row.id
            );
        }
    }
    for (id, text) in [
        ("preamp.gain_db", "41"),
        ("preamp.gain_db", "40 ohm"),
        ("pad.network", "X"),
        ("oversampling", "3"),
        ("bypass", "maybe"),
        ("send.trim_db", "2k ohm"),
        ("pad.out_ohms", "150 dB"),
    ] {
        assert_eq!(
            plugin.typed(number_of(id), text),
            None,
            "{id} takes {text:?}"
        );
    }
}

/// A project keeps automation by these numbers and values; the file is the promise.
#[test]
fn ids_ranges_and_defaults_never_change() {
    let mut plugin = Bundle::load().instance();
    let mut now = String::new();
    for (row, param) in described(&mut plugin) {
        // Of a list every place: projects keep the place, not the word.
        let range = match &row.kind {
            RowKind::Number { .. } => {
                let mut end = |value| plugin.text_of(param.id, value);
                format!("{} .. {}", end(param.min), end(param.max))
            }
            _ => {
                let places = (0..=param.max as u32).map(f64::from);
                let words: Vec<_> = places
                    .map(|place| plugin.text_of(param.id, place))
                    .collect();
                words.join(", ")
            }
        };
        let default = plugin.text_of(param.id, param.default);
        let mut flags = String::new();
        for (flag, word) in [
            (ParamFlags::IS_AUTOMATABLE, "automatable"),
            (ParamFlags::IS_STEPPED, "stepped"),
            (ParamFlags::IS_BYPASS, "bypass"),
        ] {
            if param.flags.contains(flag) {
                let _ = write!(flags, " {word}");
            }
        }
        let (id, number, module) = (row.id, param.id, &param.module);
        let _ = writeln!(
            now,
            "{id} | {number} | {module} | {range} | {default} |{flags}"
        );
    }
    let file = include_str!("../data/plugin_parameters.txt");
    let promised: Vec<&str> = file.lines().filter(|line| !line.starts_with('#')).collect();
    for line in &promised {
        assert!(
            now.lines().any(|other| other == *line),
            "promised, but gone: {line}\nnow:\n{now}"
        );
    }
    for line in now.lines() {
        assert!(
            promised.contains(&line),
            "new, to be added at the file's end: {line}\nnow:\n{now}"
        );
    }
}
