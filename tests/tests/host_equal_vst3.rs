//! The same of the VST3, in hosts that were not written for it.

use std::path::Path;

use penstock::params::{Row, RowKind, rows};
use penstock_tests::equal::{PLANS, assert_equal, assert_heard, planned, programme, rendered};
use penstock_tests::host::{Setting, number_of, random_value};
use penstock_tests::random::Random;
use penstock_tests::{TempDir, Wave, bundle, python};
use serde_json::{Map, Value, json};

/// Block sizes of the hosts in Python.
const BLOCKS: [usize; 4] = [512, 64, 1000, 4096];

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
