//! One sound on every processor: the code for any of them, forced, against the one this machine takes.

use penstock_tests::run::finish;
use penstock_tests::tools::program;
use penstock_tests::{TempDir, Wave, json_in};
use std::process::Command;

/// At most this share of the peak: -120 dB.
const ALIKE: f64 = 1e-6;

#[test]
fn the_portable_code_renders_the_same() {
    let dir = TempDir::new();
    Wave::music(48_000, 0.9, 1.0, 77).write(&dir.file("in.wav"));
    // From easy to clipping hard, and with little oversampling.
    let plans: [&[&str]; 3] = [
        &["--oversampling", "8"],
        &["--set", "pad.loss_db=30", "--set", "preamp.gain_db=52"],
        &["--set", "preamp.gain_db=64", "--oversampling", "1"],
    ];
    for plan in plans {
        let render = |to: &'static str| [&["render", "in.wav", to, "--force"][..], plan].concat();
        let _ = json_in(dir.path(), &render("here.wav"));
        let mut portable = Command::new(program());
        portable
            .args(render("portable.wav"))
            .current_dir(dir.path())
            .env("PENSTOCK_PORTABLE", "1");
        let outcome = finish(portable);
        assert_eq!(outcome.status, 0, "{}", outcome.stderr);
        let [here, portable] =
            ["here.wav", "portable.wav"].map(|name| Wave::read(&dir.file(name)).0);
        let off = here.distance(&portable) / here.peak();
        println!("{plan:?}: {off:.1e} of the peak");
        assert!(off <= ALIKE, "{plan:?}: {off:e} of the peak");
    }
}
