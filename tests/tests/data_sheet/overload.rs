//! Recovery from overload: a burst far over the nominal level, then the tone's level watched.

use std::f64::consts::TAU;

use penstock_dsp::circuit::{STATED_HZ, SmallSignal};
use penstock_tests::bench::{Bench, RATE_HZ, decibels, peak_volts, stated};

const STEPS_DB: [f64; 2] = [40.0, 64.0];
const BURST_DB: f64 = 30.0;
const BURST_HZ: f64 = 100.0;
const BURST_SECONDS: f64 = 0.2;
/// How long is listened afterwards.
const AFTER_SECONDS: f64 = 3.0;
/// The tone's level is read in windows of ten periods, one every five.
const PERIOD: usize = (RATE_HZ / STATED_HZ) as usize;
const WINDOW: usize = 10 * PERIOD;
const HOP: usize = 5 * PERIOD;

/// Volts of the tone in a window, under a Hann window.
fn level(window: &[f64]) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for (n, volts) in window.iter().enumerate() {
        let hann = 1.0 - (TAU * n as f64 / window.len() as f64).cos();
        let (sine, cosine) = (TAU * n as f64 / PERIOD as f64).sin_cos();
        re += hann * volts * cosine;
        im += hann * volts * sine;
    }
    re.hypot(im)
}

/// Seconds from the burst's end until the tone stays within each of the tolerances in dB, and the
/// lowest level on the way.
fn recovery(step: f64, tolerances_db: [f64; 2]) -> ([f64; 2], f64) {
    let settings = stated(step);
    let mut bench = Bench::new(&settings);
    let first = peak_volts(4.0) / SmallSignal::at(&settings, STATED_HZ).from_emf.norm();
    let (_, tone_peak) = bench.at_output(STATED_HZ, 4.0, first);
    let tone = |n: usize| tone_peak * (TAU * n as f64 / PERIOD as f64).sin();
    let before: Vec<f64> = (0..WINDOW)
        .map(|n| bench.feed(tone(n)).preamp_out)
        .collect();
    let before = level(&before);
    let burst_peak = tone_peak * 10f64.powf(BURST_DB / 20.0);
    for n in 0..(BURST_SECONDS * RATE_HZ) as usize {
        let burst = burst_peak * (TAU * BURST_HZ * n as f64 / RATE_HZ).sin();
        bench.feed(tone(n) + burst);
    }
    let after: Vec<f64> = (0..(AFTER_SECONDS * RATE_HZ) as usize)
        .map(|n| bench.feed(tone(n)).preamp_out)
        .collect();
    let levels: Vec<f64> = after
        .windows(WINDOW)
        .step_by(HOP)
        .map(|window| decibels(level(window) / before))
        .collect();
    let seconds = tolerances_db.map(|tolerance| {
        let last = levels.iter().rposition(|level| level.abs() > tolerance);
        let good = last.map_or(0, |last| last + 1);
        assert!(
            good < levels.len(),
            "{step} dB does not recover: {levels:?}"
        );
        (good * HOP) as f64 / RATE_HZ
    });
    let lowest = levels.iter().copied().fold(f64::INFINITY, f64::min);
    (seconds, lowest)
}

/// The table.
pub fn section() -> String {
    let mut lines = vec![
        "| 0.2 s of 100 Hz, 30 dB over a +4 dBu tone | tone within 0.5 dB after | within 0.1 dB after | lowest |"
            .to_owned(),
        "|---|---|---|---|".to_owned(),
    ];
    for step in STEPS_DB {
        let (seconds, lowest) = recovery(step, [0.5, 0.1]);
        assert!(seconds[1] < 1.5, "{step} dB takes {seconds:?} s");
        lines.push(format!(
            "| {step} dB | {:.2} s | {:.2} s | {lowest:.1} dB |",
            seconds[0], seconds[1]
        ));
    }
    lines.join("\n")
}
