//! What a deck of the verb `netlist` does in ngspice: the signal it sends, the data it leaves.

use std::f64::consts::{PI, SQRT_2, TAU};
use std::fs;
use std::path::Path;

use penstock_tests::spice::{data, deck, simulate, tone, volts_at};
use penstock_tests::{TempDir, Wave, assert_near, json_in, run_in};

/// Peak volts of the default plan's full scale.
const FULL_SCALE_VOLTS: f64 = 0.774_596_669_241_483_4 * 12.589_254_117_941_675 * SQRT_2;
/// Coarse and quick; good to -60 dB below a few kilohertz.
const QUICK: &str = "384000";

#[test]
fn the_tone_is_the_sends_unloaded_volts() {
    let dir = TempDir::new();
    for (sets, factor) in [
        (&[][..], 1.0),
        (
            &[
                "--set",
                "send.trim_db=-6",
                "--set",
                "send.polarity=inverted",
            ],
            -(10f64.powf(-0.3)),
        ),
        (&["--set", "rig.send.full_scale_dbu=16"], 10f64.powf(-0.3)),
    ] {
        let more = [&["--steps-per-second", QUICK, "--data", "out.txt"], sets].concat();
        let deck = deck(dir.path(), &tone("700", "-20", "0.025", &more));
        let probe = deck.replace(
            "set nobreak\n",
            "let out = v(send_hot)-v(send_cold)\nset nobreak\n",
        );
        assert_ne!(probe, deck);
        let _ = simulate(dir.path(), &probe);
        for (t, volts) in data(&dir.file("out.txt")).into_iter().step_by(97) {
            let start = 0.5 - 0.5 * (PI * (t / 0.02).min(1.0)).cos();
            let want = factor * 0.1 * FULL_SCALE_VOLTS * start * (TAU * 700.0 * t).sin();
            assert_near(&format!("{sets:?} at {t}"), volts, want, 1e-6);
        }
    }
}

/// Largest difference of two readings over the larger one's peak, every 20 us up to `seconds`.
fn distance(a: &[(f64, f64)], b: &[(f64, f64)], seconds: f64) -> f64 {
    let times = (0..).map(|n| f64::from(n) * 20e-6);
    let (mut most, mut peak) = (0f64, 0f64);
    for t in times.take_while(|t| *t < seconds) {
        let (a, b) = (volts_at(a, t), volts_at(b, t));
        most = most.max((a - b).abs());
        peak = peak.max(a.abs()).max(b.abs());
    }
    most / peak
}

/// What a render says at the same frames: time and volts.
fn rendered(dir: &Path, bus: &Wave, sets: &[&str]) -> Vec<(f64, f64)> {
    bus.write(&dir.join("bus.wav"));
    let mut args = vec![
        "render",
        "bus.wav",
        "back.wav",
        "--force",
        "--oversampling",
        "8",
    ];
    for set in sets {
        args.extend(["--set", set]);
    }
    json_in(dir, &args);
    let back = Wave::read(&dir.join("back.wav")).0;
    let frames = back.samples.iter().enumerate();
    frames
        .map(|(n, s)| (n as f64 / 48e3, f64::from(*s) * FULL_SCALE_VOLTS))
        .collect()
}

/// The deck's tone of 1 kHz, -40 dBFS, as a recording.
fn bus() -> Wave {
    Wave::mono(48_000, 0.05, |t| {
        (0.5 - 0.5 * (PI * (t / 0.02).min(1.0)).cos()) * 0.01 * (TAU * 1e3 * t).sin()
    })
}

#[test]
fn data_are_in_phase_with_the_bus_whatever_the_polarity() {
    let dir = TempDir::new();
    for polarity in ["send.polarity=normal", "send.polarity=inverted"] {
        let more = [
            "--steps-per-second",
            QUICK,
            "--data",
            "out.txt",
            "--set",
            polarity,
        ];
        let deck = deck(dir.path(), &tone("1000", "-40", "0.03", &more));
        let _ = simulate(dir.path(), &deck);
        let rows = data(&dir.file("out.txt"));
        assert_near("first", rows[0].0, 0.0, 0.0);
        assert_near("last", rows[rows.len() - 1].0, 0.03, 1e-9);
        // At frames only: between them the render is not a straight line.
        let back = rendered(dir.path(), &bus(), &[polarity]);
        let peak = back.iter().fold(0f64, |peak, row| peak.max(row.1.abs()));
        for (t, volts) in back.into_iter().take_while(|row| row.0 < 0.029) {
            assert_near(
                &format!("{polarity} at {t}"),
                volts / peak,
                volts_at(&rows, t) / peak,
                1e-3,
            );
        }
    }
}

#[test]
fn a_recording_runs_as_printed() {
    let dir = TempDir::new();
    bus().write(&dir.file("in.wav"));
    let more = ["--steps-per-second", QUICK, "--data", "out.txt"];
    let args = [&["--wav", "in.wav", "--seconds", "0.03"], &more[..]].concat();
    let recorded = deck(dir.path(), &args);
    let said = simulate(dir.path(), &recorded);
    let rows = data(&dir.file("out.txt"));
    let last = rows[rows.len() - 1].0;
    assert!(
        (last - 0.03).abs() < 1e-9,
        "it ends at {last} s: {}",
        said.stderr
    );
    let _ = simulate(
        dir.path(),
        &deck(dir.path(), &tone("1000", "-40", "0.03", &more)),
    );
    // Where the recording is cut off at 0.03 s it rings, as every band-limited cut does.
    let off = distance(&rows, &data(&dir.file("out.txt")), 0.025);
    assert!(off < 1e-3, "{off}");
}

#[test]
fn names_of_files_keep_capitals_or_are_refused() {
    let dir = TempDir::new();
    bus().write(&dir.file("in.wav"));
    for name in ["Out.TXT", "two words.txt"] {
        let tone = tone("1000", "-40", "0.001", &["--data", name]);
        let wav = vec!["--wav", "in.wav", "--seconds", "0.001", "--data", name];
        for args in [tone, wav] {
            let outcome = run_in(dir.path(), &[&["netlist"], &args[..]].concat());
            if outcome.status == 2 && outcome.stderr.contains(name) {
                continue;
            }
            let _ = fs::remove_file(dir.file(name));
            let said = simulate(dir.path(), &outcome.stdout);
            assert!(
                dir.file(name).is_file(),
                "no {name} by {args:?}: {}",
                said.stderr
            );
        }
    }
}
