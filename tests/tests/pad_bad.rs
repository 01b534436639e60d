//! Requests for pads that make no sense: each one clear sentence, nothing written.

use penstock_tests::{TempDir, refused, refused_in};

#[test]
fn numbers_that_make_no_sense() {
    for (option, names) in [
        ("--source-ohms", "source impedance"),
        ("--in-ohms", "input impedance"),
        ("--in-ohms-min", "input impedance"),
        ("--out-ohms", "output impedance"),
        ("--load-ohms", "load impedance"),
    ] {
        for value in ["0", "-600"] {
            refused(&["pad", option, value], &[names, value]);
        }
        for value in ["inf", "nan", "-inf", "six hundred", ""] {
            refused(&["pad", option, value], &[option, "finite"]);
        }
    }
    for (option, value) in [
        ("--tolerance-percent", "0"),
        ("--tolerance-percent", "-1"),
        ("--tolerance-percent", "60"),
        ("--common-mode-ohms", "0"),
        ("--loss-weight-db", "0"),
        ("--in-weight", "-1"),
        ("--out-weight", "0"),
        ("--line-cable-pf", "-1"),
        ("--mic-cable-pf", "1e12"),
    ] {
        refused(&["pad", option, value], &[option, "must be"]);
    }
}

#[test]
fn absurd_ratios() {
    // No pad without gain turns one into the other, and no resistor is a nanoohm.
    for args in [
        &[
            "pad",
            "--network",
            "H",
            "--in-ohms",
            "1e9",
            "--loss-db",
            "10",
        ][..],
        &[
            "pad",
            "--network",
            "H",
            "--in-ohms",
            "1e-9",
            "--loss-db",
            "40",
        ],
        &[
            "pad",
            "--network",
            "U",
            "--in-ohms-min",
            "1e300",
            "--loss-db",
            "40",
        ],
        &[
            "pad",
            "--network",
            "O",
            "--out-ohms",
            "1e12",
            "--loss-db",
            "40",
        ],
        &[
            "pad",
            "--network",
            "L",
            "--load-ohms",
            "1e-12",
            "--loss-db",
            "1",
        ],
    ] {
        refused(args, &["cannot be built|must be from"]);
    }
}

#[test]
fn the_nearest_that_works_is_named_and_works() {
    let base = [
        "pad",
        "--network",
        "H",
        "--source-ohms",
        "50",
        "--load-ohms",
        "1500",
        "--loss-db",
    ];
    let line = refused(
        &[&base[..], &["5", "--in-ohms", "600"]].concat(),
        &["smallest loss", "at most"],
    );
    let number_after = |mark: &str| {
        let rest = line.split(mark).nth(1).expect("it is named");
        let word = rest.split_whitespace().next().expect("a number");
        word.trim_end_matches(',').to_owned()
    };
    let loss = number_after("serves is ");
    let ohms = number_after("at most ");
    for args in [
        [&base[..], &[loss.as_str(), "--in-ohms", "600"]].concat(),
        [&base[..], &["5", "--in-ohms", ohms.as_str()]].concat(),
    ] {
        penstock_tests::json(&args);
    }
}

#[test]
fn the_impedances_for_a_loss_are_named_and_work() {
    // An output impedance alone; both together, where neither alone helps; no loss at all.
    for (network, input, in_ohms, out_ohms, load_ohms, loss_db, both) in [
        ("H", "--in-ohms", "600", "150", "1500", "5", false),
        ("U", "--in-ohms-min", "2000", "2000", "1590", "3", false),
        ("H", "--in-ohms-min", "2000", "2000", "10", "1", true),
        ("pi", "--in-ohms", "20000", "5000", "100", "6", true),
        ("U", "--in-ohms-min", "2000", "150", "1590", "0", true),
    ] {
        let ask = |in_ohms: &str, out_ohms: &str| {
            [
                "pad",
                "--source-ohms",
                "50",
                "--network",
                network,
                input,
                in_ohms,
                "--out-ohms",
                out_ohms,
                "--load-ohms",
                load_ohms,
                "--loss-db",
                loss_db,
            ]
            .map(str::to_owned)
        };
        let args = ask(in_ohms, out_ohms);
        let line = refused(&args, &["smallest loss", "output impedance of"]);
        let number_after = |mark: &str| {
            let rest = line.split(mark).nth(1)?;
            rest.split_whitespace().next().map(str::to_owned)
        };
        let output = number_after("an output impedance of ").expect("it is named");
        let input = match both {
            true => number_after("an input impedance of ").expect("it is named"),
            false => in_ohms.to_owned(),
        };
        penstock_tests::json(&ask(&input, &output));
    }
    // What no plan can ask for is not offered as the nearest.
    refused(
        &[
            "pad",
            "--network",
            "H",
            "--in-ohms",
            "1e9",
            "--loss-db",
            "10",
        ],
        &[
            "an H pad",
            "no loss up to 80 dB",
            "input impedance of at most",
        ],
    );
}

#[test]
fn drawers() {
    let base = ["pad", "--loss-db", "40", "--drawer"];
    refused(&[&base[..], &[""]].concat(), &["drawer is empty"]);
    refused(&[&base[..], &["100,0"]].concat(), &["drawer", "0"]);
    refused(&[&base[..], &["100,-5"]].concat(), &["drawer", "-5"]);
    refused(&[&base[..], &["100,1e99"]].concat(), &["drawer", "1e9"]);
    refused(&[&base[..], &["100,lots"]].concat(), &["lots", "ohms"]);
    let many: Vec<String> = (1..=200).map(|n| n.to_string()).collect();
    refused(
        &[&base[..], &[many.join(",").as_str()]].concat(),
        &["200", "128"],
    );
    refused(
        &["pad", "--series", "E24", "--drawer", "100"],
        &["--series", "--drawer"],
    );
}

#[test]
fn owned_pads() {
    let base = ["pad", "--network", "H", "--resistors-ohms"];
    // It asks which legs are meant before it guesses.
    refused(
        &[&base[..], &["300,6.2,75"]].concat(),
        &["--per-leg", "--both-legs"],
    );
    for (values, names) in [
        ("300,6.2", &["2", "takes 3"][..]),
        ("300,6.2,75,10", &["4", "takes 3"]),
        ("300,0,75", &["0", "positive"]),
        ("300,-6.2,75", &["-6.2", "positive"]),
        ("300,six,75", &["six"]),
        ("", &["resistor"]),
    ] {
        refused(&[&base[..], &[values, "--per-leg"]].concat(), names);
    }
    refused(&["pad", "--resistors-ohms", "300,6.2"], &["--network"]);
    // In a plan too, where the network may come later.
    refused(
        &[
            "levels",
            "--level-dbfs",
            "-20",
            "--set",
            "pad.resistors_ohms=300,6.2,75",
        ],
        &["3", "U pad takes 2"],
    );
    refused(
        &["pad", "--set", "pad.resistors_ohms=[300, 0, 75]"],
        &["pad.resistors_ohms", "0.001"],
    );
}

#[test]
fn levels_and_sheets() {
    refused(
        &["pad", "--from-dbu", "-36", "--to-dbu", "6"],
        &["42", "gain"],
    );
    refused(&["pad", "--from-dbu", "6"], &["--to-dbu"]);
    refused(
        &["pad", "--from-dbu", "6", "--to-dbu", "-200"],
        &["206", "80"],
    );
    let dir = TempDir::new();
    std::fs::write(dir.file("there.html"), "mine").expect("the folder can be written");
    refused_in(
        dir.path(),
        &["pad", "--sheet", "there.html"],
        &["there.html", "exists"],
    );
    refused_in(
        dir.path(),
        &["pad", "--loss-db", "30,40", "--sheet", "new.html"],
        &["one pad"],
    );
    refused_in(
        dir.path(),
        &["pad", "--network", "none", "--sheet", "new.html"],
        &["no pad"],
    );
    refused_in(
        dir.path(),
        &["pad", "--sheet", "missing/new.html"],
        &["missing/new.html", "written"],
    );
}
