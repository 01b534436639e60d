//! The demo measured: what its documentation promises, one test each.

use std::f64::consts::TAU;
use std::hint::black_box;
use std::sync::LazyLock;

use fundsp::prelude64::*;

use super::piece::{self, SCORE};
use super::recorder::{self, HISS_DBFS, HUM_HZ_DBFS, KNEE_NEGATIVE, KNEE_POSITIVE, Recording};
use super::{LABEL, SAMPLE_RATE_HZ, demo};

const RATE_HZ: f64 = SAMPLE_RATE_HZ as f64;

/// One rendering for all tests: without optimisation it takes seconds.
static RECORDING: LazyLock<Recording> = LazyLock::new(|| {
    std::thread::spawn(|| recorder::record(&piece::perform()))
        .join()
        .expect("the demo renders")
});

fn between(start_s: f64, end_s: f64) -> &'static [f64] {
    &RECORDING.transfer[(start_s * RATE_HZ) as usize..(end_s * RATE_HZ) as usize]
}

/// RMS level by the AES17 convention: a full-scale sine is 0 dBFS.
fn level_dbfs(samples: &[f64]) -> f64 {
    let power = samples.iter().map(|x| x * x).sum::<f64>() / samples.len() as f64;
    10.0 * (2.0 * power).log10()
}

/// Level of one frequency: discrete Fourier transform under a Hann window (amplitude gain 1/2),
/// in blocks of 0.1 s, averaged as power. A sine at `hz` reads its own level.
fn tone_dbfs(samples: &[f64], hz: f64) -> f64 {
    let length = (0.1 * RATE_HZ) as usize;
    let blocks = samples.chunks_exact(length);
    let count = blocks.len() as f64;
    let power = |block: &[f64]| {
        let (mut re, mut im) = (0.0, 0.0);
        for (frame, x) in block.iter().enumerate() {
            let window = 1.0 - (TAU * frame as f64 / length as f64).cos();
            let (sin, cos) = (TAU * hz * frame as f64 / RATE_HZ).sin_cos();
            re += x * window * cos;
            im += x * window * sin;
        }
        (re * re + im * im) * (2.0 / length as f64).powi(2)
    };
    10.0 * (blocks.map(power).sum::<f64>() / count).log10()
}

/// Mean level of a band, sampled at `count` frequencies on a logarithmic scale.
fn band_dbfs(low_hz: f64, high_hz: f64, count: u32) -> f64 {
    let step = |i: u32| low_hz * (high_hz / low_hz).powf((f64::from(i) + 0.5) / f64::from(count));
    let power = |hz: f64| 10_f64.powf(tone_dbfs(&RECORDING.transfer, hz) / 10.0);
    10.0 * ((0..count).map(|i| power(step(i))).sum::<f64>() / f64::from(count)).log10()
}

#[test]
fn it_is_twenty_seconds_and_labelled_as_invented() {
    assert_eq!(RECORDING.transfer.len(), 960_000);
    assert!(LABEL.starts_with("Invented demo material: "), "{LABEL}");
}

#[test]
fn every_sample_is_a_number_and_the_peak_is_near_minus_3_dbfs() {
    assert!(RECORDING.transfer.iter().all(|x| x.is_finite()));
    let peak = RECORDING
        .transfer
        .iter()
        .fold(0.0, |peak: f64, x| peak.max(x.abs()));
    let peak_dbfs = 20.0 * peak.log10();
    // The programme is set to -3.0; hiss and hum on top of it are below 1 % of full scale.
    assert!((-3.15..=-2.85).contains(&peak_dbfs), "{peak_dbfs} dBFS");
}

#[test]
fn a_second_rendering_is_the_same_and_leaves_the_callers_arithmetic_alone() {
    let again = demo();
    // Denormal numbers still exist in this thread.
    assert!(black_box(f64::MIN_POSITIVE) * black_box(0.5) > 0.0);
    assert_eq!(again.len(), RECORDING.transfer.len());
    let differs = again
        .iter()
        .zip(&RECORDING.transfer)
        .position(|(a, b)| a.to_bits() != b.to_bits());
    assert_eq!(differs, None, "first frame that differs");
}

#[test]
fn there_is_no_direct_current() {
    let mean = RECORDING.transfer.iter().sum::<f64>() / RECORDING.transfer.len() as f64;
    assert!(20.0 * mean.abs().log10() < -100.0, "{mean}");
    // Nor in passing, where one-sided overload could leave some: each second by itself.
    for second in RECORDING.transfer.chunks_exact(SAMPLE_RATE_HZ as usize) {
        let mean = second.iter().sum::<f64>() / second.len() as f64;
        assert!(20.0 * mean.abs().log10() < -50.0, "{mean}");
    }
}

#[test]
fn it_overloads_a_few_times_and_only_when_all_play() {
    let begins = recorder::overloads(&RECORDING.at_amplifier);
    assert!((4..=6).contains(&begins.len()), "{begins:?}");
    let tutti = (piece::TUTTI_START_S * RATE_HZ) as usize;
    assert!(begins.iter().all(|begin| *begin >= tutti), "{begins:?}");
    // Each of them is a clear excess, at least 2 dB over the shorter knee, not a graze.
    for begin in begins {
        let stroke = &RECORDING.at_amplifier[begin..begin + SAMPLE_RATE_HZ as usize / 10];
        let peak = stroke.iter().fold(0.0, |peak: f32, x| peak.max(x.abs()));
        assert!(peak > 1.26 * KNEE_POSITIVE, "{peak} at frame {begin}");
    }
}

#[test]
fn the_amplifier_is_straight_between_its_knees_and_lopsided_beyond() {
    for x in [-KNEE_NEGATIVE, -0.3, 0.0, 0.3, KNEE_POSITIVE] {
        assert_eq!(recorder::bend(x), x);
    }
    let rising: Vec<f32> = (-200..=200_i16)
        .map(|i| recorder::bend(f32::from(i) / 100.0))
        .collect();
    assert!(
        rising
            .windows(2)
            .all(|pair| pair[0] <= pair[1] && pair[1] - pair[0] <= 0.010_001)
    );
    assert!(-recorder::bend(-2.0) > recorder::bend(2.0) + 0.04);
}

#[test]
fn the_band_ends_below_80_hz_and_above_7_khz() {
    let middle_dbfs = band_dbfs(700.0, 1_400.0, 12);
    let above_dbfs = band_dbfs(12_000.0, 20_000.0, 8);
    assert!(
        above_dbfs < middle_dbfs - 40.0,
        "{above_dbfs} against {middle_dbfs} dBFS"
    );
    // Against the drum, the lowest of the instruments.
    let (drum_dbfs, below_dbfs) = (band_dbfs(85.0, 110.0, 4), band_dbfs(20.0, 32.0, 4));
    assert!(
        below_dbfs < drum_dbfs - 20.0,
        "{below_dbfs} against {drum_dbfs} dBFS"
    );
}

#[test]
fn the_microphone_is_thin_and_harsh_in_the_upper_mids() {
    let mut microphone = recorder::microphone();
    let mut lift_db = |hz: f64, against_hz: f64| {
        let gain_db = [hz, against_hz].map(|hz| microphone.response_db(0, hz));
        gain_db[0].expect("it is linear") - gain_db[1].expect("it is linear")
    };
    for hz in [2_500.0, 3_000.0, 3_500.0, 4_000.0] {
        let db = lift_db(hz, 1_000.0);
        assert!((3.0..9.0).contains(&db), "{db} dB at {hz} Hz");
    }
    // A second-order edge: about 3 dB down at 80 Hz, about 12 dB more an octave lower.
    let (edge_db, octave_db) = (lift_db(80.0, 400.0), lift_db(40.0, 80.0));
    assert!((-5.0..-2.0).contains(&edge_db), "{edge_db} dB at 80 Hz");
    assert!(
        (-12.0..-7.0).contains(&octave_db),
        "{octave_db} dB from 80 to 40 Hz"
    );
}

#[test]
fn the_lead_in_is_hiss_and_a_little_hum() {
    let lead_in = between(recorder::FADE_IN_S, piece::LEAD_IN_S);
    let power = |dbfs: f64| 10_f64.powf(dbfs / 10.0);
    let hum: f64 = HUM_HZ_DBFS.iter().map(|(_, dbfs)| power(*dbfs)).sum();
    let expected_dbfs = 10.0 * (power(HISS_DBFS) + hum).log10();
    let measured_dbfs = level_dbfs(lead_in);
    // One second of noise 7 kHz wide fluctuates by 4.3 dB / sqrt(7000) = 0.05 dB; four times that.
    assert!(
        (measured_dbfs - expected_dbfs).abs() < 0.2,
        "{measured_dbfs} dBFS"
    );
    assert!(10.0 * hum.log10() < HISS_DBFS - 6.0);
    let mains_dbfs = tone_dbfs(lead_in, 50.0);
    assert!(
        (mains_dbfs - HUM_HZ_DBFS[0].1).abs() < 1.0,
        "{mains_dbfs} dBFS at 50 Hz"
    );
}

#[test]
fn wow_stays_below_0_3_percent() {
    // IEC 60386 measures wow on a tone of 3150 Hz. Here: its frequency over each 25 ms.
    let mut played = sine_hz(3_150.0) >> recorder::tape();
    let tone = Wave::render(RATE_HZ, 4.0, &mut played);
    let samples = &tone.channel(0)[SAMPLE_RATE_HZ as usize / 10..];
    let crossings: Vec<f64> = samples
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| pair[0] < 0.0 && pair[1] >= 0.0)
        .map(|(frame, pair)| frame as f64 + f64::from(-pair[0] / (pair[1] - pair[0])))
        .collect();
    let periods = 79; // 25 ms
    let hz = crossings
        .windows(periods + 1)
        .map(|w| RATE_HZ * periods as f64 / (w[periods] - w[0]));
    let worst = hz.fold(0.0, |worst: f64, hz| worst.max((hz / 3_150.0 - 1.0).abs()));
    assert!((0.001..0.003).contains(&worst), "{worst}");
}

#[test]
fn quiet_and_loud_passages_differ_by_at_least_8_db() {
    let quiet_dbfs = level_dbfs(between(piece::LEAD_IN_S, piece::LEAD_IN_S + 3.0));
    let loud_dbfs = level_dbfs(between(piece::TUTTI_START_S, piece::TUTTI_START_S + 3.0));
    assert!(
        loud_dbfs - quiet_dbfs > 8.0,
        "{quiet_dbfs} and {loud_dbfs} dBFS"
    );
    assert!(quiet_dbfs > HISS_DBFS + 15.0, "{quiet_dbfs} dBFS");
}

#[test]
fn neither_end_clicks() {
    let ends = [between(0.0, 0.0005), between(19.9995, 20.0)];
    for end in ends {
        let peak = end.iter().fold(0.0, |peak: f64, x| peak.max(x.abs()));
        assert!(20.0 * peak.log10() < -80.0, "{peak}");
    }
}

#[test]
fn the_score_has_six_eighths_a_bar_in_the_mode_and_concert_pitch() {
    for (index, bar) in SCORE.iter().enumerate() {
        for part in bar.parts {
            assert_eq!(
                part.split_whitespace().count(),
                6,
                "bar {}: {part}",
                index + 1
            );
        }
        assert!(
            bar.parts[1]
                .split_whitespace()
                .all(|slot| [".", "x", "X"].contains(&slot))
        );
    }
    // Equal temperament on A4 = 440 Hz (ISO 16), to the printed hundredth.
    for (name, hz) in [
        ("A4", 440.00),
        ("C4", 261.63),
        ("D3", 146.83),
        ("E5", 659.26),
    ] {
        assert!((piece::pitch_hz(name) - hz).abs() < 0.006, "{name}");
    }
}
