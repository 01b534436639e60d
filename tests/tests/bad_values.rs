//! Values, keys and verbs that do not exist: refused by name, with what is allowed.

use penstock_tests::{TempDir, Wave, refused, refused_in, run};

/// Key, value, and what the message must name besides the key (alternatives parted by `|`).
/// Source of the ranges: the published table of plan keys.
const OUT_OF_RANGE: [(&str, &str, &[&str]); 48] = [
    ("rig.send.full_scale_dbu", "30.1", &["30.1", "30"]),
    ("rig.send.full_scale_dbu", "-1", &["-1", "0"]),
    ("rig.send.source_ohms", "0.5", &["0.5", "1"]),
    ("rig.send.source_ohms", "2001", &["2001", "2000"]),
    ("rig.return.full_scale_dbu", "31", &["31", "30"]),
    ("rig.return.full_scale_dbu", "-0.5", &["-0.5", "0"]),
    ("rig.return.in_ohms", "599", &["599", "600"]),
    ("rig.return.in_ohms", "100001", &["100001", "100000"]),
    ("rig.converters_clip", "maybe", &["maybe", "true", "false"]),
    ("rig.preamp.kind", "other", &["other", "model"]),
    ("send.trim_db", "-41", &["-41", "-40"]),
    ("send.trim_db", "12.5", &["12.5", "12"]),
    (
        "send.polarity",
        "flipped",
        &["flipped", "normal", "inverted"],
    ),
    ("pad.network", "X", &["H", "U"]),
    ("pad.network", "", &[]),
    ("pad.loss_db", "-1", &["-1", "0"]),
    ("pad.loss_db", "80.5", &["80.5", "80"]),
    ("pad.loss_kind", "voltage", &["voltage", "loaded"]),
    ("pad.in_ohms", "0", &["0"]),
    ("pad.in_ohms", "-600", &["-600"]),
    ("pad.in_ohms_min", "-2000", &["-2000"]),
    ("pad.in_ohms_min", "inf", &[]),
    ("pad.out_ohms", "9.9", &["9.9", "10"]),
    ("pad.out_ohms", "2001", &["2001", "2000"]),
    ("pad.series", "E48", &["E48", "E24|E96"]),
    ("pad.series", "e24 ", &["E24"]),
    ("preamp.attenuator_db", "10", &["10", "20"]),
    ("preamp.attenuator_db", "-20", &["-20", "0"]),
    ("preamp.gain_db", "41", &["41", "40"]),
    ("preamp.gain_db", "48", &["48", "46"]),
    ("preamp.gain_db", "0", &["0", "28"]),
    ("preamp.gain_db", "70", &["70", "64"]),
    ("preamp.gain_db", "-40", &["-40", "28"]),
    ("preamp.noise", "loud", &["loud", "off"]),
    ("return.trim_db", "-61", &["-61", "-60"]),
    ("return.trim_db", "40.01", &["40.01", "40"]),
    ("model_version", "0", &["0", "2"]),
    // The circuit of version 1 is gone: said, not replaced in silence.
    ("model_version", "1", &["1", "2"]),
    ("send.trim_db", "nan", &[]),
    ("send.trim_db", "inf", &[]),
    ("send.trim_db", "-infinity", &[]),
    ("send.trim_db", "1e999", &[]),
    ("send.trim_db", "six", &["six"]),
    ("send.trim_db", "6dB", &["6dB"]),
    ("send.trim_db", "", &[]),
    ("rig.send.full_scale_dbu", "NaN", &[]),
    ("pad.loss_db", "forty", &["forty"]),
    ("preamp.gain_db", "nan", &[]),
];

#[test]
fn values_off_their_range_or_grid() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.2, 1).write(&dir.file("in.wav"));
    for (key, value, says) in OUT_OF_RANGE {
        let set = format!("{key}={value}");
        let names = [&[key], says].concat();
        refused(
            &["levels", "--level-dbfs", "-20", "--json", "--set", &set],
            &names,
        );
        refused(&["pad", "--set", &set], &names);
        refused_in(
            dir.path(),
            &["render", "in.wav", "out.wav", "--set", &set],
            &names,
        );
    }
    for (key, value, says) in &OUT_OF_RANGE[..14] {
        let vary = format!("{key}={value}");
        let args = ["compare", "in.wav", "--out", "out", "--vary", &vary];
        refused_in(dir.path(), &args, &[&[*key], *says].concat());
    }
}

#[test]
fn the_ends_of_each_range_are_inside() {
    for set in [
        "rig.send.full_scale_dbu=0",
        "rig.send.full_scale_dbu=30",
        "rig.send.full_scale_dbu=+22",
        "rig.send.source_ohms=1",
        "rig.send.source_ohms=2000",
        "rig.return.full_scale_dbu=0",
        "rig.return.full_scale_dbu=30",
        "rig.return.in_ohms=600",
        "rig.return.in_ohms=100000",
        "send.trim_db=-40",
        "send.trim_db=12",
        "pad.loss_db=80",
        "return.trim_db=-60",
        "return.trim_db=40",
        "preamp.gain_db=28",
        "preamp.gain_db=64",
        "preamp.attenuator_db=0",
        "preamp.attenuator_db=20",
        "send.polarity=normal",
        "rig.converters_clip=false",
        "rig.preamp.kind=model",
        "preamp.noise=off",
        "preamp.noise=on",
        "model_version=2",
    ] {
        let outcome = run(&["levels", "--level-dbfs", "-40", "--json", "--set", set]);
        assert_eq!(outcome.status, 0, "{set}: {}", outcome.stderr);
    }
}

#[test]
fn unknown_keys_name_the_nearest() {
    for (given, nearest) in [
        ("pad.los_db", "pad.loss_db"),
        ("pad.loss", "pad.loss_db"),
        ("preamp.gian_db", "preamp.gain_db"),
        ("send.trim", "send.trim_db"),
        ("return.trim_dB", "return.trim_db"),
        ("rig.send.full_scale_dbfs", "rig.send.full_scale_dbu"),
        ("rig.return.in_ohm", "rig.return.in_ohms"),
        ("pad.serie", "pad.series"),
    ] {
        let set = format!("{given}=1");
        refused(
            &["levels", "--level-dbfs", "-20", "--set", &set],
            &[given, nearest],
        );
        refused(&["pad", "--set", &set], &[given, nearest]);
    }
    refused(&["pad", "--set", "pad.loss_db"], &["pad.loss_db"]);
    refused(&["pad", "--set", "=40"], &[]);
    refused(&["pad", "--set", ""], &[]);
}

#[test]
fn unknown_verbs_and_options() {
    refused(&["rendr", "in.wav", "out.wav"], &["rendr"]);
    refused(&["pads"], &["pads"]);
    refused(&["pad", "--loss", "40"], &["--loss"]);
    refused(
        &["levels", "--level-dbfs", "-20", "--quiet-please"],
        &["--quiet-please"],
    );
}

#[test]
fn usage() {
    // What is missing is told; the shape of a help text is the program's own.
    for args in [
        &[][..],
        &["render"],
        &["render", "in.wav"],
        &["levels"],
        &["levels", "--level-dbfs"],
        &["levels", "in.wav", "--level-dbfs", "-20"],
        &["pad", "--set"],
        &["pad", "--in-ohms", "600", "--in-ohms-min", "600"],
    ] {
        let outcome = run(args);
        assert_eq!(outcome.status, 2, "{args:?}: {}", outcome.stderr);
        assert_eq!(outcome.stdout, "", "{args:?}");
        assert!(!outcome.stderr.trim().is_empty(), "{args:?} says nothing");
    }
}

#[test]
fn numbers_that_are_none() {
    for level in ["nan", "inf", "-inf", "loud", "", "1e999", "-20 dB", "0x10"] {
        refused(&["levels", "--level-dbfs", level], &["level-dbfs|level"]);
        refused(
            &["levels", "--json", &format!("--level-dbfs={level}")],
            &["level-dbfs|level"],
        );
    }
    for (option, words) in [
        ("--source-ohms", "source impedance"),
        ("--in-ohms", "input impedance"),
        ("--in-ohms-min", "input impedance"),
        ("--out-ohms", "output impedance"),
        ("--load-ohms", "load impedance"),
    ] {
        for ohms in ["0", "-50", "nan", "inf", "-inf", "some", ""] {
            let name = option.trim_start_matches('-');
            let key = name.replace('-', "_");
            let says = [&*format!("{name}|{key}|{words}"), ohms];
            refused(&["pad", option, ohms], &says);
        }
    }
    for loss in [
        "-1", "nan", "inf", "much", "", "20,", ",20", "20,,30", "20,much", "20;30",
    ] {
        refused(&["pad", "--loss-db", loss], &["loss-db|loss_db|loss"]);
    }
    refused(&["pad", "--loss-kind", "voltage"], &["voltage", "loaded"]);
    refused(&["pad", "--network", "X"], &["X"]);
    refused(&["pad", "--series", "E48"], &["E48", "E24|E96"]);
}

#[test]
fn options_of_render_and_compare() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.2, 2).write(&dir.file("in.wav"));
    for oversampling in ["0", "3", "16", "-1", "4.5", "four", ""] {
        let args = [
            "render",
            "in.wav",
            "out.wav",
            "--oversampling",
            oversampling,
        ];
        refused_in(dir.path(), &args, &["oversampling"]);
    }
    for format in ["s16", "mp3", "", "S24bit"] {
        let args = ["render", "in.wav", "out.wav", "--format", format];
        refused_in(dir.path(), &args, &["format"]);
    }
    for (vary, says) in [
        ("pad.los_db=30,40", &["pad.los_db", "pad.loss_db"][..]),
        ("preamp.gain_db=40,41", &["preamp.gain_db", "41", "40"]),
        ("preamp.gain_db=", &["preamp.gain_db"]),
        ("preamp.gain_db=40,,46", &["preamp.gain_db"]),
        ("preamp.gain_db", &["preamp.gain_db"]),
        ("", &[]),
        // Below what a U of 150 ohm out and at least 2000 ohm in can do into this preamp.
        ("pad.loss_db=5,40", &["dB"]),
    ] {
        refused_in(
            dir.path(),
            &["compare", "in.wav", "--out", "out", "--vary", vary],
            says,
        );
    }
}

#[test]
fn a_pad_that_cannot_be_built_stops_every_verb() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.2, 3).write(&dir.file("in.wav"));
    let sets = ["--set", "pad.loss_db=5"];
    for args in [
        &["pad"][..],
        &["levels", "--level-dbfs", "-20"],
        &["levels", "in.wav"],
        &["render", "in.wav", "out.wav"],
        &["compare", "in.wav", "--out", "out"],
    ] {
        let line = refused_in(dir.path(), &[args, &sets[..]].concat(), &["5", "dB"]);
        let numbers = line.split(|c: char| !c.is_ascii_digit() && c != '.');
        let mut numbers = numbers.filter_map(|n| n.trim_matches('.').parse::<f64>().ok());
        // A U with 150 ohm out cannot lose less than its input over its shunt and load: for 2000 ohm
        // in, between 2000/150 (22.5 dB) and 2000/100 (26 dB) with any bridging load.
        let named = numbers.any(|value| (22.4..26.1).contains(&value));
        assert!(named, "{args:?}: {line:?} does not name the smallest loss");
    }
}
