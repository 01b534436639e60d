//! What a new instance of a CLAP has for a rig: `clap_rig BUNDLE`, with the settings folder in
//! `PENSTOCK_CONFIG_FOLDER`. Prints JSON: the send's full scale and the pad's loss of a `new` instance,
//! of one `loaded` with the state of a project whose full scale is +24 dBu, and of one loaded with an
//! `old` state that lacks the full scale. A process of its own, so that the folder is its own.

use std::path::PathBuf;

use penstock_tests::host::{Bundle, Plugin, number_of};
use serde_json::{Value, json};

const FULL_SCALE: &str = "rig.send.full_scale_dbu";

fn says(plugin: &mut Plugin) -> Value {
    json!([FULL_SCALE, "pad.loss_db"].map(|id| plugin.text(number_of(id))))
}

/// The state without a parameter: eight bytes of length, then JSON.
fn without(state: &[u8], id: &str) -> Vec<u8> {
    let mut state: Value = serde_json::from_slice(&state[8..]).expect("a state is JSON");
    let params = state["params"].as_object_mut().expect("parameters by id");
    params.remove(id).expect("it was there");
    let text = state.to_string().into_bytes();
    [&(text.len() as u64).to_le_bytes()[..], &text].concat()
}

fn main() {
    let path = PathBuf::from(std::env::args_os().nth(1).expect("the path of a bundle"));
    let bundle = Bundle::load_from(&path);
    let mut new = bundle.instance();
    let first = says(&mut new);
    new.set_texts(&[(FULL_SCALE, "24".to_owned())]);
    let project = new.save();
    let mut loaded = bundle.instance();
    assert!(loaded.load(&project), "the state is taken");
    let second = says(&mut loaded);
    let mut old = bundle.instance();
    assert!(
        old.load(&without(&project, FULL_SCALE)),
        "the state is taken"
    );
    let third = says(&mut old);
    println!(
        "{}",
        json!({ "new": first, "loaded": second, "old": third })
    );
}
