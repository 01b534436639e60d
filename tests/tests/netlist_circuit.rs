//! The deck is the circuit that sounds: ngspice finds the same operating points and the same gain.
//!
//! For many plans, since each element that depends on the plan is written once for the deck and once
//! for the equations.

use penstock_dsp::chain::build_pad;
use penstock_dsp::circuit::{
    ELEMENTS, GAIN_STEPS_DB, Kind, Preamp, SUPPLY_VOLTS, Settings, SmallSignal, Value,
};
use penstock_dsp::plan::Plan;
use penstock_tests::random::Random;
use penstock_tests::spice::{data, deck, printed, recommanded, simulate};
use penstock_tests::{TempDir, assert_near, assert_ratio, long};

/// How exact an operating point must be, as a share.
const REST_RATIO: f64 = 1e-4;
/// How exact a gain must be.
const GAIN_DB: f64 = 0.01;
/// The same in radians.
const GAIN_RADIANS: f64 = 1e-3;

/// A plan and what was changed for it.
struct Choice {
    plan: Plan,
    sets: Vec<String>,
}

/// The next plan that can be built.
fn choice(random: &mut Random) -> Choice {
    loop {
        let gain = random.one_of(&GAIN_STEPS_DB);
        let sets = vec![
            format!("rig.send.full_scale_dbu={:.2}", random.between(0.0, 30.0)),
            format!("rig.send.source_ohms={:.3}", random.spread(1.0, 2_000.0)),
            format!("rig.return.in_ohms={:.1}", random.spread(600.0, 1e5)),
            format!("send.trim_db={:.2}", random.between(-40.0, 12.0)),
            format!("send.polarity={}", random.one_of(&["normal", "inverted"])),
            format!(
                "pad.network={}",
                random.one_of(&["H", "T", "U", "L", "none"])
            ),
            format!("pad.loss_db={:.2}", random.between(10.0, 70.0)),
            format!(
                "pad.loss_kind={}",
                random.one_of(&["loaded", "unloaded", "matched-power", "open-circuit"])
            ),
            format!("pad.in_ohms_min={:.0}", random.spread(100.0, 5_000.0)),
            format!("pad.out_ohms={:.1}", random.spread(10.0, 2_000.0)),
            format!(
                "pad.series={}",
                random.one_of(&["ideal", "E12", "E24", "E96"])
            ),
            format!("preamp.attenuator_db={}", random.one_of(&[0, 20])),
            format!("preamp.gain_db={gain}"),
        ];
        let mut plan = Plan::default();
        for set in &sets {
            plan.assign(set).expect("every value is within its range");
        }
        if build_pad(&plan).is_ok() {
            return Choice { plan, sets };
        }
    }
}

/// Supply resistor of a plate.
fn plate_ohms(name: &str) -> f64 {
    let element = ELEMENTS.iter().find(|element| element.name == name);
    match element.map(|element| element.kind) {
        Some(Kind::Resistor(Value::Fixed(ohms))) => ohms,
        other => panic!("{name} is {other:?}"),
    }
}

fn assert_same(choice: &Choice, dir: &TempDir) {
    let what = choice.sets.join(" ");
    let mut args: Vec<String> = [
        "--tone-hz",
        "1000",
        "--level-dbfs",
        "-60",
        "--seconds",
        "2e-4",
    ]
    .map(str::to_owned)
    .to_vec();
    args.extend(["--data".to_owned(), "out.txt".to_owned()]);
    for set in &choice.sets {
        args.extend(["--set".to_owned(), set.clone()]);
    }
    let deck = deck(dir.path(), &args);
    let _ = simulate(dir.path(), &deck);
    let rows = data(&dir.file("out.txt"));
    assert_near(&what, rows[rows.len() - 1].0, 2e-4, 1e-9);

    let commands = "op\n\
        print v(plate_1) v(plate_2) v(plate_1,cathode_1) v(plate_2,cathode_2) v(grid_1,cathode_1) v(grid_2,cathode_2) v(cathode_1) v(cathode_2)\n\
        ac lin 1 1000 1000\n\
        let re=real(v(out_hot)-v(out_cold))\nlet im=imag(v(out_hot)-v(out_cold))\nprint re im";
    let found = printed(&simulate(dir.path(), &recommanded(&deck, commands)));
    let at = |name: &str| {
        *found
            .get(name)
            .unwrap_or_else(|| panic!("{name}: {found:?}"))
    };

    let build = build_pad(&choice.plan).expect("it was tried");
    let seen = build.as_built.two_port().thevenin(choice.plan.rig.source);
    let settings = Settings {
        source: seen.ohms,
        attenuator: choice.plan.preamp.attenuator.0 > 0.0,
        gain: choice.plan.preamp.gain,
        load: choice.plan.rig.return_in,
        noise: false,
    };
    let rest = Preamp::prepare(&settings, 384e3).operating_points();
    for (n, (rest, resistor)) in rest.iter().zip(["R8", "R12"]).enumerate() {
        let n = n + 1;
        let check = |name: String, ours: f64| {
            assert_ratio(&format!("{what}: {name}"), ours, at(&name), REST_RATIO);
        };
        check(format!("v(plate_{n},cathode_{n})"), rest.plate_volts);
        check(format!("v(grid_{n},cathode_{n})"), rest.grid_volts);
        let plate_volts = SUPPLY_VOLTS - plate_ohms(resistor) * rest.plate_amps;
        check(format!("v(plate_{n})"), plate_volts);
        check(format!("v(cathode_{n})"), plate_volts - rest.plate_volts);
    }
    let ours = seen.ratio * SmallSignal::at(&settings, 1_000.0).from_emf;
    let (gain, angle) = (at("re").hypot(at("im")), at("im").atan2(at("re")));
    let what = format!("{what}: gain from the bus's volts");
    assert_near(&what, 20.0 * (ours.norm() / gain).log10(), 0.0, GAIN_DB);
    let turn = (ours.im.atan2(ours.re) - angle).rem_euclid(std::f64::consts::TAU);
    let turn = turn.min(std::f64::consts::TAU - turn);
    assert_near(&what, turn, 0.0, GAIN_RADIANS);
}

#[test]
fn random_plans_rest_and_amplify_as_in_ngspice() {
    let mut random = Random::new(0x5_91CE);
    let dir = TempDir::new();
    for _ in 0..if long() { 50 } else { 3 } {
        assert_same(&choice(&mut random), &dir);
    }
}

#[test]
fn every_gain_step_and_the_attenuator_do_too() {
    let dir = TempDir::new();
    for gain in GAIN_STEPS_DB {
        for attenuator in [0, 20] {
            let sets = vec![
                format!("preamp.gain_db={gain}"),
                format!("preamp.attenuator_db={attenuator}"),
            ];
            let mut plan = Plan::default();
            for set in &sets {
                plan.assign(set).expect("every value is within its range");
            }
            assert_same(&Choice { plan, sets }, &dir);
        }
    }
}
