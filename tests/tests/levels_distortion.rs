//! `penstock levels --distortion`: figures at each point, held against the rendered sound.

use penstock_tests::{TempDir, Wave, assert_near, json, list, number, run_in, text};

#[test]
fn without_it_the_keys_are_null() {
    let answer = json(&["levels", "--level-dbfs", "-18"]);
    let says_nothing = |key: &str| answer.get(key).is_some_and(serde_json::Value::is_null);
    assert!(
        says_nothing("distortion") && says_nothing("response"),
        "{answer}"
    );
}

/// Harmonics of a rendered sine, by Fourier sums over its last second, are those of the last stage.
#[test]
fn the_last_stage_has_the_harmonics_of_the_rendered_sound() {
    let answer = json(&["levels", "--level-dbfs", "-12", "--distortion"]);
    let stages = list(&answer, "distortion");
    let names: Vec<&str> = stages.iter().map(|stage| text(stage, "name")).collect();
    assert_eq!(
        names,
        [
            "line_out",
            "mic_in",
            "transformer_in",
            "grid_1",
            "grid_2",
            "preamp_out"
        ]
    );
    assert_eq!(list(&answer, "response").len(), 31);
    let dir = TempDir::new();
    Wave::sine(48_000, 1_000.0, 10_f64.powf(-12.0 / 20.0), 6.0).write(&dir.file("in.wav"));
    let outcome = run_in(dir.path(), &["render", "in.wav", "out.wav"]);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    let (sound, _, _) = Wave::read(&dir.file("out.wav"));
    let samples: Vec<f64> = sound.samples[240_000..]
        .iter()
        .map(|sample| f64::from(*sample))
        .collect();
    let power = |order: f64| {
        let turn = std::f64::consts::TAU * order * 1_000.0 / 48_000.0;
        let (mut re, mut im) = (0.0, 0.0);
        for (n, sample) in samples.iter().enumerate() {
            re += sample * (turn * n as f64).cos();
            im += sample * (turn * n as f64).sin();
        }
        re * re + im * im
    };
    let out = &stages[5];
    for (order, key) in [(2.0, "h2_db"), (3.0, "h3_db")] {
        let want = 10.0 * (power(order) / power(1.0)).log10();
        assert_near(key, number(out, key), want, 0.1);
    }
    let harmonics: f64 = (2..=20).map(|order| power(f64::from(order))).sum();
    let thd = 100.0 * (harmonics / power(1.0)).sqrt();
    assert_near("thd_percent", number(out, "thd_percent"), thd, 0.01 * thd);
}
