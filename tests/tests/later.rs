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
    for set in ["model_version=3", "model_version=1"] {
        let key = set.split_once('=').expect("each has a value").0;
        refused(&["levels", "--level-dbfs", "-20", "--set", set], &[key]);
        refused(&["pad", "--json", "--set", set], &[key]);
        refused_in(
            dir.path(),
            &["render", "in.wav", "out.wav", "--set", set],
            &[key],
        );
        let vary = ["compare", "in.wav", "--out", "out", "--vary", set];
        refused_in(dir.path(), &vary, &[key]);
    }
}

#[test]
fn the_same_in_a_plan_file() {
    let dir = TempDir::new();
    std::fs::write(dir.file("plan.toml"), "model_version = 3\n")
        .expect("the folder can be written");
    let args = ["pad", "--plan", "plan.toml"];
    refused_in(dir.path(), &args, &["model_version"]);
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
