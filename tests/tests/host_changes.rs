//! Gain steps under automation: the plugin in a host is the chain driven by the same list of changes,
//! and, once it has come to rest, what `penstock render` writes for the plan it ends with.
//!
//! One host is made for this: CLAP, blocks of odd lengths, events inside them. The other was not
//! written for it: the VST3 in pedalboard (on JUCE), which renders offline, values between blocks.

use std::path::Path;

use penstock_dsp::chain::GRID_FRAMES;
use penstock_tests::driven::{Driven, Move};
use penstock_tests::equal::{BOUND, assert_equal, rendered};
use penstock_tests::host::{
    Audio, Bundle, Change, Plugin, Running, assert_same, blocks_of, number_of, random_blocks,
};
use penstock_tests::{TempDir, Wave, bundle, python};
use serde_json::{Value, json};

const RATES_HZ: [u32; 4] = [44_100, 48_000, 96_000, 192_000];
const SECONDS: f64 = 0.6;
/// The moves: around the edges of the grid on which changes take effect, while another one fades, two at
/// once, there and back before it is heard, far apart.
const MOVES: [Move; 14] = [
    (1, 46.0),
    (31, 34.0),
    (32, 58.0),
    (33, 40.0),
    (777, 64.0),
    (778, 28.0),
    (5_003, 52.0),
    (5_003, 46.0),
    (5_483, 40.0),
    (9_999, 64.0),
    (10_000, 40.0),
    (17_001, 64.0),
    (21_111, 28.0),
    (24_577, 52.0),
];
/// Rest, by far: silence until it, at the default plan's 10 kohm.
const REST_SECONDS: usize = 28;
/// Block size of the other host, which prepares the plugin for none longer than its first: so the moves
/// begin later there, as far from the grid as here.
const BLOCK: usize = 479;
const LATER_FRAMES: usize = 31 * GRID_FRAMES;

/// What differs from the defaults besides: so much that the plugin's bound is reached.
const TRIM: (&str, &str, &str) = ("return.trim_db", "Return trim", "12 dB");

fn driven(rate_hz: u32) -> Driven {
    Driven::new(rate_hz, 2, &["return.trim_db=12"])
}

/// A CLAP with that trim.
fn trimmed() -> Plugin {
    let mut plugin = Bundle::load().instance();
    plugin.set_texts(&[(TRIM.0, TRIM.2.to_owned())]);
    plugin
}

/// Programme loud enough that the highest gain clips, the lowest does not.
fn programme(rate_hz: u32) -> Wave {
    Wave::music(rate_hz, 0.9, SECONDS, u64::from(rate_hz))
}

/// What is heard without any move.
fn still(wave: &Wave) -> Audio {
    driven(wave.rate_hz).run(&wave.planar(), &[])
}

/// Asserts that the moves are heard, and loud enough for the bound to matter, or equality would say
/// little.
fn assert_moved(heard: &Audio, wave: &Wave) {
    let (moved, still) = (&heard[0], &still(wave)[0]);
    let differing = moved.iter().zip(still).filter(|(a, b)| a != b).count();
    assert!(2 * differing > moved.len(), "{differing} frames differ");
    assert!(moved.iter().any(|x| x.abs() == BOUND), "never at the bound");
}

/// The moves as the plugin's events.
fn events(plugin: &mut Plugin) -> Vec<Change> {
    let event = |(frame, gain_db): &Move| Change {
        frame: *frame,
        id: number_of("preamp.gain_db"),
        value: plugin.value_of("preamp.gain_db", &format!("{gain_db} dB")),
    };
    MOVES.iter().map(event).collect()
}

/// Silence through plugin and chain, second by second, until both give exactly nothing.
fn rest(running: &mut Running, driven: &mut Driven, rate_hz: u32) {
    let second = vec![vec![0.0; rate_hz as usize]; 2];
    for _ in 0..REST_SECONDS {
        let got = running.run(&second, random_blocks(7, 1, 1024), &[]);
        assert_same("silence", &got, &driven.run(&second, &[]));
        if got.iter().flatten().all(|sample| *sample == 0.0) {
            return;
        }
    }
    panic!("still sounding after {REST_SECONDS} s");
}

#[test]
fn the_clap_is_the_chain_and_once_settled_render() {
    let dir = TempDir::new();
    for rate_hz in RATES_HZ {
        let wave = programme(rate_hz);
        let audio = wave.planar();
        let mut driven = driven(rate_hz);
        let want = driven.run(&audio, &MOVES);
        assert_moved(&want, &wave);
        for offline in [false, true] {
            let mut plugin = trimmed();
            assert!(plugin.set_offline(offline), "the mode is taken");
            let events = events(&mut plugin);
            let mut running = plugin.activate(f64::from(rate_hz), 1024, 2);
            let seed = u64::from(offline);
            let got = running.run(&audio, random_blocks(seed, 1, 1024), &events);
            assert_same(&format!("{rate_hz} Hz, offline {offline}"), &got, &want);
            if !offline {
                rest(&mut running, &mut driven, rate_hz);
                let got = running.run(&audio, blocks_of(333), &[]);
                let again = driven.run(&audio, &[]);
                assert_same(&format!("{rate_hz} Hz, after rest"), &got, &again);
                let written = rendered(dir.path(), &wave, &plugin.texts()).planar();
                let what = format!("{rate_hz} Hz, after rest");
                assert_equal(&what, &got, plugin.latency(), &written);
            }
            plugin.deactivate(running);
        }
    }
}

fn later_moves() -> impl Iterator<Item = Move> {
    let later = |(frame, gain_db): Move| (frame + LATER_FRAMES, gain_db);
    MOVES.into_iter().map(later)
}

/// The programme cut at the moves, each piece with the gain it begins with.
fn phases(dir: &TempDir, wave: &Wave) -> (Vec<Value>, Vec<String>) {
    let audio = wave.planar();
    let (mut phases, mut outputs) = (Vec::new(), Vec::new());
    let moves = [(0, 40.0)].into_iter().chain(later_moves());
    let moves: Vec<Move> = moves.collect();
    let trim = trimmed().get(number_of(TRIM.0));
    for (number, (from, gain_db)) in moves.iter().copied().enumerate() {
        let to = moves.get(number + 1).map_or(audio[0].len(), |next| next.0);
        let values = json!({"Preamp gain": (gain_db - 28.0) / 36.0, TRIM.1: trim});
        if from == to {
            phases.push(json!({"values": values}));
            continue;
        }
        let name = format!("{}-{from}", wave.rate_hz);
        let (input, output) = (dir.arg(&format!("{name}.wav")), format!("{name}-out.wav"));
        let piece = audio
            .iter()
            .map(|samples| samples[from..to].to_vec())
            .collect();
        Wave::from_planar(wave.rate_hz, &piece).write(Path::new(&input));
        phases.push(json!({"values": values, "input": input, "output": dir.arg(&output)}));
        outputs.push(output);
    }
    (phases, outputs)
}

/// Pieces that follow each other, as one.
fn joined(dir: &TempDir, names: &[String]) -> Audio {
    let mut whole = vec![Vec::new(); 2];
    for name in names {
        let (piece, ..) = Wave::read(&dir.file(name));
        for (whole, piece) in whole.iter_mut().zip(piece.planar()) {
            whole.extend(piece);
        }
    }
    whole
}

#[test]
fn the_vst3_in_pedalboard_is_the_chain_and_once_settled_render() {
    let dir = TempDir::new();
    let (mut jobs, mut outputs) = (Vec::new(), Vec::new());
    for rate_hz in RATES_HZ {
        let wave = programme(rate_hz);
        let (mut list, names) = phases(&dir, &wave);
        let [silence, input, output] =
            ["silence", "whole", "settled"].map(|name| dir.arg(&format!("{rate_hz}-{name}.wav")));
        let mut silent = Wave::silence(rate_hz, REST_SECONDS as f64);
        silent.samples = silent.samples.repeat(2);
        silent.channels = 2;
        silent.write(Path::new(&silence));
        wave.write(Path::new(&input));
        list.push(json!({"input": silence}));
        list.push(json!({"input": input, "output": output}));
        jobs.push(json!({"block": BLOCK, "phases": list}));
        outputs.push(names);
    }
    let task = json!({"bundle": bundle("Penstock.vst3"), "jobs": jobs});
    let answer = python("host_pedalboard.py", &task)["jobs"].clone();
    for (number, (rate_hz, names)) in RATES_HZ.into_iter().zip(outputs).enumerate() {
        let wave = programme(rate_hz);
        let moves: Vec<Move> = later_moves().collect();
        let want = driven(rate_hz).run(&wave.planar(), &moves);
        assert_moved(&want, &wave);
        assert_same(&format!("{rate_hz} Hz"), &joined(&dir, &names), &want);
        let mut plugin = trimmed();
        let (_, last_db) = MOVES[MOVES.len() - 1];
        plugin.set_texts(&[("preamp.gain_db", format!("{last_db} dB"))]);
        let texts = plugin.texts();
        let gain = answer[number]["texts"]["Preamp gain"].as_str();
        assert_eq!(gain, Some(format!("{last_db} dB").as_str()));
        let latency = answer[number]["latency"].as_u64().expect("a number") as usize;
        let got = joined(&dir, &[format!("{rate_hz}-settled.wav")]);
        let written = rendered(dir.path(), &wave, &texts).planar();
        assert_equal(
            &format!("{rate_hz} Hz, after rest"),
            &got,
            latency,
            &written,
        );
    }
}
