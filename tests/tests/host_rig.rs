//! The rig that new instances start from, and projects that have their own.

use std::fs;
use std::process::Command;

use penstock_tests::run::finish;
use penstock_tests::{TempDir, bundle};
use serde_json::{Value, json};

/// What instances say with this text as the remembered rig, or none.
fn with(rig: Option<&str>) -> Value {
    let settings = TempDir::new();
    let file = settings.file("rig.toml");
    if let Some(text) = rig {
        fs::write(&file, text).expect("the folder can be written");
    }
    let mut command = Command::new(env!("CARGO_BIN_EXE_clap_rig"));
    command.arg(bundle("Penstock.clap"));
    command.env("PENSTOCK_CONFIG_FOLDER", settings.path());
    let outcome = finish(command);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    // A host that only loads and asks writes nothing.
    let now = fs::read_to_string(&file).ok();
    assert_eq!(now.as_deref(), rig);
    serde_json::from_str(&outcome.stdout).expect("JSON")
}

#[test]
fn a_new_instance_starts_from_the_remembered_rig_and_a_project_from_its_own() {
    // Only the rig of a plan is taken.
    let rig = "[rig.send]\nfull_scale_dbu = 18\n[pad]\nloss_db = 12\n";
    assert_eq!(
        with(Some(rig)),
        json!({
            "new": ["+18 dBu", "40 dB"],
            "loaded": ["+24 dBu", "40 dB"],
            // What a project does not say is the default, as it sounded where it was saved.
            "old": ["+22 dBu", "40 dB"],
        })
    );
}

#[test]
fn without_one_or_with_a_damaged_one_the_defaults_hold() {
    let defaults = json!({
        "new": ["+22 dBu", "40 dB"],
        "loaded": ["+24 dBu", "40 dB"],
        "old": ["+22 dBu", "40 dB"],
    });
    assert_eq!(with(None), defaults);
    for damaged in ["[rig", "[rig.send]\nfull_scale_dbu = 900\n", "\u{0}"] {
        assert_eq!(with(Some(damaged)), defaults, "{damaged}");
    }
}
