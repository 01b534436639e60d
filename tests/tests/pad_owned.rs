//! Owned pads in plan, levels and audio; the return pad; proposals; whether rounding matters.

use penstock_dsp::chain::{return_load, return_pad};
use penstock_dsp::circuit;
use penstock_dsp::pad::LossKind;
use penstock_dsp::plan::Plan;
use penstock_tests::network::decibels;
use penstock_tests::{
    Tee, TempDir, Wave, assert_near, assert_ratio, json, list, number, python, run_in, text,
};
use serde_json::{Value, json};

fn level(sets: &[&str], point: &str) -> f64 {
    let mut args = vec!["levels", "--level-dbfs", "-30"];
    for set in sets {
        args.extend(["--set", set]);
    }
    let answer = json(&args);
    let found = list(&answer, "points")
        .iter()
        .find(|p| text(p, "name") == point);
    number(found.expect("every point is there"), "dbu")
}

#[test]
fn an_owned_pad_is_what_levels_see() {
    let sets = ["pad.network=H", "pad.resistors_ohms=[300, 6.2, 75]"];
    let apart = level(&sets, "line_out") - level(&sets, "mic_in");
    // Source: the T of those resistors into the preamp's stated impedance.
    let load = circuit::in_ohms(false).0;
    let tee = Tee {
        r1_ohms: 600.0,
        r2_ohms: 150.0,
        r3_ohms: 6.2,
    };
    assert_near("loss", apart, tee.between(50.0, load).loaded_db, 0.01);
    // And the request beside it does not matter any more.
    let other = [&sets[..], &["pad.loss_db=20", "pad.series=E12"]].concat();
    assert_near(
        "the same",
        level(&other, "mic_in"),
        level(&sets, "mic_in"),
        1e-9,
    );
}

#[test]
fn an_owned_pad_is_what_is_heard() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.4, 0.2, 1).write(&dir.file("in.wav"));
    let render = |out: &str, sets: &[&str]| {
        let mut args = vec!["render", "in.wav", out];
        for set in sets {
            args.extend(["--set", set]);
        }
        let outcome = run_in(dir.path(), &args);
        assert_eq!(outcome.status, 0, "{}", outcome.stderr);
        std::fs::read(dir.file(out)).expect("it was written")
    };
    let designed = json(&["pad", "--loss-db", "36"]);
    let values: Vec<String> = list(&designed["as_built"], "values_ohms")
        .iter()
        .map(Value::to_string)
        .collect();
    let owned = format!("pad.resistors_ohms=[{}]", values.join(", "));
    let by_request = render("a.wav", &["pad.loss_db=36"]);
    let by_values = render("b.wav", &[&owned]);
    assert!(
        by_request == by_values,
        "the same resistors, the same sound"
    );
    assert!(by_request != render("c.wav", &["pad.loss_db=35"]));
}

#[test]
fn what_puts_an_owned_pad_right() {
    let base = [
        "pad",
        "--network",
        "H",
        "--resistors-ohms",
        "300,6.2,75",
        "--load-ohms",
        "1500",
    ];
    let answer = json(&[&base[..], &["--per-leg", "--loss-db", "40"]].concat());
    let built = number(&answer, "as_built.loss_loaded_db");
    let off = built - 40.0;
    let remedy = &answer["remedy"];
    assert_near("off", number(remedy, "loss_off_db"), off, 1e-9);
    assert_near("trim", number(remedy, "send_trim_db"), off, 1e-9);
    assert_near(
        "alignment",
        number(remedy, "send_full_scale_dbu"),
        22.0 + off,
        1e-9,
    );
    let gain = number(remedy, "gain_db") + number(remedy, "return_trim_db");
    assert_near("gain and trim", gain, 40.0 + off, 1e-9);
    // Of both legs together they are the same pad.
    let both = json(&[
        "pad",
        "--network",
        "H",
        "--resistors-ohms",
        "600,6.2,150",
        "--both-legs",
        "--load-ohms",
        "1500",
    ]);
    assert_eq!(both["as_built"], answer["as_built"]);
}

#[test]
fn proposals_say_why() {
    let proposed = |args: &[&str]| {
        let answer = json(&[&["pad"][..], args].concat());
        let network = text(&answer, "as_built.network").to_owned();
        assert_eq!(network, text(&answer, "proposal.network"));
        assert!(text(&answer, "proposal.why").starts_with(&network));
        network
    };
    assert_eq!(proposed(&["--loss-db", "40"]), "U");
    assert_eq!(proposed(&["--loss-db", "40", "--in-ohms", "600"]), "H");
    // A network that was named is taken, without a word.
    for args in [
        &["pad", "--network", "L"][..],
        &["pad", "--set", "pad.network=O"],
    ] {
        assert_eq!(json(args)["proposal"], Value::Null);
    }
    let levels = json(&["pad", "--from-dbu", "6", "--to-dbu", "-36"]);
    assert_near("42 dB", number(&levels, "ideal.loss_loaded_db"), 42.0, 1e-9);
}

#[test]
fn a_return_pad_lowers_what_comes_back_and_is_the_preamps_load() {
    let mut plan = Plan::default();
    plan.assign("return.pad_db=12").expect("a key");
    plan.assign("rig.return.in_ohms=20000").expect("a key");
    let (pad, load) = (return_pad(&plan), return_load(&plan));
    let legs = pad.values();
    let tee = Tee {
        r1_ohms: 2.0 * legs[0],
        r2_ohms: 0.0,
        r3_ohms: legs[1],
    };
    let does = tee.between(80.0, 20_000.0);
    // 10 kohm, for which the gain is stated, within what E96 allows.
    assert_ratio("load", load.0, 10_000.0, 0.05);
    assert_ratio("its load", load.0, does.in_ohms, 1e-12);
    assert_near("loss", does.loaded_db, 12.0, 0.1);
    assert_near(
        "its loss",
        pad.loss(
            LossKind::Loaded,
            circuit::out_ohms(plan.preamp.gain),
            plan.rig.return_in,
        )
        .0,
        does.loaded_db,
        1e-9,
    );
    let sets = ["rig.return.in_ohms=20000", "return.pad_db=12"];
    let apart = level(&sets, "preamp_out") - level(&sets, "return");
    assert_near("levels", apart, does.loaded_db, 0.001);
    let without = ["rig.return.in_ohms=20000"];
    // Half the load: what the output impedance takes more, as small signals say.
    let out = circuit::out_ohms(plan.preamp.gain).0;
    let share = |load: f64| load / (load + out);
    let want = decibels(share(load.0) / share(20_000.0));
    let lower = level(&sets, "preamp_out") - level(&without, "preamp_out");
    assert_near("loaded", lower, want, 0.01);
    let none = ["return.pad_db=0", "rig.return.in_ohms=20000"];
    assert_near(
        "none",
        level(&none, "return"),
        level(&none, "preamp_out"),
        1e-4,
    );
}

/// +20 dBu and more does not clip a +18 dBu converter behind its pad.
#[test]
fn a_return_pad_keeps_the_converter_from_clipping() {
    let dir = TempDir::new();
    let tone = |t: f64| 0.9 * (std::f64::consts::TAU * 1000.0 * t).sin();
    Wave::mono(48_000, 0.5, tone).write(&dir.file("in.wav"));
    let clipped = |pad: &str| {
        let sets = [
            "rig.return.full_scale_dbu=18",
            "preamp.gain_db=46",
            "pad.loss_db=40",
            pad,
        ];
        let mut args = vec!["render", "in.wav", "out.wav", "--force", "--json"];
        for set in sets {
            args.extend(["--set", set]);
        }
        let outcome = run_in(dir.path(), &args);
        let answer: Value = serde_json::from_str(&outcome.stdout).expect("an object");
        number(&answer, "clipped_return_frames")
    };
    assert!(clipped("return.pad_db=0") > 1000.0);
    assert_near("with 12 dB", clipped("return.pad_db=12"), 0.0, 0.0);
}

/// With 40 dB of return pad its own noise is what is left: 4kT of the resistance seen by the converter.
#[test]
fn a_return_pads_noise_is_heard() {
    let dir = TempDir::new();
    Wave::silence(48_000, 9.0).write(&dir.file("in.wav"));
    let sets = [
        "preamp.noise=on",
        "preamp.gain_db=28",
        "return.pad_db=40",
        "pad.loss_db=40",
    ];
    let mut args = vec!["render", "in.wav", "out.wav"];
    let mut plan = Plan::default();
    for set in sets {
        args.extend(["--set", set]);
        plan.assign(set).expect("a key");
    }
    let outcome = run_in(dir.path(), &args);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    let request = json!({ "files": [dir.arg("out.wav")], "settle_seconds": 1.0 });
    let heard = number(&python("noise.py", &request), "0");
    let pad = return_pad(&plan);
    let out = circuit::out_ohms(plan.preamp.gain).0;
    let does = Tee {
        r1_ohms: 2.0 * pad.values()[0],
        r2_ohms: 0.0,
        r3_ohms: pad.values()[1],
    }
    .between(out, plan.rig.return_in.0);
    let seen = 1.0 / (1.0 / does.out_ohms + 1.0 / plan.rig.return_in.0);
    // Boltzmann's constant (SI 2019), 20 degC, 20 Hz to 20 kHz.
    let own = 4.0 * 1.380_649e-23 * 293.15 * seen * 19_980.0;
    let settings = circuit::Settings {
        source: penstock_dsp::chain::build_pad(&plan)
            .expect("a pad")
            .as_built
            .out_ohms(plan.rig.source),
        attenuator: false,
        gain: plan.preamp.gain,
        load: return_load(&plan),
        noise: true,
    };
    let preamp = circuit::output_noise_volts(&settings).0 / 10f64.powf(does.loaded_db / 20.0);
    let full_scale = plan.rig.return_full_scale.volts().0;
    let want = 10.0 * ((own + preamp * preamp) / (full_scale * full_scale)).log10();
    assert_near("dBFS", heard, want, 0.1);
    // And it is not what the preamplifier alone would leave.
    let alone = 20.0 * (preamp / full_scale).log10();
    assert!(want - alone > 0.5, "{want} against {alone}");
}

#[test]
fn whether_rounding_matters_is_said_in_numbers() {
    let answer = json(&["pad", "--loss-db", "34", "--rounding-at-dbfs", "-30"]);
    let rounding = list(&answer, "rounding");
    assert_eq!(rounding.len(), 3);
    for one in rounding {
        let loss = number(one, "loss_change_db");
        // The first tube's second harmonic goes with the level: by as many dB as the loss lacks.
        let second = number(one, "h2_change_db");
        assert_near(text(one, "series"), second, -loss, 0.15 * loss.abs() + 0.01);
        // The third with the square of the level: it has no sign of its own to lose.
        assert!(number(one, "h3_change_db").is_finite());
        assert!(number(one, "pair_worst_db") > 0.0);
    }
}
