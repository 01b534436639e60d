//! Makes the kept states of a version that is about to be released: run it once with
//! `PENSTOCK_BUNDLES` and `PENSTOCK_PYTHON` set, and commit what it writes to `tests/data/states`.

use penstock::params::rows;
use penstock_tests::host::{Bundle, Setting, random_plan};
use penstock_tests::random::Random;
use penstock_tests::{TempDir, Wave, base64, bundle, python, states};
use serde_json::{Map, json};

fn main() {
    let version = Bundle::load().plugins().swap_remove(0).version;
    let mut plugin = Bundle::load().instance();
    states::keep(
        &format!("{version}-default.clapstate"),
        &plugin.save(),
        &plugin.texts(),
    );
    for seed in 1..=2 {
        plugin.set_texts(&random_plan(&mut Random::new(seed)));
        let name = format!("{version}-random-{seed}.clapstate");
        states::keep(&name, &plugin.save(), &plugin.texts());
    }
    // The same kind of plan in a VST3 host, by values from 0 to 1.
    let mut random = Random::new(3);
    let values = rows()
        .iter()
        .map(|row| (row.name.to_owned(), json!(random.between(0.0, 1.0))));
    let values: Map<_, _> = values.collect();
    // Values reach a VST3 with the next block only.
    let dir = TempDir::new();
    Wave::silence(48_000, 0.1).write(&dir.file("in.wav"));
    let phases = json!([{"values": values, "input": dir.arg("in.wav")}]);
    let jobs = json!([{"block": 512, "phases": phases}]);
    let task = json!({"bundle": bundle("Penstock.vst3"), "jobs": jobs});
    let answer = python("host_pedalboard.py", &task);
    let job = &answer["jobs"][0];
    let text = |name: &str| job["texts"][name].as_str().expect("a text").to_owned();
    let texts: Vec<Setting> = rows().iter().map(|row| (row.id, text(row.name))).collect();
    let state = base64::decode(job["state"].as_str().expect("a state"));
    states::keep(&format!("{version}-random.vst3state"), &state, &texts);
}
