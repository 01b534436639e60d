//! The solver that sounds against the plain one of [`penstock_tests::judge`]: same EMF, same times.
//!
//! Both go by the same table of elements, so this judges the equations and the solution, not the
//! design. The EMF is what a 40 dB pad would leave of a line level; the bounds are on the RMS of the
//! difference over the RMS of the signal, at every point. The judge's own error, seen between its two
//! steps, is what limits the hot cases.

use penstock_dsp::circuit::{GAIN_STEPS_DB, Preamp, Settings, Taps};
use penstock_dsp::units::{Db, Ohms};
use penstock_tests::judge::{Judge, POINTS, judged, off_db, richardson, signals, sounding};
use penstock_tests::{assert_ratio, long};

/// 64 times 48 kHz.
const COARSE_HZ: f64 = 64.0 * 48_000.0;
/// Loss of the pad that the line levels are named before.
const PAD_DB: f64 = 40.0;
/// Above this output a setting counts as hot: the second stage clips.
const HOT_OUT_DBU: f64 = 20.0;

const SETTINGS: Settings = Settings {
    source: Ohms(150.0),
    attenuator: false,
    gain: Db(40.0),
    load: Ohms(10_000.0),
    noise: false,
};

#[derive(Clone, Copy, Debug)]
enum Signal {
    Sine,
    TwentyTones,
}

/// At 64 times 48 kHz the two differ by no more than this.
fn bound_db(settings: &Settings, line_dbu: f64, signal: Signal) -> f64 {
    let attenuator_db = if settings.attenuator { 20.0 } else { 0.0 };
    let out_dbu = line_dbu - PAD_DB - attenuator_db + settings.gain.0;
    match signal {
        _ if out_dbu <= HOT_OUT_DBU => -140.0,
        Signal::Sine => -120.0,
        Signal::TwentyTones => -85.0,
    }
}

/// Compares every point; says what came out.
fn compare(settings: &Settings, line_dbu: f64, signal: Signal) {
    let volts = signals::volts(line_dbu - PAD_DB);
    match signal {
        Signal::Sine => compare_emf(settings, line_dbu, signal, &|t| volts * signals::sine(t)),
        Signal::TwentyTones => {
            let tones = signals::twenty_tones();
            compare_emf(settings, line_dbu, signal, &|t| volts * tones(t));
        }
    }
}

fn compare_emf(settings: &Settings, line_dbu: f64, signal: Signal, emf: &impl Fn(f64) -> f64) {
    let seconds = if long() { 0.2 } else { 0.06 };
    let frames = (seconds * COARSE_HZ) as usize;
    let coarse = judged(settings, COARSE_HZ, frames, emf);
    let fine = judged(settings, 2.0 * COARSE_HZ, 2 * frames, emf);
    let got = sounding(settings, COARSE_HZ, frames, emf);
    let what = format!(
        "{} dB, attenuator {}, {} into {} ohm, {signal:?} at {line_dbu} dBu",
        settings.gain.0, settings.attenuator, settings.source.0, settings.load.0
    );
    let mut failed = Vec::new();
    for (name, point) in POINTS {
        let want = richardson(&coarse, &fine, point);
        let of = |taps: &mut dyn Iterator<Item = &Taps>| taps.map(point).collect::<Vec<f64>>();
        let off = off_db(&of(&mut got.iter()), &want);
        let own = off_db(&of(&mut fine.iter().step_by(2)), &want);
        println!("{what}: {name} {off:.1} dB (the judge's finer run {own:.1} dB)");
        if off.is_nan() || off > bound_db(settings, line_dbu, signal) {
            failed.push((name, off));
        }
    }
    assert!(failed.is_empty(), "{what}: {failed:?}");
}

fn compare_levels(gain_db: f64) {
    let settings = Settings {
        gain: Db(gain_db),
        ..SETTINGS
    };
    let ordinary: &[f64] = &[4.0];
    for line_dbu in if long() {
        &[-20.0, 4.0, 20.0]
    } else {
        ordinary
    } {
        compare(&settings, *line_dbu, Signal::TwentyTones);
        if long() {
            compare(&settings, *line_dbu, Signal::Sine);
        }
    }
}

#[test]
fn at_28_db() {
    compare_levels(28.0);
}

#[test]
fn at_40_db() {
    compare_levels(40.0);
}

#[test]
fn at_52_db() {
    compare_levels(52.0);
}

#[test]
fn at_64_db() {
    compare_levels(64.0);
}

#[test]
fn driven_hard() {
    compare(&SETTINGS, 20.0, Signal::TwentyTones);
    let gain = Db(64.0);
    compare(&Settings { gain, ..SETTINGS }, 20.0, Signal::Sine);
}

#[test]
fn with_the_attenuator() {
    let attenuator = true;
    let gain = Db(52.0);
    let settings = Settings {
        attenuator,
        gain,
        ..SETTINGS
    };
    compare(&settings, 20.0, Signal::TwentyTones);
}

#[test]
fn into_600_ohm() {
    let load = Ohms(600.0);
    compare(&Settings { load, ..SETTINGS }, 12.0, Signal::TwentyTones);
}

#[test]
fn from_50_and_from_600_ohm() {
    for source in [Ohms(50.0), Ohms(600.0)] {
        compare(&Settings { source, ..SETTINGS }, 4.0, Signal::TwentyTones);
    }
}

#[test]
fn the_operating_points_are_the_same() {
    for gain in GAIN_STEPS_DB {
        for attenuator in [false, true] {
            let settings = Settings {
                gain: Db(gain),
                attenuator,
                ..SETTINGS
            };
            let judge = Judge::at_rest(&settings, 1.0 / COARSE_HZ).operating_points();
            let got = Preamp::prepare(&settings, COARSE_HZ).operating_points();
            assert_eq!(judge.len(), got.len());
            for (want, got) in judge.iter().zip(got) {
                let near = |what: &str, got: f64, want: f64| assert_ratio(what, got, want, 1e-10);
                near("grid_volts", got.grid_volts, want.grid_volts);
                near("plate_volts", got.plate_volts, want.plate_volts);
                near("plate_amps", got.plate_amps, want.plate_amps);
                let (siemens, wanted) =
                    (got.transconductance_siemens, want.transconductance_siemens);
                near("transconductance", siemens, wanted);
                near("plate_ohms", got.plate_ohms, want.plate_ohms);
            }
        }
    }
}

/// The comparison is sharp enough to see a hundred-thousandth in one resistor.
#[test]
fn a_wrong_load_is_seen() {
    let load = Ohms(10_000.1);
    let other = Settings { load, ..SETTINGS };
    let (frames, rate_hz) = (60_000, COARSE_HZ);
    let want = judged(&SETTINGS, rate_hz, frames, &signals::sine);
    let got = judged(&other, rate_hz, frames, &signals::sine);
    let of = |taps: &[Taps]| taps.iter().map(|taps| taps.preamp_out).collect::<Vec<_>>();
    let off = off_db(&of(&got), &of(&want));
    assert!(off > -130.0, "{off}");
}

/// Halving the step quarters the judge's error: it has no other fault than its step.
#[test]
fn the_judge_is_of_second_order() {
    let tones = signals::twenty_tones();
    let emf = |seconds: f64| signals::volts(-36.0) * tones(seconds);
    let frames = 10_000;
    let runs = [1_usize, 2, 4].map(|factor| {
        let rate_hz = factor as f64 * COARSE_HZ / 4.0;
        let taps = judged(&SETTINGS, rate_hz, factor * frames, &emf);
        let out = taps.iter().step_by(factor).map(|taps| taps.preamp_out);
        out.collect::<Vec<_>>()
    });
    let fewer = off_db(&runs[0], &runs[1]) - off_db(&runs[1], &runs[2]);
    assert!((fewer - 12.04).abs() < 0.3, "{fewer}");
}
