//! What is heard in a host is what `penstock render` writes: one chain, whatever runs it.
//!
//! The plan to render is read back from the plugin's texts, as a user would read it off.

use std::path::Path;

use penstock::params::{Row, RowKind, rows};
use penstock_tests::host::{
    Audio, Bundle, Change, Plugin, Running, Setting, arguments, blocks_of, number_of,
    random_blocks, random_plan, random_value,
};
use penstock_tests::random::Random;
use penstock_tests::run::run_in;
use penstock_tests::{TempDir, Wave, bundle, python};
use serde_json::{Map, Value, json};

/// Of full scale.
const EQUAL: f64 = 1e-6;
/// +6 dBFS: where the plugin, last of all, bounds what it puts out; `render` does not.
const BOUND: f32 = 1.995_262_3;
const PLANS: u64 = 20;
/// Block sizes of the hosts in Python.
const BLOCKS: [usize; 4] = [512, 64, 1000, 4096];

/// A rate for a plan: most projects run at 48 kHz, but none is left out.
fn rate_of(plan: u64) -> u32 {
    [
        48_000, 44_100, 96_000, 48_000, 88_200, 48_000, 192_000, 44_100,
    ][(plan % 8) as usize]
}

/// Programme after 0.1 s of silence.
fn programme(plan: u64) -> Wave {
    let rate = rate_of(plan);
    let mut wave = Wave::music(rate, 0.95, 0.6, plan);
    let silence = Wave::silence(rate, 0.1);
    wave.samples.splice(0..0, silence.samples.repeat(2));
    wave
}

/// What `penstock render` makes of `wave` with the plan that these texts mean, bounded as the
/// plugin bounds.
fn rendered(dir: &Path, wave: &Wave, texts: &[Setting]) -> Wave {
    wave.write(&dir.join("in.wav"));
    let mut args = vec![
        "render".to_owned(),
        "in.wav".to_owned(),
        "out.wav".to_owned(),
    ];
    args.push("--force".to_owned());
    args.extend(arguments(texts));
    let outcome = run_in(dir, &args);
    assert_eq!(outcome.status, 0, "{args:?}: {}", outcome.stderr);
    let (mut wave, ..) = Wave::read(&dir.join("out.wav"));
    for sample in &mut wave.samples {
        *sample = sample.clamp(-BOUND, BOUND);
    }
    wave
}

/// Asserts that `got`, which is `latency` late, is `want`; frames that `got` does not reach are not
/// compared.
#[track_caller]
fn assert_equal(what: &str, got: &Audio, latency: usize, want: &Audio) -> f64 {
    let mut most = 0.0f64;
    for (channel, (got, want)) in got.iter().zip(want).enumerate() {
        let pairs = got[latency..].iter().zip(want);
        for (frame, (got, want)) in pairs.enumerate() {
            let off = (f64::from(*got) - f64::from(*want)).abs();
            assert!(
                off <= EQUAL,
                "{what}: channel {channel}, frame {frame}: {got}, render writes {want}"
            );
            most = most.max(off);
        }
    }
    assert_eq!(got.len(), want.len());
    most
}

/// An instance with a random plan.
fn planned(random: &mut Random) -> (Plugin, Vec<Setting>) {
    let mut plugin = Bundle::load().instance();
    plugin.set_texts(&random_plan(random));
    let texts = plugin.texts();
    (plugin, texts)
}

/// Not all plans may be silent, or equality would say nothing.
fn assert_heard(peaks: &[f64]) {
    let heard = peaks.iter().filter(|peak| **peak > 1e-3).count();
    assert!(2 * heard > peaks.len(), "most plans are silent: {peaks:?}");
}

#[test]
fn clap_is_render_from_the_start() {
    let mut random = Random::new(1);
    let dir = TempDir::new();
    let (mut peaks, mut most) = (Vec::new(), 0.0f64);
    for plan in 0..PLANS {
        let (mut plugin, texts) = planned(&mut random);
        let wave = programme(plan);
        let mut running = plugin.activate(f64::from(wave.rate_hz), 1024, 2);
        let got = running.run(&wave.planar(), random_blocks(plan, 1, 1024), &[]);
        let latency = plugin.latency();
        plugin.deactivate(running);
        let want = rendered(dir.path(), &wave, &texts);
        let off = assert_equal(
            &format!("plan {plan} {texts:?}"),
            &got,
            latency,
            &want.planar(),
        );
        most = most.max(off);
        peaks.push(want.peak());
    }
    assert_heard(&peaks);
    println!("largest difference {most:.1e} of full scale");
}

/// Runs silence until what comes back is below -140 dBFS for a second: with a return of 100 kohm the
/// output capacitor has a time constant of eight seconds.
fn settle(running: &mut Running, rate: u32, channels: usize) {
    let second = vec![vec![0.0; rate as usize]; channels];
    for _ in 0..200 {
        let got = running.run(&second, blocks_of(1024), &[]);
        if got.iter().flatten().all(|sample| sample.abs() < 1e-7) {
            return;
        }
    }
    panic!("still sounding after 200 s");
}

/// Changes of everything, then back to the plan.
fn storm(plugin: &mut Plugin, random: &mut Random, frames: usize) -> Vec<Change> {
    let mut changes = Vec::new();
    for part in 0..12 {
        let frame = part * frames / 16;
        for row in rows() {
            let value = random_value(row, random);
            changes.push(Change {
                frame,
                id: number_of(row.id),
                value,
            });
        }
    }
    for row in rows() {
        let id = number_of(row.id);
        let value = plugin.get(id);
        changes.push(Change {
            frame: 13 * frames / 16,
            id,
            value,
        });
    }
    changes
}

#[test]
fn clap_is_render_after_automation_and_rest() {
    let mut random = Random::new(2);
    let dir = TempDir::new();
    let mut peaks = Vec::new();
    for plan in 0..PLANS {
        let (mut plugin, texts) = planned(&mut random);
        let rate = [48_000, 44_100][(plan % 2) as usize];
        // In mono, which the other way leaves out.
        plugin.choose_channels(1);
        let wave = Wave::music(rate, 0.95, 0.6, 100 + plan).channel(0);
        let before = wave.planar();
        let changes = storm(&mut plugin, &mut random, before[0].len());
        let mut running = plugin.activate(f64::from(rate), 1024, 1);
        let _ = running.run(&before, random_blocks(plan, 1, 1024), &changes);
        assert_eq!(plugin.texts(), texts, "the plan is back");
        settle(&mut running, rate, 1);
        let got = running.run(&wave.planar(), blocks_of(512), &[]);
        let latency = plugin.latency();
        plugin.deactivate(running);
        let want = rendered(dir.path(), &wave, &texts);
        assert_equal(
            &format!("plan {plan} {texts:?}"),
            &got,
            latency,
            &want.planar(),
        );
        peaks.push(want.peak());
    }
    assert_heard(&peaks);
}

/// Ten seconds, some twelve of the circuit's longest time constants, are enough for plans whose
/// return is not lifted by tens of decibels.
#[test]
fn clap_is_render_after_ten_seconds_of_silence() {
    let dir = TempDir::new();
    for (plan, texts) in [
        &[][..],
        &[("preamp.gain_db", "52 dB"), ("pad.loss_db", "46")],
    ]
    .iter()
    .enumerate()
    {
        let mut plugin = Bundle::load().instance();
        plugin.set_texts(
            &texts
                .iter()
                .map(|(id, text)| (*id, (*text).to_owned()))
                .collect::<Vec<_>>(),
        );
        let texts = plugin.texts();
        let wave = Wave::music(48_000, 0.95, 1.0, 200);
        let mut random = Random::new(3 + plan as u64);
        let changes = storm(&mut plugin, &mut random, wave.frames());
        let mut running = plugin.activate(48_000.0, 512, 2);
        let _ = running.run(&wave.planar(), blocks_of(512), &changes);
        let _ = running.run(&vec![vec![0.0; 480_000]; 2], blocks_of(512), &[]);
        let got = running.run(&wave.planar(), blocks_of(512), &[]);
        let latency = plugin.latency();
        plugin.deactivate(running);
        let want = rendered(dir.path(), &wave, &texts);
        assert_equal(&format!("{texts:?}"), &got, latency, &want.planar());
    }
}

/// A pad that cannot be built never mutes the plugin: the nearest that can is heard, which is the
/// plan with the smallest loss that `pad` names when it refuses.
#[test]
fn an_impossible_pad_is_the_nearest_possible() {
    let dir = TempDir::new();
    let wave = Wave::music(48_000, 0.5, 0.4, 300);
    let mut plugin = Bundle::load().instance();
    let set = |text: &str| {
        [
            ("pad.loss_db", text.to_owned()),
            ("pad.series", "ideal".to_owned()),
        ]
    };
    plugin.set_texts(&set("3 dB"));
    let mut running = plugin.activate(48_000.0, 512, 2);
    let got = running.run(&wave.planar(), blocks_of(512), &[]);
    let latency = plugin.latency();
    plugin.deactivate(running);
    let said = run_in(
        dir.path(),
        &["levels", "--level-dbfs", "-20", "--set", "pad.loss_db=3"],
    );
    assert_eq!(said.status, 2, "3 dB should not be possible");
    let least = smallest_loss(&said.stderr);
    // The message rounds; the next thousandth above is possible and as near as can be told.
    let mut texts = plugin.texts();
    let loss = texts
        .iter_mut()
        .find(|(id, _)| *id == "pad.loss_db")
        .expect("a row");
    loss.1 = format!("{:.3} dB", least + 0.001);
    let want = rendered(dir.path(), &wave, &texts).planar();
    let level = |audio: &[f32]| audio.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
    let frames = got[0].len() - latency;
    let off = 10.0 * (level(&got[0]) / level(&want[0][..frames])).log10();
    assert!(
        off.abs() < 0.02,
        "{off} dB off the nearest pad of {least} dB"
    );
}

/// The number after which a refusal says "dB", the last there is.
fn smallest_loss(message: &str) -> f64 {
    let words: Vec<&str> = message.split_whitespace().collect();
    let numbers = words.windows(2).filter(|pair| pair[1].starts_with("dB"));
    let mut numbers = numbers.filter_map(|pair| pair[0].parse().ok());
    numbers
        .next_back()
        .unwrap_or_else(|| panic!("no loss named: {message}"))
}

/// Values in CLAP's unit, in the order of the table, as VST3 has them: from 0 to 1, by name.
fn normalised(values: &[f64]) -> Map<String, Value> {
    let value = |(row, value): (&Row, &f64)| {
        let last = match &row.kind {
            RowKind::Choice { words, .. } => words.len() - 1,
            _ => 1,
        };
        (row.name.to_owned(), json!(value / last as f64))
    };
    rows().iter().zip(values).map(value).collect()
}

/// Texts by name as a host in Python tells them, in the order of the table.
fn texts_of(job: &Value) -> Vec<Setting> {
    let text = |name: &str| job["texts"][name].as_str().expect("a text").to_owned();
    rows().iter().map(|row| (row.id, text(row.name))).collect()
}

/// What to do with one plan: its values, its programme, values to pass on the way.
struct Case {
    plan: Map<String, Value>,
    away: Vec<Map<String, Value>>,
    wave: Wave,
    texts: Vec<Setting>,
}

fn number_in(text: &str) -> f64 {
    let number = text.split(' ').next().unwrap_or_default();
    number
        .parse()
        .unwrap_or_else(|_| panic!("no number: {text}"))
}

fn cases(seed: u64, count: u64) -> Vec<Case> {
    let mut random = Random::new(seed);
    let mut cases = Vec::new();
    for number in 0..count {
        let (mut plugin, texts) = loop {
            let (plugin, texts) = planned(&mut random);
            let load = texts
                .iter()
                .find(|(id, _)| *id == "rig.return.in_ohms")
                .expect("a row");
            // A lighter load lets the circuit ring out for minutes; the CLAP is tested with those.
            if number_in(&load.1) < 15_000.0 {
                break (plugin, texts);
            }
        };
        let plan: Vec<f64> = rows()
            .iter()
            .map(|row| plugin.get(number_of(row.id)))
            .collect();
        let mut values = || -> Vec<f64> {
            let value = |row| random_value(row, &mut random);
            rows().iter().map(value).collect()
        };
        let away = (0..3).map(|_| normalised(&values())).collect();
        let mut wave = programme(number);
        if number % 3 == 2 {
            wave = wave.channel(0);
        }
        let plan = normalised(&plan);
        cases.push(Case {
            plan,
            away,
            wave,
            texts,
        });
    }
    cases
}

#[test]
fn vst3_in_pedalboard_is_render() {
    let dir = TempDir::new();
    let cases = cases(4, PLANS);
    let mut jobs = Vec::new();
    for (number, case) in cases.iter().enumerate() {
        let (input, output) = (
            dir.arg(&format!("{number}.wav")),
            dir.arg(&format!("{number}-out.wav")),
        );
        case.wave.write(Path::new(&input));
        let mut phases = Vec::new();
        if number % 2 == 1 {
            // The other way: all kinds of values, back to the plan, silence until it rests.
            let rest = dir.arg(&format!("{number}-rest.wav"));
            let channels = usize::from(case.wave.channels);
            let mut silence = Wave::silence(case.wave.rate_hz, 28.0);
            silence.samples = silence.samples.repeat(channels);
            silence.channels = case.wave.channels;
            silence.write(Path::new(&rest));
            for away in &case.away {
                phases.push(json!({"values": away, "input": input}));
            }
            phases.push(json!({"values": case.plan, "input": rest}));
        }
        phases.push(json!({"values": case.plan, "input": input, "output": output}));
        let block = BLOCKS[number % 4];
        jobs.push(json!({"block": block, "phases": phases}));
    }
    let task = json!({"bundle": bundle("Penstock.vst3"), "jobs": jobs});
    let answer = python("host_pedalboard.py", &task);
    compare(&dir, &cases, &answer);
}

#[test]
fn vst3_in_dawdreamer_is_render() {
    let dir = TempDir::new();
    let cases = cases(5, PLANS);
    let mut jobs = Vec::new();
    for (number, case) in cases.iter().enumerate() {
        let (input, output) = (
            dir.arg(&format!("{number}.wav")),
            dir.arg(&format!("{number}-out.wav")),
        );
        case.wave.write(Path::new(&input));
        let steps = json!([[0, case.plan]]);
        let block = BLOCKS[number % 4];
        jobs.push(json!({"block": block, "input": input, "output": output, "steps": steps}));
    }
    let task = json!({"bundle": bundle("Penstock.vst3"), "jobs": jobs});
    let answer = python("host_dawdreamer.py", &task);
    compare(&dir, &cases, &answer);
}

fn compare(dir: &TempDir, cases: &[Case], answer: &Value) {
    let mut peaks = Vec::new();
    for (number, (case, job)) in cases
        .iter()
        .zip(answer["jobs"].as_array().expect("jobs"))
        .enumerate()
    {
        let texts = texts_of(job);
        // The two interfaces mean the same by the same number.
        assert_eq!(texts, case.texts, "plan {number}");
        let (got, ..) = Wave::read(&dir.file(&format!("{number}-out.wav")));
        let latency = job["latency"].as_u64().expect("a number") as usize;
        assert!(latency > 0);
        let want = rendered(dir.path(), &case.wave, &texts);
        assert_equal(
            &format!("plan {number} {texts:?}"),
            &got.planar(),
            latency,
            &want.planar(),
        );
        peaks.push(want.peak());
    }
    assert_heard(&peaks);
}
