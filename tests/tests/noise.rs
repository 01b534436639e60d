//! Noise at the output: what small signals say against ngspice's own noise analysis of the exported
//! deck, and what is heard against both.

use penstock_dsp::chain::build_pad;
use penstock_dsp::circuit::{Settings, output_noise, output_noise_volts};
use penstock_dsp::plan::Plan;
use penstock_tests::tools::missing;
use penstock_tests::{TempDir, Wave, assert_near, number, python, run, run_in};
use serde_json::json;
use std::fs;
use std::process::Command;

/// Plans whose noise comes from different places.
const PLANS: [&[&str]; 4] = [
    &[],
    &["preamp.gain_db=64"],
    &["preamp.gain_db=28", "rig.return.in_ohms=600"],
    &[
        "preamp.attenuator_db=20",
        "preamp.gain_db=58",
        "pad.network=H",
    ],
];

fn settings(sets: &[&str]) -> Settings {
    let mut plan = Plan::default();
    for set in sets {
        plan.assign(set).expect("a plan");
    }
    let pad = build_pad(&plan).expect("a pad").as_built;
    Settings {
        source: pad.out_ohms(plan.rig.source),
        attenuator: plan.preamp.attenuator.0 > 0.0,
        gain: plan.preamp.gain,
        load: plan.rig.return_in,
        noise: true,
    }
}

/// The exported deck with another signal and another analysis: nothing else depends on the signal.
fn noise_deck(sets: &[&str]) -> String {
    let mut args = vec!["netlist", "--tone-hz", "1000", "--level-dbfs", "-20"];
    args.extend(["--seconds", "0.01"]);
    for set in sets {
        args.extend(["--set", set]);
    }
    let outcome = run(&args);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    let (circuit, _) = outcome
        .stdout
        .split_once(".tran")
        .expect("the deck asks for a transient analysis");
    let lines = circuit.lines().map(|line| {
        if line.starts_with("Bsend send_hot send_cold") {
            "Vsend send_hot send_cold dc 0 ac 1"
        } else {
            line
        }
    });
    let circuit: Vec<&str> = lines.collect();
    format!(
        "{}\n.control\nset numdgt=9\nnoise v(out_hot,out_cold) Vsend dec 1 20 20000\n\
         setplot noise1\nwrdata noise.txt onoise_spectrum\nquit\n.endc\n.end\n",
        circuit.join("\n")
    )
}

#[test]
fn ngspice_finds_the_same_noise_in_the_same_places() {
    for sets in PLANS {
        let dir = TempDir::new();
        fs::write(dir.file("deck.cir"), noise_deck(sets)).expect("the deck can be written");
        let output = Command::new("ngspice")
            .args(["-b", "deck.cir"])
            .current_dir(dir.path())
            .output()
            .unwrap_or_else(|_| panic!("{}", missing("ngspice")));
        let said = String::from_utf8_lossy(&output.stdout);
        let data = fs::read_to_string(dir.file("noise.txt"))
            .unwrap_or_else(|error| panic!("ngspice wrote nothing ({error}): {said}"));
        let settings = settings(sets);
        let mut points = 0;
        for line in data.lines() {
            let mut numbers = line.split_whitespace().map(|word| word.parse::<f64>());
            let (Some(Ok(hz)), Some(Ok(density))) = (numbers.next(), numbers.next()) else {
                panic!("no numbers: {line}");
            };
            let own = output_noise(&settings, hz).sqrt();
            let off_db = 20.0 * (own / density).log10();
            assert_near(&format!("{sets:?} at {hz} Hz, dB"), off_db, 0.0, 0.01);
            points += 1;
        }
        assert!(points >= 4, "{data}");
    }
}

/// Nine seconds of silence rendered: RMS from 20 Hz to 20 kHz (numpy) as small signals say.
#[test]
fn it_is_heard_as_loud_as_it_is() {
    for sets in PLANS {
        let dir = TempDir::new();
        Wave::silence(48_000, 9.0).write(&dir.file("in.wav"));
        let mut args = vec!["render", "in.wav", "out.wav", "--oversampling", "8"];
        for set in sets {
            args.extend(["--set", set]);
        }
        args.extend(["--set", "preamp.noise=on"]);
        let outcome = run_in(dir.path(), &args);
        assert_eq!(outcome.status, 0, "{}", outcome.stderr);
        let request = json!({ "files": [dir.arg("out.wav")], "settle_seconds": 1.0 });
        let heard = number(&python("noise.py", &request), "0");
        // Full scale is the RMS of a sine there.
        let full_scale = Plan::default().rig.return_full_scale.volts().0;
        let want = 20.0 * (output_noise_volts(&settings(sets)).0 / full_scale).log10();
        assert_near(&format!("{sets:?}, dBFS"), heard, want, 0.1);
    }
}
