//! Long files: memory that does not grow, and faster than they play.

use penstock_tests::run::run_in;
use penstock_tests::{TempDir, Wave, assert_near, long};

/// "Peak memory under 200 MB".
const MOST_MEMORY_BYTES: u64 = 200_000_000;

/// Renders a stereo file of `seconds` at 96 kHz and judges memory and processor time.
fn render_seconds(seconds: f64) {
    let dir = TempDir::new();
    // A second of programme over and over, so that making the file costs little.
    let left = Wave::programme(96_000, 0.3, 1.0, 1);
    let mut wave = Wave::stereo(&left, &left.times(-0.8));
    wave.samples = wave.samples.repeat(seconds as usize);
    let frames = wave.frames();
    wave.write_integer(&dir.file("in.wav"), 24);
    drop(wave);
    let outcome = run_in(dir.path(), &["render", "in.wav", "out.wav", "--json"]);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    let bytes = std::fs::metadata(dir.file("out.wav"))
        .expect("it was written")
        .len();
    let samples = (frames * 2 * 4) as f64;
    assert_near("bytes of floats", bytes as f64, samples + 300.0, 300.0);
    if cfg!(target_os = "linux") {
        let megabytes = outcome.peak_memory_bytes as f64 / 1e6;
        assert!(outcome.peak_memory_bytes > 0, "memory was not measured");
        assert!(
            outcome.peak_memory_bytes < MOST_MEMORY_BYTES,
            "{megabytes:.0} MB"
        );
        // All threads together: what one core would need.
        let spent = outcome.processor_seconds;
        assert!(
            spent < seconds,
            "{spent:.1} s of processor time for {seconds} s"
        );
    }
}

#[test]
fn half_a_minute_of_stereo_at_96_khz() {
    render_seconds(30.0);
}

#[test]
fn ten_minutes_of_stereo_at_96_khz() {
    if long() {
        render_seconds(600.0);
    } else {
        eprintln!("left out: set PENSTOCK_LONG=1 (or run `cargo xtask test --long`)");
    }
}
