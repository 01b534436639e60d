//! What the published tables hold but this version does not do yet is refused by name.

use penstock_tests::{TempDir, Wave, refused, refused_in, run};

#[test]
fn verbs() {
    for verb in ["routes", "sheet", "verify"] {
        refused(&[verb], &[verb]);
    }
}

#[test]
fn keys_and_values() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.2, 1).write(&dir.file("in.wav"));
    for set in [
        "rig.preamp.kind=own",
        "rig.preamp.in_ohms=1500",
        "rig.preamp.gain_steps_db=[20, 40, 60]",
        "rig.preamp.attenuator_db=[0, 20]",
        "rig.preamp.max_in_dbu=10",
        "rig.preamp.max_out_dbu=26",
        "rig.preamp.ein_dbu=-128",
        "model_version=3",
    ] {
        let key = set.split_once('=').expect("each has a value").0;
        refused(&["levels", "--level-dbfs", "-20", "--set", set], &[key]);
        refused(&["pad", "--json", "--set", set], &[key]);
        refused_in(
            dir.path(),
            &["render", "in.wav", "out.wav", "--set", set],
            &[key],
        );
        let vary = ["compare", "in.wav", "--out", "out", "--vary", set];
        if !set.contains('[') {
            refused_in(dir.path(), &vary, &[key]);
        }
    }
}

#[test]
fn the_same_in_a_plan_file() {
    let dir = TempDir::new();
    for (text, key) in [
        ("model_version = 3\n", "model_version"),
        ("[rig.preamp]\nkind = \"own\"\n", "kind"),
        ("[rig.preamp]\ngain_steps_db = [20, 40]\n", "gain_steps_db"),
    ] {
        std::fs::write(dir.file("plan.toml"), text).expect("the folder can be written");
        refused_in(dir.path(), &["pad", "--plan", "plan.toml"], &[key]);
    }
}

#[test]
fn options() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.1, 0.2, 2).write(&dir.file("in.wav"));
    let args = ["levels", "in.wav", "--fail-over", "1%"];
    refused_in(dir.path(), &args, &["--fail-over"]);
}

#[test]
fn their_defaults_are_what_there_is() {
    for set in [
        "return.pad_db=0",
        "preamp.noise=off",
        "rig.preamp.kind=model",
        "model_version=2",
    ] {
        let outcome = run(&["levels", "--level-dbfs", "-20", "--set", set]);
        assert_eq!(outcome.status, 0, "{set}: {}", outcome.stderr);
    }
}
