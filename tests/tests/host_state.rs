//! Projects come back as they were saved, and no state, however broken, does harm.

use penstock::params::{RowKind, rows};
use penstock_tests::host::{
    Bundle, LOUD, Plugin, Session, Setting, assert_same, blocks_of, number_of, random_plan,
};
use penstock_tests::random::Random;
use penstock_tests::states::{self, Kept};
use penstock_tests::{Wave, base64, bundle, python};
use serde_json::{Value, json};

/// The bytes of a CLAP state around a text.
fn framed(text: &str) -> Vec<u8> {
    let mut bytes = (text.len() as u64).to_le_bytes().to_vec();
    bytes.extend_from_slice(text.as_bytes());
    bytes
}

/// A state as JSON.
fn parsed(bytes: &[u8]) -> Value {
    serde_json::from_slice(&bytes[8..]).expect("a state is a length and JSON")
}

/// A plugin with a plan that is not the default anywhere.
fn random_plugin(seed: u64) -> Plugin {
    let mut plugin = Bundle::load().instance();
    plugin.set_texts(&random_plan(&mut Random::new(seed)));
    plugin
}

#[test]
fn a_state_restores_values_and_sound() {
    let music = Wave::music(48_000, 0.8, 0.3, 1).planar();
    for seed in 0..8 {
        let mut plugin = random_plugin(seed);
        let (state, texts) = (plugin.save(), plugin.texts());
        let mut running = plugin.activate(48_000.0, 512, 2);
        let sound = running.run(&music, blocks_of(512), &[]);
        plugin.deactivate(running);
        assert_eq!(plugin.save(), state, "processing leaves the state alone");
        plugin.set_texts(&random_plan(&mut Random::new(seed + 100)));
        assert_ne!(plugin.texts(), texts);
        assert!(plugin.load(&state));
        assert_eq!(plugin.texts(), texts);
        assert_eq!(plugin.save(), state, "byte for byte");
        // In another instance, and while that is active.
        let mut other = random_plugin(seed + 200);
        let mut running = other.activate(48_000.0, 512, 2);
        let _ = running.run(&music, blocks_of(512), &[]);
        assert!(other.load(&state));
        running.reset();
        let again = running.run(&music, blocks_of(512), &[]);
        assert_same("loaded while active", &again, &sound);
        other.deactivate(running);
        assert_eq!(other.texts(), texts);
    }
}

/// Without a reset the new state is faded in, and is fully there when the circuit has come to rest.
#[test]
fn a_state_loaded_while_it_plays_takes_over() {
    let music = Wave::music(48_000, 0.8, 0.5, 2).planar();
    let mut plugin = Bundle::load().instance();
    let state = plugin.save();
    let mut running = plugin.activate(48_000.0, 512, 2);
    let sound = running.run(&music, blocks_of(512), &[]);
    plugin.deactivate(running);
    let mut loud = Session::new(48_000.0, 512, 2, &LOUD);
    let before = loud.run(&music, blocks_of(512));
    assert_ne!(before, sound);
    assert!(loud.plugin.load(&state));
    let _ = loud.run(&music, blocks_of(512));
    let _ = loud.rest(48_000, 2);
    let after = loud.run(&music, blocks_of(512));
    loud.end();
    assert_same("after taking over", &after, &sound);
}

fn default_text(plugin: &mut Plugin, id: &str) -> String {
    let number = number_of(id);
    let params = plugin.params();
    let param = params
        .iter()
        .find(|param| param.id == number)
        .expect("a parameter");
    plugin.text_of(number, param.default)
}

/// States that are whole but hold what this version does not: each with the text that one parameter
/// then has; `None` where that is its default.
fn strange() -> Vec<(&'static str, Value, Option<&'static str>)> {
    vec![
        ("pad.loss_db", json!({"f32": 500.0}), Some("80 dB")),
        ("pad.loss_db", json!({"f32": -500.0}), Some("0 dB")),
        ("pad.loss_db", json!({"f32": 1e38}), Some("80 dB")),
        ("pad.loss_db", json!({"i32": 46}), Some("46 dB")),
        ("pad.loss_db", json!({"bool": true}), Some("1 dB")),
        ("pad.loss_db", json!({"string": "46"}), None),
        ("pad.in_ohms_min", json!({"f32": 0.0}), Some("10 ohm")),
        ("preamp.gain_db", json!({"i32": 99}), Some("64 dB")),
        ("preamp.gain_db", json!({"i32": -1}), Some("28 dB")),
        (
            "preamp.gain_db",
            json!({"i32": 2_147_483_647}),
            Some("64 dB"),
        ),
        (
            "preamp.gain_db",
            json!({"i32": -2_147_483_648i64}),
            Some("28 dB"),
        ),
        ("preamp.gain_db", json!({"f32": 3.2}), Some("46 dB")),
        ("pad.network", json!({"i32": 1000}), Some("pi")),
        ("oversampling", json!({"i32": 1000}), Some("8")),
        ("bypass", json!({"i32": 7}), Some("on")),
        ("bypass", json!({"string": "on"}), None),
        ("rig.converters_clip", json!({"f32": 0.0}), Some("off")),
    ]
}

#[test]
fn strange_values_become_the_nearest_or_the_default() {
    let mut plugin = random_plugin(9);
    let good = plugin.save();
    let texts = plugin.texts();
    for (id, value, wanted) in strange() {
        let mut state = parsed(&good);
        state["params"][id] = value.clone();
        plugin.set_texts(&random_plan(&mut Random::new(10)));
        assert!(plugin.load(&framed(&state.to_string())), "{id} = {value}");
        let wanted = wanted.map_or_else(|| default_text(&mut plugin, id), str::to_owned);
        for ((of, was), (_, now)) in texts.iter().zip(plugin.texts()) {
            let wanted = if *of == id { &wanted } else { was };
            assert_eq!(&now, wanted, "{of} after {id} = {value}");
        }
    }
}

#[test]
fn unknown_things_are_dropped_and_missing_ones_filled() {
    let mut plugin = random_plugin(11);
    let good = parsed(&plugin.save());
    let texts = plugin.texts();
    // From a later version, and from an older one.
    let mut state = good.clone();
    state["version"] = json!("99.0.0");
    state["params"]["no.such.thing"] = json!({"f32": 1.0});
    state["fields"]["news"] = json!("\u{1f39a} whatever");
    state["surprise"] = json!([1, 2, 3]);
    assert!(plugin.load(&framed(&state.to_string())));
    assert_eq!(plugin.texts(), texts);
    assert!(!String::from_utf8_lossy(&plugin.save()).contains("no.such.thing"));
    for version in ["0.0.1", "", "not a version"] {
        let mut state = good.clone();
        state["version"] = json!(version);
        assert!(plugin.load(&framed(&state.to_string())));
        assert_eq!(plugin.texts(), texts);
        assert_eq!(parsed(&plugin.save())["version"], good["version"]);
    }
    for row in rows() {
        let mut state = good.clone();
        state["params"]
            .as_object_mut()
            .expect("an object")
            .remove(row.id);
        assert!(
            plugin.load(&framed(&state.to_string())),
            "without {}",
            row.id
        );
        let filled = default_text(&mut plugin, row.id);
        for ((of, was), (_, now)) in texts.iter().zip(plugin.texts()) {
            let wanted = if *of == row.id { &filled } else { was };
            assert_eq!(&now, wanted, "{of} without {}", row.id);
        }
    }
    let mut bare = good.clone();
    bare["params"] = json!({});
    assert!(plugin.load(&framed(&bare.to_string())));
    let mut fresh = Bundle::load().instance();
    assert_eq!(plugin.texts(), fresh.texts(), "nothing but defaults");
}

/// Texts that are no states.
const NO_STATES: [(&str, &str); 7] = [
    ("empty text", ""),
    ("null", "null"),
    ("a number", "42"),
    ("a list", "[]"),
    ("an empty object", "{}"),
    ("only parameters", r#"{"params":{}}"#),
    ("zero bytes", "\0\0\0\0"),
];

/// What to replace in a good state, so that types are wrong.
const WRONG_TYPES: [(&str, &str, &str); 12] = [
    (
        "a null value",
        r#""pad.loss_db":{"#,
        r#""pad.loss_db":null,"x":{"#,
    ),
    ("a bare value", r#""bypass":{"#, r#""bypass":true,"x":{"#),
    ("a text value", r#""bypass":{"#, r#""bypass":"on","x":{"#),
    ("an unknown kind", r#"{"bool":"#, r#"{"f128":"#),
    ("text as a number", r#"{"bool":"#, r#"{"f32":"a","bool":"#),
    (
        "beyond numbers",
        r#""pad.loss_db":{"f32":"#,
        r#""pad.loss_db":{"f32":1e999,"f32":"#,
    ),
    (
        "beyond floats",
        r#""pad.loss_db":{"f32":"#,
        r#""pad.loss_db":{"f32":1e39},"y":{"f32":"#,
    ),
    (
        "beyond integers",
        r#""preamp.gain_db":{"i32":"#,
        r#""preamp.gain_db":{"i32":99999999999,"i32":"#,
    ),
    (
        "parameters as a list",
        r#""params":{"#,
        r#""params":[],"x":{"#,
    ),
    (
        "a view that is none",
        r#""view":""#,
        r#""view":"{{{","w":""#,
    ),
    ("fields as a number", r#""fields":{"#, r#""fields":3,"x":{"#),
    (
        "a version that is a number",
        r#""version":""#,
        r#""version":1,"x":""#,
    ),
];

/// What is no state at all, or one that a reader of JSON must refuse.
fn broken(good: &[u8]) -> Vec<(String, Vec<u8>)> {
    let text = String::from_utf8(good[8..].to_vec()).expect("JSON");
    let mut all: Vec<(String, Vec<u8>)> = Vec::new();
    let mut add = |what: &str, bytes: Vec<u8>| all.push((what.to_owned(), bytes));
    add("nothing", Vec::new());
    for length in [1, 7, 8, 9, 100, good.len() / 2, good.len() - 1] {
        add(
            &format!("the first {length} bytes"),
            good[..length].to_vec(),
        );
    }
    for length in [0u64, 1, 1 << 20, 1 << 40, u64::MAX] {
        let mut bytes = good.to_vec();
        bytes[..8].copy_from_slice(&length.to_le_bytes());
        add(&format!("length {length}"), bytes);
    }
    for (what, text) in NO_STATES {
        add(what, framed(text));
    }
    add("deep", framed(&"[".repeat(100_000)));
    for (what, from, to) in WRONG_TYPES {
        assert!(text.contains(from), "{from}");
        add(what, framed(&text.replacen(from, to, 1)));
    }
    let mut random = Random::new(12);
    for n in 0..200 {
        let mut bytes = good.to_vec();
        if n % 2 == 0 {
            bytes = (0..random.bits() % 500)
                .map(|_| random.bits() as u8)
                .collect();
        } else {
            for _ in 0..=random.bits() % 8 {
                let at = (random.bits() % bytes.len() as u64) as usize;
                bytes[at] = random.bits() as u8;
            }
        }
        add(&format!("random bytes {n}"), bytes);
    }
    all
}

/// Every text is one that the parameter has.
fn assert_sound_texts(what: &str, plugin: &mut Plugin) {
    for row in rows() {
        let text = plugin.text(number_of(row.id));
        let value = plugin.value_of(row.id, &text);
        assert_eq!(
            plugin.text_of(number_of(row.id), value),
            text,
            "{what}: {}",
            row.id
        );
        if let RowKind::Number { min, max, none, .. } = row.kind
            && none != Some(text.as_str())
        {
            let min = if none.is_some() { min + 1.0 } else { min };
            let number: f64 = text
                .split(' ')
                .next()
                .and_then(|n| n.parse().ok())
                .expect("a number");
            assert!(
                (min..=max).contains(&number),
                "{what}: {} is {text}",
                row.id
            );
        }
    }
}

#[test]
fn broken_states_do_no_harm() {
    let mut plugin = random_plugin(13);
    let (good, texts) = (plugin.save(), plugin.texts());
    let music = vec![vec![0.3; 64]; 2];
    let broken = broken(&good);
    let mut refused = 0;
    for (what, bytes) in &broken {
        let mut running = plugin.activate(48_000.0, 64, 2);
        let taken = plugin.load(bytes);
        if !taken {
            refused += 1;
            assert_eq!(
                plugin.texts(),
                texts,
                "{what}: refused, and yet something changed"
            );
        }
        assert_sound_texts(what, &mut plugin);
        let _ = running.run(&music, blocks_of(64), &[]);
        plugin.deactivate(running);
        assert!(plugin.load(&good), "the good one after {what}");
        assert_eq!(plugin.texts(), texts, "the good one after {what}");
    }
    println!("{refused} of {} refused", broken.len());
}

#[test]
fn kept_clap_states_load() {
    for Kept { name, bytes, texts } in states::kept("clapstate") {
        let mut plugin = random_plugin(14);
        assert!(plugin.load(&bytes), "{name}");
        assert_restored(&name, &plugin.texts(), &texts);
    }
}

/// What was kept is restored; parameters that came later are at their defaults, or at what they are the
/// choice of.
fn assert_restored(name: &str, now: &[Setting], kept: &[(String, String)]) {
    for (id, text) in kept {
        let found = now.iter().find(|(of, _)| of == id);
        let found = found.unwrap_or_else(|| panic!("{name}: {id} is gone"));
        assert_eq!(&found.1, text, "{name}: {id}");
    }
    let mut fresh = Bundle::load().instance();
    for (id, text) in now
        .iter()
        .filter(|(of, _)| kept.iter().all(|(id, _)| id != of))
    {
        // A project keeps its sound: before there was a choice, each resistor was the nearest.
        let wanted = match *id {
            "pad.parts" => "nearest".to_owned(),
            id => default_text(&mut fresh, id),
        };
        assert_eq!(*text, wanted, "{name}: {id} is younger");
    }
}

#[test]
fn kept_vst3_states_load_in_pedalboard() {
    let kept = states::kept("vst3state");
    let job = |bytes: &[u8]| json!({"block": 512, "state": base64::encode(bytes), "phases": []});
    let jobs: Vec<Value> = kept.iter().map(|kept| job(&kept.bytes)).collect();
    let task = json!({"bundle": bundle("Penstock.vst3"), "jobs": jobs});
    let answer = python("host_pedalboard.py", &task);
    for (index, Kept { name, texts, .. }) in kept.iter().enumerate() {
        let job = &answer["jobs"][index]["texts"];
        let text = |name: &str| job[name].as_str().expect("a text").to_owned();
        let now: Vec<Setting> = rows().iter().map(|row| (row.id, text(row.name))).collect();
        assert_restored(name, &now, texts);
    }
}
