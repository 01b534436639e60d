//! The verb `netlist` by the contract of its text: what the deck holds, what it does in ngspice, what
//! is refused. Whether its circuit is the one that sounds is asked in `netlist_circuit.rs`.

use std::collections::BTreeSet;
use std::f64::consts::{SQRT_2, TAU};
use std::fs;

use penstock_tests::spice::{deck, tone};
use penstock_tests::{TempDir, Wave, assert_near, json_in, refused_in, run_in};

/// Peak volts of the default plan's full scale.
const FULL_SCALE_VOLTS: f64 = 0.774_596_669_241_483_4 * 12.589_254_117_941_675 * SQRT_2;

/// The lines of a deck, each once.
fn lines(deck: &str) -> BTreeSet<String> {
    deck.lines().map(str::to_owned).collect()
}

/// Values of the resistors of the pad and the attenuator, by name.
fn ohms(deck: &str, name: &str) -> Option<f64> {
    let line = deck
        .lines()
        .find(|line| line.split(' ').next() == Some(name))?;
    line.split(' ').nth(3)?.parse().ok()
}

#[test]
fn a_deck_holds_what_is_promised() {
    let dir = TempDir::new();
    let steps = ["--steps-per-second", "1e6", "--data", "out.txt"];
    let deck = deck(dir.path(), &tone("440", "-18", "0.5", &steps));
    let signals: Vec<&str> = deck.lines().filter(|l| l.starts_with("Bsend")).collect();
    assert_eq!(signals.len(), 1);
    assert!(
        signals[0].starts_with("Bsend send_hot send_cold "),
        "{deck}"
    );
    let options = ".options method=trap trtol=1e7 reltol=1e-6 abstol=1e-13 vntol=1e-9 temp=20";
    for line in [options, "set numdgt=15", "quit", ".end"] {
        assert_eq!(deck.lines().filter(|l| *l == line).count(), 1, "{line}");
    }
    let tran = deck.lines().find_map(|line| line.strip_prefix(".tran "));
    let tran: Vec<&str> = tran.expect("a .tran line").split(' ').collect();
    let numbers: Vec<f64> = tran.iter().filter_map(|word| word.parse().ok()).collect();
    // Step, end, start, largest step; nothing like `uic` behind, so it starts from rest.
    assert_eq!(numbers, [1e-6, 0.5, 0.0, 1e-6], "{tran:?}");
    assert_eq!(tran.len(), 4, "{tran:?}");
    assert!(!deck.contains("filesource"));
}

#[test]
fn only_the_signals_line_depends_on_the_signal() {
    let dir = TempDir::new();
    let of = |hz, level, more: &[&str]| lines(&deck(dir.path(), &tone(hz, level, "0.1", more)));
    let first = of("1000", "-18", &["--data", "out.txt"]);
    let other = of("30", "6", &["--data", "out.txt"]);
    let changed: Vec<&String> = first.symmetric_difference(&other).collect();
    assert_eq!(changed.len(), 2, "{changed:?}");
    assert!(
        changed
            .iter()
            .all(|line| line.starts_with("Bsend send_hot send_cold "))
    );

    Wave::programme(48_000, 0.1, 0.1, 1).write(&dir.file("in.wav"));
    let args = ["--wav", "in.wav", "--seconds", "0.1", "--data", "out.txt"];
    let recorded = lines(&deck(dir.path(), &args));
    for line in first.difference(&recorded) {
        assert!(
            line.starts_with("Bsend send_hot send_cold "),
            "lost: {line}"
        );
    }
    for line in recorded.difference(&first) {
        let signal = line.starts_with("Bsend send_hot send_cold ")
            || line.contains("recording")
            || line.contains("filesource");
        // XSPICE devices make ngspice replace trtol by 1; its variable xtrtol keeps the deck's.
        assert!(signal || line.starts_with("set xtrtol="), "new: {line}");
    }
    assert!(recorded.iter().any(|line| line.contains("filesource")));
}

#[test]
fn pads_of_every_kind_stand_as_built() {
    let dir = TempDir::new();
    for (network, balanced) in [("H", true), ("U", true), ("T", false), ("L", false)] {
        let set = format!("pad.network={network}");
        let deck = deck(dir.path(), &tone("1000", "-20", "0.1", &["--set", &set]));
        let pad = json_in(dir.path(), &["pad", "--set", &set]);
        let built = &pad["as_built"];
        let want = |key: &str| built[key].as_f64().filter(|ohms| *ohms > 0.0);
        let (arm_in, arm_out) = (want("arm_in_ohms"), want("arm_out_ohms"));
        assert_eq!(ohms(&deck, "Rpad_in_hot"), arm_in, "{network}");
        assert_eq!(ohms(&deck, "Rpad_out_hot"), arm_out, "{network}");
        assert_eq!(ohms(&deck, "Rpad_in_cold"), arm_in.filter(|_| balanced));
        assert_eq!(ohms(&deck, "Rpad_out_cold"), arm_out.filter(|_| balanced));
        assert_eq!(ohms(&deck, "Rpad_shunt"), want("r3_ohms"), "{network}");
    }
    let none = deck(
        dir.path(),
        &tone("1000", "-20", "0.1", &["--set", "pad.network=none"]),
    );
    assert!(!none.lines().any(|line| line.starts_with("Rpad")), "{none}");
}

#[test]
fn the_attenuator_stands_when_it_is_in() {
    let dir = TempDir::new();
    for (set, engaged) in [
        ("preamp.attenuator_db=0", false),
        ("preamp.attenuator_db=20", true),
    ] {
        let deck = deck(dir.path(), &tone("1000", "-20", "0.1", &["--set", set]));
        for name in ["R1", "R2", "R3"] {
            assert_eq!(ohms(&deck, name).is_some(), engaged, "{set}: {name}");
        }
    }
}

#[test]
fn a_recording_is_laid_out_band_limited_and_finely() {
    let dir = TempDir::new();
    let at = |t: f64| 0.5 * (-((t - 0.025) / 0.005).powi(2)).exp() * (TAU * 15e3 * t).sin();
    Wave::mono(48_000, 0.05, at).write(&dir.file("in.wav"));
    let args = ["--wav", "in.wav", "--seconds", "0.05", "--data", "out.txt"];
    let _ = deck(
        dir.path(),
        &[&args[..], &["--set", "send.trim_db=6"]].concat(),
    );
    let text = fs::read_to_string(dir.file("out.txt.src")).expect("it is laid out there");
    let rows = text.lines().filter(|line| !line.starts_with('#'));
    let rows: Vec<Vec<f64>> = rows
        .map(|line| {
            line.split(' ')
                .filter_map(|word| word.parse().ok())
                .collect()
        })
        .collect();
    assert!(rows.len() as f64 >= 0.05 * 48e3 * 256.0, "{}", rows.len());
    let volts = FULL_SCALE_VOLTS * 10f64.powf(0.3);
    for row in rows.iter().step_by(101) {
        let [t, value] = row[..] else {
            panic!("{row:?}")
        };
        // 32-bit samples of up to 0.5, each rounded by at most 2^-26, times the volts.
        assert_near(&format!("at {t}"), value / volts, at(t), 1e-7);
    }
}

#[test]
fn a_strangers_file_is_left_alone_and_ours_is_replaced() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.1, 1).write(&dir.file("in.wav"));
    let args = ["--wav", "in.wav", "--seconds", "0.01", "--data", "out.txt"];
    let verb = [&["netlist"], &args[..]].concat();
    for stranger in [
        "a letter\n",
        "",
        "# Penstock",
        "# Penstock: volts of another kind, by time of day, long",
    ] {
        fs::write(dir.file("out.txt.src"), stranger).expect("the folder can be written");
        refused_in(dir.path(), &verb, &["out.txt.src"]);
    }
    fs::remove_file(dir.file("out.txt.src")).expect("it was there");
    let _ = deck(dir.path(), &args);
    let first = fs::read(dir.file("out.txt.src")).expect("it is laid out");
    Wave::programme(48_000, 0.1, 0.1, 2).write(&dir.file("in.wav"));
    let _ = deck(dir.path(), &args);
    assert_ne!(
        fs::read(dir.file("out.txt.src")).expect("it is laid out"),
        first
    );
    assert!(
        !dir.file("out.txt").exists(),
        "the data are ngspice's to write"
    );
}

#[test]
fn bad_usage_is_refused() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.1, 1).write(&dir.file("in.wav"));
    fs::write(dir.file("no.wav"), "no recording").expect("the folder can be written");
    let ten = ["--tone-hz", "10"];
    for (args, name) in [
        (&["--seconds", "0.01"][..], "--tone-hz"),
        (&["--seconds", "0.01", "--tone-hz", "10"], "--level-dbfs"),
        (&["--seconds", "0.01", "--level-dbfs", "-10"], "--tone-hz"),
        (&["--seconds", "0.01", "--wav", "in.wav"], "--data"),
        (
            &[
                "--seconds",
                "0.01",
                "--wav",
                "in.wav",
                "--data",
                "o",
                ten[0],
                ten[1],
                "--level-dbfs",
                "0",
            ],
            "--wav",
        ),
        (
            &["--seconds", "0.01", "--wav", "nowhere.wav", "--data", "o"],
            "nowhere.wav",
        ),
        (
            &["--seconds", "0.01", "--wav", "no.wav", "--data", "o"],
            "no.wav",
        ),
        (
            &[
                "--seconds",
                "0.01",
                "--wav",
                "in.wav",
                "--data",
                "nowhere/o",
            ],
            "nowhere",
        ),
        (&[ten[0], ten[1], "--level-dbfs", "0"], "--seconds"),
    ] {
        refused_in(dir.path(), &[&["netlist"], args].concat(), &[name]);
    }
}

#[test]
fn values_beyond_their_range_are_refused() {
    let dir = TempDir::new();
    for (option, bad) in [
        ("--seconds", &["0", "-1", "nan", "inf", "1e9", "long"][..]),
        ("--steps-per-second", &["0", "-1", "nan", "1e12"]),
        ("--tone-hz", &["0", "-100", "nan", "1e9"]),
        ("--level-dbfs", &["nan", "1e3", "-inf"]),
        (
            "--set",
            &["pad.network=W", "preamp.gain_db=41", "pad.loss_db=1"],
        ),
    ] {
        for bad in bad {
            let mut args = vec!["netlist"];
            for (name, good) in [
                ("--tone-hz", "10"),
                ("--level-dbfs", "0"),
                ("--seconds", "1"),
            ] {
                args.extend([name, if name == option { bad } else { good }]);
            }
            if matches!(option, "--steps-per-second" | "--set") {
                args.extend([option, bad]);
            }
            let names: &[&str] = if option == "--set" { &[] } else { &[option] };
            refused_in(dir.path(), &args, names);
        }
    }
}

#[test]
fn a_level_for_a_recording_is_refused() {
    // Rather than left unheard: a recording has its own level.
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.1, 1).write(&dir.file("in.wav"));
    let args = "netlist --wav in.wav --seconds 0.1 --data o --level-dbfs 0";
    let args: Vec<&str> = args.split(' ').collect();
    refused_in(dir.path(), &args, &["--level-dbfs"]);
}

#[test]
fn json_is_an_object_or_refused() {
    // A deck is no JSON; the contract of every verb is that `--json` prints nothing else.
    let dir = TempDir::new();
    let args = [&["netlist", "--json"], &tone("10", "0", "1", &[])[..]].concat();
    let outcome = run_in(dir.path(), &args);
    let object = serde_json::from_str::<serde_json::Value>(&outcome.stdout)
        .is_ok_and(|value| value.is_object());
    let refused = outcome.status == 2 && outcome.stdout.is_empty();
    assert!(
        object || refused,
        "{}: {:.80}",
        outcome.status,
        outcome.stdout
    );
}
