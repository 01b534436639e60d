//! Loudness: EBU Tech 3341 cases 1 to 6, 9 and 12, Tech 3342 cases 1 to 4.
//!
//! Source: EBU Tech 3341 and 3342, signals and results as in tests/data's notes on them: 1 kHz sines whose
//! levels are peaks in dBFS; 0.1 LU and 1 LU allowed. Cases 7, 8, 10, 11, 13, 14 and 3342's 5 and 6 are
//! recorded programmes or sets of files.

use penstock_dsp::meter::Loudness;
use penstock_dsp::units::SampleRate;
use penstock_tests::{TempDir, Wave, number, python};
use serde_json::json;
use std::f64::consts::TAU;

const RATES_HZ: [f64; 3] = [44_100.0, 48_000.0, 96_000.0];

/// Steps of so many dBFS for so many seconds, of a 1 kHz sine.
fn steps(rate_hz: f64, steps: &[(f64, f64)]) -> Vec<f64> {
    let mut tone = Vec::new();
    for (dbfs, seconds) in steps {
        for _ in 0..(seconds * rate_hz).round() as usize {
            let turn = TAU * 1_000.0 * tone.len() as f64 / rate_hz;
            tone.push(10f64.powf(dbfs / 20.0) * turn.sin());
        }
    }
    tone
}

fn meter(rate_hz: f64, channels: usize, live: bool) -> Loudness {
    Loudness::prepare(
        SampleRate::new(rate_hz).expect("a served rate"),
        channels,
        live,
    )
}

fn near(what: &str, got: Option<f64>, want: f64, allowed: f64) {
    let got = got.unwrap_or(f64::NEG_INFINITY);
    println!("{what}: {got:.4}, the standard {want} +-{allowed}");
    assert!((got - want).abs() <= allowed, "{what}: {got} for {want}");
}

/// Integrated loudness of a stereo programme.
fn integrated(case: &str, programme: &[(f64, f64)]) {
    for rate_hz in RATES_HZ {
        for live in [false, true] {
            let tone = steps(rate_hz, programme);
            let mut meter = meter(rate_hz, 2, live);
            meter.process(&[&tone, &tone]);
            let what = format!("{case}, {rate_hz} Hz, live {live}");
            near(&what, meter.integrated_lufs(), -23.0, 0.1);
        }
    }
}

#[test]
fn tech_3341_cases_1_and_2() {
    for (case, dbfs) in [("case 1", -23.0), ("case 2", -33.0)] {
        for rate_hz in RATES_HZ {
            let tone = steps(rate_hz, &[(dbfs, 20.0)]);
            let mut meter = meter(rate_hz, 2, false);
            meter.process(&[&tone, &tone]);
            near(case, meter.momentary_lufs(), dbfs, 0.1);
            near(case, meter.short_term_lufs(), dbfs, 0.1);
            near(case, meter.integrated_lufs(), dbfs, 0.1);
        }
    }
}

#[test]
fn tech_3341_case_3() {
    integrated("case 3", &[(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)]);
}

#[test]
fn tech_3341_case_4() {
    let programme = [
        (-72.0, 10.0),
        (-36.0, 10.0),
        (-23.0, 60.0),
        (-36.0, 10.0),
        (-72.0, 10.0),
    ];
    integrated("case 4", &programme);
}

#[test]
fn tech_3341_case_5() {
    integrated("case 5", &[(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)]);
}

#[test]
fn tech_3341_case_6() {
    for rate_hz in RATES_HZ {
        let tones = [-28.0, -28.0, -24.0, -30.0, -30.0].map(|dbfs| steps(rate_hz, &[(dbfs, 20.0)]));
        let mut meter = meter(rate_hz, 5, false);
        let planes: Vec<&[f64]> = tones.iter().map(|tone| &tone[..]).collect();
        meter.process(&planes);
        near("case 6", meter.integrated_lufs(), -23.0, 0.1);
    }
}

/// A reading after each 10 ms that must stay where it is after so many seconds.
fn steady(case: &str, programme: &[(f64, f64)], after: f64, read: fn(&Loudness) -> Option<f64>) {
    for rate_hz in RATES_HZ {
        let tone = steps(rate_hz, programme);
        let mut meter = meter(rate_hz, 2, false);
        let piece = (rate_hz / 100.0) as usize;
        for (n, piece) in tone.chunks(piece).enumerate() {
            meter.process(&[piece, piece]);
            if (n + 1) as f64 / 100.0 >= after {
                let got = read(&meter).unwrap_or(f64::NEG_INFINITY);
                assert!((got + 23.0).abs() <= 0.1, "{case}, {n} x 10 ms: {got}");
            }
        }
    }
}

#[test]
fn tech_3341_case_9() {
    let programme = [(-20.0, 1.34), (-30.0, 1.66)].repeat(5);
    steady("case 9", &programme, 3.0, Loudness::short_term_lufs);
}

#[test]
fn tech_3341_case_12() {
    let programme = [(-20.0, 0.18), (-30.0, 0.22)].repeat(25);
    steady("case 12", &programme, 1.0, Loudness::momentary_lufs);
}

#[test]
fn tech_3342_cases_1_to_4() {
    let cases: [(&str, &[f64], f64); 4] = [
        ("case 1", &[-20.0, -30.0], 10.0),
        ("case 2", &[-20.0, -15.0], 5.0),
        ("case 3", &[-40.0, -20.0], 20.0),
        ("case 4", &[-50.0, -35.0, -20.0, -35.0, -50.0], 15.0),
    ];
    for rate_hz in RATES_HZ {
        for (case, levels, want) in cases {
            for live in [false, true] {
                let programme: Vec<_> = levels.iter().map(|dbfs| (*dbfs, 20.0)).collect();
                let tone = steps(rate_hz, &programme);
                let mut meter = meter(rate_hz, 2, live);
                meter.process(&[&tone, &tone]);
                near(case, Some(meter.range_lu()), want, 1.0);
            }
        }
    }
}

/// A second reader of the same standard: pyloudnorm, on noise-like programmes of two channels.
#[test]
fn pyloudnorm_reads_the_same() {
    let dir = TempDir::new();
    for (n, rate_hz) in [44_100_u32, 48_000, 96_000].into_iter().enumerate() {
        let seed = 2 * n as u64 + 1;
        let left = Wave::programme(rate_hz, 0.5, 8.0, seed);
        let both = Wave::stereo(&left, &Wave::programme(rate_hz, 0.1, 8.0, seed + 1));
        let path = dir.file(&format!("{rate_hz}.wav"));
        both.write(&path);
        let answer = python("loudness.py", &json!([path.to_str()]));
        let channels: [Vec<f64>; 2] = [0, 1].map(|channel| {
            let samples = both.samples[channel..].iter().step_by(2);
            samples.map(|sample| f64::from(*sample)).collect()
        });
        let mut own = meter(f64::from(rate_hz), 2, false);
        own.process(&[&channels[0], &channels[1]]);
        let want = number(&answer, "0");
        near("pyloudnorm", own.integrated_lufs(), want, 0.01);
    }
}
