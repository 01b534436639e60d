//! True peak: EBU Tech 3341 cases 15 to 23, at every rate and any block size.
//!
//! Source: EBU Tech 3341 (signals and results: +0.2, -0.4 dB allowed), true peak as ITU-R BS.1770 Annex 2.

use penstock_dsp::meter::{Meter, TruePeak};
use std::f64::consts::{PI, TAU};

const BLOCKS: [usize; 6] = [1, 7, 63, 64, 480, 4096];

/// The reading, which must be the same whatever the blocks.
fn reading(samples: &[f64]) -> f64 {
    let mut readings = BLOCKS.map(|block| {
        let mut meter = TruePeak::prepare();
        samples.chunks(block).for_each(|chunk| meter.process(chunk));
        20.0 * meter.most().log10()
    });
    let first = readings[0];
    for reading in &mut readings {
        assert!((*reading - first).abs() < 1e-6, "{reading} and {first}");
    }
    first
}

fn near(case: &str, got: f64, want: f64) {
    println!("{case}: {got:.3} dBTP, the standard {want} +0.2 -0.4");
    assert!((-0.4..=0.2).contains(&(got - want)), "{case}: {got}");
}

/// 10 ms up and down.
fn faded(mut samples: Vec<f64>) -> Vec<f64> {
    let last = samples.len() - 1;
    for n in 0..480 {
        let gain = n as f64 / 480.0;
        samples[n] *= gain;
        samples[last - n] *= gain;
    }
    samples
}

#[test]
fn tech_3341_cases_15_to_19() {
    for (case, part, peak, degrees, want) in [
        ("case 15", 4.0, 0.5, 0.0, -6.0),
        ("case 16", 4.0, 0.5, 45.0, -6.0),
        ("case 17", 6.0, 0.5, 60.0, -6.0),
        ("case 18", 8.0, 0.5, 67.5, -6.0),
        ("case 19", 4.0, 1.41, 45.0, 3.0),
    ] {
        let phase = degrees * PI / 180.0;
        let sine = |n: usize| peak * (TAU * n as f64 / part + phase).sin();
        near(case, reading(&faded((0..9_600).map(sine).collect())), want);
    }
}

/// A sixth of the rate at half scale, with one period of a quarter of it at full scale: made at four times
/// the rate, low-passed, and every fourth sample taken from an offset on.
#[test]
fn tech_3341_cases_20_to_23() {
    let mut fast = Vec::new();
    let sixth = |n: usize| 0.5 * (TAU * n as f64 / 24.0).sin();
    fast.extend((0..4_800).map(sixth));
    fast.extend((0..16).map(|n| (TAU * f64::from(n) / 16.0).sin()));
    fast.extend((0..4_800).map(sixth));
    // Blackman's window: nothing above half the lower rate, to -74 dB.
    let half = 400;
    let taps: Vec<f64> = (0..=2 * half)
        .map(|k| {
            let x = f64::from(k - half) / 4.0;
            let at = PI * f64::from(k) / f64::from(half);
            let window = 0.42 - 0.5 * at.cos() + 0.08 * (2.0 * at).cos();
            let sinc = if x == 0.0 {
                1.0
            } else {
                (PI * x).sin() / (PI * x)
            };
            sinc * window / 4.0
        })
        .collect();
    for offset in 0..4 {
        let slow: Vec<f64> = (0..(fast.len() - taps.len()) / 4)
            .map(|n| {
                let from = 4 * n + offset;
                let window = fast[from..from + taps.len()].iter();
                window.zip(&taps).map(|(x, tap)| x * tap).sum()
            })
            .collect();
        let case = format!("case {}", 20 + offset);
        let sample_peak = slow.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        println!("{case}: sample peak {:.3} dBFS", 20.0 * sample_peak.log10());
        near(&case, reading(&faded(slow)), 0.0);
    }
}
