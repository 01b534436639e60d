//! The level diagram's floors and ceilings: ngspice's own noise analysis at every point, the running
//! model at every point, and a direct sweep of the path.

use penstock_dsp::chain::{AnalogBlock, Chain, Observer, Point, analog_settings, build_pad};
use penstock_dsp::circuit::noise_at_points;
use penstock_dsp::diagram::{LevelDiagram, distortion_ceilings};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::{Dbu, SampleRate, Volts};
use penstock_tests::tools::{long, missing};
use penstock_tests::{TempDir, assert_near, run};
use std::f64::consts::TAU;
use std::fs;
use std::process::Command;
use std::sync::atomic::AtomicBool;

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

/// Those, and what stands before the circuit and behind it in other shapes.
const NOISY: [&[&str]; 6] = [
    PLANS[0],
    PLANS[1],
    PLANS[2],
    PLANS[3],
    &["pad.network=none", "rig.send.source_ohms=2000"],
    &["return.pad_db=20", "return.trim_db=6", "preamp.gain_db=52"],
];

/// Where ngspice listens, in the order of the analog points.
const PLACES: [&str; 6] = [
    "v(line_hot,line_cold)",
    "v(mic_hot,mic_cold)",
    "v(primary_1)",
    "v(grid_1)",
    "v(grid_2)",
    "v(out_hot,out_cold)",
];

fn plan(sets: &[&str]) -> Plan {
    let mut plan = Plan::default();
    for set in sets {
        plan.assign(set).expect("a plan");
    }
    plan
}

/// The exported deck with another signal, and a noise analysis at each place.
fn noise_deck(sets: &[&str]) -> String {
    let mut args = vec!["netlist", "--tone-hz", "1000", "--level-dbfs", "-20"];
    args.extend(["--seconds", "0.01"]);
    for set in sets {
        args.extend(["--set", set]);
    }
    let outcome = run(&args);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    let (circuit, _) = outcome.stdout.split_once(".tran").expect("a transient");
    let lines = circuit.lines().map(|line| {
        if line.starts_with("Bsend send_hot send_cold") {
            "Vsend send_hot send_cold dc 0 ac 1"
        } else {
            line
        }
    });
    let circuit: Vec<&str> = lines.collect();
    let mut deck = circuit.join("\n") + "\n.control\nset numdgt=9\n";
    for (n, place) in PLACES.iter().enumerate() {
        // Each analysis makes two plots: densities, then sums.
        let plot = 2 * n + 1;
        deck += &format!(
            "noise {place} Vsend dec 4 20 20000\nsetplot noise{plot}\n\
             wrdata noise{n}.txt onoise_spectrum\n"
        );
    }
    deck + "quit\n.endc\n.end\n"
}

#[test]
fn ngspice_finds_the_same_noise_at_every_point() {
    for sets in NOISY {
        let dir = TempDir::new();
        fs::write(dir.file("deck.cir"), noise_deck(sets)).expect("the deck can be written");
        let output = Command::new("ngspice")
            .args(["-b", "deck.cir"])
            .current_dir(dir.path())
            .output()
            .unwrap_or_else(|_| panic!("{}", missing("ngspice")));
        let said = String::from_utf8_lossy(&output.stdout);
        let plan = plan(sets);
        let build = build_pad(&plan).expect("a pad");
        let settings = analog_settings(&plan, &build);
        let pad = build.as_built.two_port();
        for (n, place) in PLACES.iter().enumerate() {
            let data = fs::read_to_string(dir.file(&format!("noise{n}.txt")))
                .unwrap_or_else(|error| panic!("ngspice wrote nothing ({error}): {said}"));
            let mut count = 0;
            for line in data.lines() {
                let mut numbers = line.split_whitespace().map(|word| word.parse::<f64>());
                let (Some(Ok(hz)), Some(Ok(density))) = (numbers.next(), numbers.next()) else {
                    panic!("no numbers: {line}");
                };
                let own = noise_at_points(&settings, &pad, plan.rig.source, hz)[n].sqrt();
                let off_db = 20.0 * (own / density).log10();
                assert_near(
                    &format!("{sets:?} {place} at {hz} Hz, dB"),
                    off_db,
                    0.0,
                    0.02,
                );
                count += 1;
            }
            assert!(count >= 12, "{data}");
        }
    }
}

/// Keeps the voltages of every point, and what comes back.
#[derive(Default)]
struct Tape {
    points: [Vec<f64>; 6],
    back: Vec<f64>,
}

impl Observer for Tape {
    fn bus(&mut self, _: usize, _: &[f64]) {}
    fn analog(&mut self, _: usize, block: &AnalogBlock<'_>) {
        block.each(|volts| {
            for (tape, volts) in self.points.iter_mut().zip(volts.in_order()) {
                tape.push(volts);
            }
        });
    }
    fn back(&mut self, _: usize, samples: &[f64]) {
        self.back.extend_from_slice(samples);
    }
}

const RATE: usize = 48_000;
const FACTOR: usize = 8;

/// The path itself under a sine of the bus: RMS volts and distortion in percent at each point.
fn sweep(plan: &Plan, tone_hz: f64, bus_peak: f64) -> [(f64, f64); 6] {
    let rate = SampleRate::STUDIO;
    let setting = Oversampling::ALL[3];
    assert_eq!(setting.factor(rate), FACTOR);
    let mut chain = Chain::prepare(plan, rate, 1, setting).expect("a pad");
    let wave = |from: usize, count: usize| -> Vec<f64> {
        let turn = TAU * tone_hz / RATE as f64;
        (from..from + count)
            .map(|n| bus_peak * (turn * n as f64).sin())
            .collect()
    };
    let mut audio = wave(0, 3 * RATE);
    chain.process(&mut [&mut audio], &mut ());
    let mut tape = Tape::default();
    let mut audio = wave(3 * RATE, RATE / 5);
    chain.process(&mut [&mut audio], &mut tape);
    tape.points.map(|volts| {
        let power = |order: f64| {
            let turn = TAU * order * tone_hz / (RATE * FACTOR) as f64;
            let (mut re, mut im) = (0.0, 0.0);
            for (n, volts) in volts.iter().enumerate() {
                re += volts * (turn * n as f64).cos();
                im += volts * (turn * n as f64).sin();
            }
            2.0 * (re * re + im * im) / (volts.len() as f64).powi(2)
        };
        let first = power(1.0);
        let rest: f64 = (2..=20).map(|order| power(f64::from(order))).sum();
        ((first + rest).sqrt(), 100.0 * (rest / first).sqrt())
    })
}

/// The bus peak that gives a level at a point, by secants on the path itself.
fn bus_of(plan: &Plan, tone_hz: f64, index: usize, level: Dbu) -> f64 {
    let mut bus = 0.01;
    for _ in 0..12 {
        let off = level - Dbu::from_volts(Volts(sweep(plan, tone_hz, bus)[index].0));
        if off.0.abs() < 0.01 {
            break;
        }
        bus *= off.ratio();
    }
    bus
}

/// Every distortion at every point and tone, in several plans: with time, all; otherwise every fifth,
/// beginning elsewhere in each plan.
#[test]
fn ceilings_are_where_a_direct_sweep_of_the_path_finds_them() {
    let every = if long() { 1 } else { 5 };
    let mut checked = 0;
    for (n, sets) in PLANS.iter().enumerate() {
        let mut sets = sets.to_vec();
        sets.push("rig.converters_clip=false");
        let plan = plan(&sets);
        let found = distortion_ceilings(&plan, &AtomicBool::new(false))
            .expect("a pad")
            .expect("nobody stops it");
        let cases = Point::ALL[Point::MicIn as usize..=Point::PreampOut as usize]
            .iter()
            .flat_map(|point| {
                found.points[*point as usize]
                    .iter()
                    .map(move |thd| (point, thd))
            });
        for (point, thd) in cases.skip(n).step_by(every) {
            let (tone_hz, percent) = (thd.tone_hz, thd.percent);
            let Some(level) = thd.level else {
                println!("{sets:?} {point:?} {tone_hz} Hz {percent} %: not reached");
                continue;
            };
            let index = *point as usize - 1;
            let bus = bus_of(&plan, tone_hz, index, level);
            let at = |off_db: f64| sweep(&plan, tone_hz, bus * 10_f64.powf(off_db / 20.0))[index].1;
            let (below, above) = (at(-0.2), at(0.2));
            println!(
                "{sets:?} {point:?} {tone_hz} Hz {percent} %: {level:?}, {below:.4} to {above:.4} %"
            );
            assert!(
                below < percent && percent < above,
                "{sets:?} {point:?} {tone_hz} Hz {percent} %: {below} to {above} % around {level:?}"
            );
            checked += 1;
        }
    }
    assert!(checked >= 20, "{checked}");
}

/// Silence with noise through the path itself: five seconds, or sixty when there is time.
#[test]
fn the_running_model_has_the_computed_floor_at_every_point() {
    let seconds = if long() { 60 } else { 5 };
    for sets in NOISY {
        let mut plan = plan(sets);
        plan.preamp.noise = true;
        let rate = SampleRate::STUDIO;
        let setting = Oversampling::ALL[1];
        let mut chain = Chain::prepare(&plan, rate, 1, setting).expect("a pad");
        let mut quiet = vec![0.0; RATE];
        chain.process(&mut [&mut quiet], &mut ());
        let mut tape = Tape::default();
        for _ in 0..seconds {
            quiet.fill(0.0);
            chain.process(&mut [&mut quiet], &mut tape);
        }
        let diagram = LevelDiagram::of_plan(&plan).expect("a pad");
        let fine = (RATE * setting.factor(rate)) as f64;
        let full_scale = plan.rig.return_full_scale.peak().0;
        let analog = tape.points.iter().map(|volts| band(volts, fine));
        // Samples of the return as volts of its full scale.
        let back = band(&tape.back, RATE as f64) * full_scale * full_scale;
        for (n, power) in analog.chain([back]).enumerate() {
            let point = Point::ALL[n + 1].name();
            let floor = diagram.points[n + 1].floor.expect("a floor").flat;
            let got = Dbu::from_volts(Volts(power.sqrt()));
            println!("{sets:?} {point}: {:.2} {:.2}", got.0, floor.0);
            assert_near(&format!("{sets:?} {point}, dB"), (got - floor).0, 0.0, 0.3);
        }
    }
}

/// Mean square from 20 Hz to 20 kHz, by Hann windows that overlap by half (Welch 1967).
fn band(samples: &[f64], rate_hz: f64) -> f64 {
    const LENGTH: usize = 1 << 15;
    let fft = realfft::RealFftPlanner::<f64>::new().plan_fft_forward(LENGTH);
    let window: Vec<f64> = (0..LENGTH)
        .map(|n| 0.5 - 0.5 * (TAU * n as f64 / LENGTH as f64).cos())
        .collect();
    let energy: f64 = window.iter().map(|w| w * w).sum();
    let mut output = fft.make_output_vec();
    let (mut sum, mut count) = (0.0, 0.0);
    for start in (0..samples.len() - LENGTH).step_by(LENGTH / 2) {
        let piece = &samples[start..start + LENGTH];
        let mut input: Vec<f64> = piece.iter().zip(&window).map(|(s, w)| s * w).collect();
        fft.process(&mut input, &mut output).expect("lengths fit");
        for (bin, value) in output.iter().enumerate() {
            let hz = bin as f64 * rate_hz / LENGTH as f64;
            if (20.0..=20_000.0).contains(&hz) {
                sum += 2.0 * value.norm_sqr() / (energy * LENGTH as f64);
            }
        }
        count += 1.0;
    }
    sum / count
}
