//! The VST3 in hosts that were not written for it: pedalboard and DawDreamer (both on JUCE).

use std::path::Path;

use penstock_tests::host::{Bundle, LOUD, Session, blocks_of, number_of, rms, settings};
use penstock_tests::{TempDir, Wave, bundle, python};
use serde_json::{Value, json};

/// Frames until a value that arrives with the first block has faded in.
const FADE_FRAMES: usize = 480 + 32;

fn ask(script: &str, jobs: &Value) -> Value {
    let task = json!({"bundle": bundle("Penstock.vst3"), "jobs": jobs});
    python(script, &task)["jobs"].clone()
}

/// Bypass is the bus, late by the latency told, in stereo and in mono.
#[test]
fn bypass_in_both() {
    let dir = TempDir::new();
    let stereo = Wave::music(48_000, 0.9, 0.5, 1);
    let on = json!({"Bypass": 1.0});
    for (name, wave) in [("stereo", stereo.clone()), ("mono", stereo.channel(0))] {
        let (input, output) = (dir.arg(&format!("{name}.wav")), dir.arg("out.wav"));
        wave.write(Path::new(&input));
        let phases = json!([{"values": on, "input": input, "output": output}]);
        let pedalboard = json!([{"block": 256, "phases": phases}]);
        let steps = json!([[0, on]]);
        let dawdreamer = json!([{"block": 256, "input": input, "output": output, "steps": steps}]);
        for (script, jobs) in [
            ("host_pedalboard.py", pedalboard),
            ("host_dawdreamer.py", dawdreamer),
        ] {
            let answer = ask(script, &jobs);
            let latency = answer[0]["latency"].as_u64().expect("a number") as usize;
            let (got, ..) = Wave::read(&dir.file("out.wav"));
            assert_eq!(got.channels, wave.channels, "{script}");
            for (got, bus) in got.planar().iter().zip(wave.planar()) {
                let from = FADE_FRAMES + latency;
                assert_eq!(
                    got[from..],
                    bus[from - latency..bus.len() - latency],
                    "{script}, {name}"
                );
            }
        }
    }
}

/// Automation by DawDreamer is heard where it is drawn, at the start of its block: the same as the
/// CLAP with the same changes there.
#[test]
fn automation_in_dawdreamer_is_that_of_the_clap() {
    let dir = TempDir::new();
    let wave = Wave::music(48_000, 0.8, 0.5, 2);
    wave.write(&dir.file("in.wav"));
    let mut session = Session::new(48_000.0, 256, 2, &LOUD);
    let moves = [
        (4096, "preamp.gain_db", "Preamp gain", "34 dB", 6.0),
        (8192, "send.trim_db", "Send trim", "-6 dB", 1.0),
        (12_288, "oversampling", "Oversampling", "2", 3.0),
        (16_384, "bypass", "Bypass", "on", 1.0),
    ];
    let mut steps = vec![json!([0, {"Preamp gain": 4.0 / 6.0}])];
    let trim = session.plugin.get(number_of("send.trim_db"));
    steps[0][1]["Send trim"] = json!(trim);
    let mut changes = Vec::new();
    for (frame, id, name, text, last) in moves {
        let change = session.change(frame, id, text);
        steps.push(json!([frame, {name: change.value / last}]));
        changes.push(change);
    }
    let audio = wave.planar();
    let want = session.running.run(&audio, blocks_of(256), &changes);
    session.end();
    let (input, output) = (dir.arg("in.wav"), dir.arg("out.wav"));
    let jobs = json!([{"block": 256, "input": input, "output": output, "steps": steps}]);
    let _ = ask("host_dawdreamer.py", &jobs);
    let (got, ..) = Wave::read(&dir.file("out.wav"));
    for (got, want) in got.planar().iter().zip(&want) {
        let pairs = got.iter().zip(want).skip(FADE_FRAMES);
        let off = pairs.fold(0.0f32, |most, (a, b)| most.max((a - b).abs()));
        // JUCE hands values on as 32-bit floats: a trim may be off by some 1e-7 of its range.
        assert!(off < 1e-5, "off by {off} of full scale");
    }
}

/// In pedalboard: values between blocks are heard, and a state takes them to another instance.
#[test]
fn a_state_from_pedalboard_sounds_the_same() {
    let dir = TempDir::new();
    let wave = Wave::music(44_100, 0.8, 0.5, 3);
    wave.write(&dir.file("in.wav"));
    let (input, output) = (dir.arg("in.wav"), dir.arg("out.wav"));
    let mut plugin = Bundle::load().instance();
    plugin.set_texts(&settings(&LOUD));
    let values =
        json!({"Preamp gain": 4.0 / 6.0, "Send trim": plugin.get(number_of("send.trim_db"))});
    let phases = json!([{"input": input, "output": dir.arg("default.wav")},
        {"values": values, "input": input}, {"input": input, "output": output}]);
    let first = ask(
        "host_pedalboard.py",
        &json!([{"block": 512, "phases": phases}]),
    );
    let again = dir.arg("again.wav");
    let phases = json!([{"input": input}, {"input": input, "output": again}]);
    let jobs = json!([{"block": 512, "state": first[0]["state"], "phases": phases}]);
    let second = ask("host_pedalboard.py", &jobs);
    assert_eq!(second[0]["texts"], first[0]["texts"]);
    assert_eq!(second[0]["texts"]["Preamp gain"], "52 dB");
    let [default, one, other] =
        ["default.wav", "out.wav", "again.wav"].map(|name| Wave::read(&dir.file(name)).0);
    assert!(
        rms(&one.samples) > 1.5 * rms(&default.samples),
        "the values are not heard"
    );
    // What came before differs, so the slow parts of the circuit do, a little, too.
    let off = one.distance(&other);
    assert!(off < 0.02, "off by {off}");
}
