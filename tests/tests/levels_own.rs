//! An own preamplifier by its data sheet, and the noise of converters: levels, ceilings and floors.
//!
//! Sources: voltage dividers; Nyquist (1928): 4kTRB at 20 degC; equivalent input noise is output noise less
//! gain, from 150 ohm, 20 Hz to 20 kHz (IEC 60268-15 as makers use it, from memory); the A curve of IEC
//! 61672-1 by its poles; the path itself.

use penstock_dsp::chain::{Point, build_pad};
use penstock_dsp::diagram::LevelDiagram;
use penstock_dsp::pad::LossKind;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::{Dbu, Ohms};
use penstock_tests::levels::Levels;
use penstock_tests::{TempDir, Wave, assert_near, json, json_in, number, run, text};

const UNIT: [&str; 9] = [
    "rig.preamp.kind=own",
    "rig.preamp.in_ohms=2400",
    "rig.preamp.gain_steps_db=20,35,50,65",
    "rig.preamp.attenuator_db=0,15",
    "rig.preamp.max_in_dbu=-8",
    "rig.preamp.max_out_dbu=21",
    "rig.preamp.ein_dbu=-127",
    "preamp.gain_db=35",
    "pad.loss_db=38",
];

fn plan(sets: &[&str]) -> Plan {
    let mut plan = Plan::default();
    for set in sets {
        plan.assign(set).expect("a plan");
    }
    plan
}

/// The pad as the plan's own resistors make it: volts in over volts out into the unit, by the T.
fn pad_db(plan: &Plan) -> f64 {
    let pad = build_pad(plan).expect("a pad").as_built;
    let loss = pad.loss(LossKind::Loaded, plan.rig.source, Ohms(2_400.0));
    // Beside it by hand: a U has the T's arms r1 and shunt r3.
    let (r1, r3) = (pad.r1().0, pad.r3().0);
    let shunt = r3 * 2_400.0 / (r3 + 2_400.0);
    let by_hand = 20.0 * ((r1 + shunt) / shunt).log10();
    assert_near("the U by hand", loss.0, by_hand, 1e-9);
    by_hand
}

#[test]
fn levels_are_the_units_by_its_gain_and_the_pads_loss() {
    let plan = plan(&UNIT);
    let levels = Levels::at(-30.0, &UNIT);
    let pad = pad_db(&plan);
    let (line, mic) = (levels.dbu("line_out"), levels.dbu("mic_in"));
    assert_near("pad", line - mic, pad, 0.01);
    assert_near("gain", levels.dbu("preamp_out") - mic, 35.0, 1e-6);
    // Into 10 kohm, +22 dBu of full scale: what comes back is what stands there.
    assert_near(
        "return",
        levels.dbu("return"),
        levels.dbu("preamp_out"),
        1e-6,
    );
    let build = build_pad(&plan).expect("a pad");
    let into = build.as_built.in_ohms(Ohms(2_400.0)).0;
    let loading = 20.0 * (into / (into + 50.0)).log10();
    assert_near("line", line, -30.0 + 22.0 + loading, 0.01);
    let mut sets = UNIT.to_vec();
    sets.push("preamp.attenuator_db=15");
    let less = Levels::at(-30.0, &sets);
    assert_near(
        "attenuator",
        less.dbu("preamp_out") - less.dbu("mic_in"),
        20.0,
        1e-6,
    );
}

#[test]
fn it_says_that_the_circuit_is_not_simulated_and_has_no_grids() {
    let mut args = vec!["levels", "--level-dbfs", "-30"];
    for set in &UNIT {
        args.extend(["--set", set]);
    }
    let said = run(&args);
    assert_eq!(said.status, 0, "{}", said.stderr);
    for words in ["data sheet", "not simulated", "-8.00 dBu", "+21.00 dBu"] {
        assert!(said.stdout.contains(words), "no {words}: {}", said.stdout);
    }
    assert!(!said.stdout.contains("grid_1"));
    let answer = json(&args);
    assert_eq!(text(&answer, "preamp.kind"), "own");
    assert_eq!(number(&answer, "preamp.max_in_dbu"), -8.0);
    assert!(!answer["preamp"]["is_simulated"].as_bool().expect("a flag"));
    assert!(answer["points"][4]["dbu"].is_null() && answer["points"][4]["volts_rms"].is_null());
}

/// The converter clips what is heard where the unit would make it clip, whatever our circuit's nearest gain is.
#[test]
fn the_return_clips_at_the_units_level() {
    let dir = TempDir::new();
    // 71.5 dB is far above our largest gain, 64; the tone is what comes back 1 dB under and 1 dB over full scale.
    let sets = [
        "rig.preamp.kind=own",
        "rig.preamp.in_ohms=1500",
        "preamp.gain_db=71.5",
    ];
    let unity = Levels::at(-60.0, &sets).dbu("return") + 60.0 - 22.0;
    for (over, clips) in [(-1.0, false), (1.0, true)] {
        let peak = 10.0_f64.powf((over - unity) / 20.0);
        Wave::sine(48_000, 1_000.0, peak, 1.0).write(&dir.file("in.wav"));
        let mut args = vec!["render", "in.wav", "out.wav", "--force"];
        for set in &sets {
            args.extend(["--set", set]);
        }
        let answer = json_in(dir.path(), &args);
        let frames = number(&answer, "clipped_return_frames");
        assert_eq!(frames > 0.0, clips, "{over} dB over: {frames}");
    }
}

/// What is heard comes out at the unit's level, through our circuit and what makes up the rest.
#[test]
fn what_is_heard_has_the_units_level() {
    let dir = TempDir::new();
    Wave::sine(48_000, 1_000.0, 0.01, 1.0).write(&dir.file("in.wav"));
    for gain in ["preamp.gain_db=20", "preamp.gain_db=50"] {
        let mut args = vec!["render", "in.wav", "out.wav", "--force"];
        let mut sets = UNIT.to_vec();
        sets.push(gain);
        for set in &sets {
            args.extend(["--set", set]);
        }
        let heard = number(&json_in(dir.path(), &args), "peak_dbfs");
        let levels = Levels::at(-40.0, &sets);
        // The gain steps of ours are true to 0.1 dB, the input to a few ohm.
        assert_near(gain, heard, levels.dbu("return") - 22.0, 0.3);
    }
}

#[test]
fn ceilings_and_floors_are_the_data_sheets() {
    let plan_35 = plan(&UNIT);
    let diagram = LevelDiagram::of_plan(&plan_35).expect("a pad");
    let at = |diagram: &LevelDiagram, point: Point| diagram.points[point as usize].clone();
    assert_eq!(at(&diagram, Point::MicIn).own, Some(Dbu(-8.0)));
    assert_eq!(at(&diagram, Point::PreampOut).own, Some(Dbu(21.0)));
    assert_eq!(at(&diagram, Point::PreampOut).ceiling(), Some(Dbu(21.0)));
    assert!(
        at(&diagram, Point::Grid1).floor.is_none() && at(&diagram, Point::Grid1).grid.is_none()
    );
    let mut attenuated = plan_35;
    attenuated
        .assign("preamp.attenuator_db=15")
        .expect("a step");
    let with = LevelDiagram::of_plan(&attenuated).expect("a pad");
    assert_eq!(at(&with, Point::MicIn).own, Some(Dbu(7.0)));
    // From exactly 150 ohm output noise is EIN plus gain, but for the pad's rounding: 118 to 150 ohm.
    let straight = plan(&[
        "rig.preamp.kind=own",
        "rig.preamp.in_ohms=2400",
        "rig.preamp.ein_dbu=-127",
        "preamp.gain_db=50",
        "pad.network=none",
        "rig.send.source_ohms=150",
    ]);
    let floor = |diagram: &LevelDiagram, point| at(diagram, point).floor.expect("a floor");
    let quiet = LevelDiagram::of_plan(&straight).expect("no pad");
    assert_near(
        "EIN",
        floor(&quiet, Point::PreampOut).flat.0,
        -127.0 + 50.0,
        0.02,
    );
    // 4kTRB of 150 parallel to 2400 ohm over 19.98 kHz at 293.15 K.
    let volts = (4.0 * 1.380_649e-23 * 293.15 * (150.0 * 2_400.0 / 2_550.0) * 19_980.0_f64).sqrt();
    let thermal = 20.0 * (volts / 0.6_f64.sqrt()).log10();
    assert_near("thermal", floor(&quiet, Point::MicIn).flat.0, thermal, 0.02);
}

/// Power of the A curve from 20 Hz to 20 kHz over the band's width, by IEC 61672-1's four poles.
fn a_over_flat_db() -> f64 {
    let shape = |hz: f64| {
        let square = hz * hz;
        let [a, b, c, d] = [20.598_997_f64, 107.652_65, 737.862_23, 12_194.217].map(|f| f * f);
        let ratio = d * square * square / ((square + a) * (square + d));
        ratio * ratio / ((square + b) * (square + c))
    };
    let count = 199_800;
    let sum: f64 = (0..count)
        .map(|n| shape(20.0 + (f64::from(n) + 0.5) * 0.1))
        .sum();
    10.0 * (sum / f64::from(count) / shape(1_000.0)).log10()
}

/// A converter so noisy that nothing else counts: its stated level stands at the line, passes the pad and
/// the circuit as a signal does, and comes back.
#[test]
fn converter_noise_passes_the_path_as_a_signal_does() {
    let sets = ["rig.send.noise_dbfs=-60"];
    let diagram = LevelDiagram::of_plan(&plan(&sets)).expect("a pad");
    let levels = Levels::at(-60.0, &[]);
    for point in Point::ALL.into_iter().skip(1) {
        let floor = diagram.points[point as usize].floor.expect("a floor");
        // The response over the band is within 0.2 dB of that at 1 kHz (the data sheet's columns).
        assert_near(point.name(), floor.a.0, levels.dbu(point.name()), 0.15);
    }
    let line = diagram.points[Point::LineOut as usize]
        .floor
        .expect("a floor");
    assert_near(
        "A over flat",
        (line.a - line.flat).0,
        a_over_flat_db(),
        0.02,
    );
    let back = LevelDiagram::of_plan(&plan(&["rig.return.noise_dbfs=-50", "return.trim_db=-6"]));
    let back = back.expect("a pad").points[Point::Return as usize].floor;
    assert_near(
        "return",
        back.expect("a floor").a.0,
        22.0 - 50.0 - 6.0,
        0.02,
    );
    // Not known unless given: nothing has changed.
    let plain = LevelDiagram::of_plan(&Plan::default()).expect("a pad");
    assert!(
        plain.points[Point::LineOut as usize]
            .floor
            .expect("a floor")
            .flat
            .0
            < -115.0
    );
}

#[test]
fn steps_are_the_units_and_others_are_refused_by_the_nearest() {
    let mut args = vec!["levels", "--level-dbfs", "-30"];
    for set in &UNIT {
        args.extend(["--set", set]);
    }
    args.extend(["--set", "preamp.gain_db=40"]);
    penstock_tests::refused(&args, &["preamp.gain_db", "35"]);
}
