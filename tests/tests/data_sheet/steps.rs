//! Gain, response, impedances and distortion of every gain step.

use penstock_dsp::circuit::{GAIN_LOAD_OHMS, GAIN_STEPS_DB, STATED_HZ, Settings, SmallSignal};
use penstock_dsp::units::Ohms;
use penstock_tests::bench::{Bench, decibels, peak_volts, stated};
use penstock_tests::{assert_near, assert_ratio};

/// A heavy load, the classic line input.
const HEAVY_OHMS: f64 = 600.0;
/// Level of the response's check in motion.
const QUIET_DBU: f64 = -20.0;
/// Level at which distortion is stated.
const NOMINAL_DBU: f64 = 4.0;
/// Below 1 % at every step and load.
const CLEAN_DBU: f64 = 10.0;

/// From 20 Hz to 20 kHz and beyond neither, eight to an octave.
fn audible() -> impl Iterator<Item = f64> {
    (0..=80).map(|n| 20.0 * 1000f64.powf(f64::from(n) / 80.0))
}

/// Output volts by the EMF against those at 1 kHz, small signal.
fn response_db(settings: &Settings, hz: f64) -> f64 {
    let volts = |hz| SmallSignal::at(settings, hz).from_emf.norm();
    decibels(volts(hz) / volts(STATED_HZ))
}

/// The gain within 0.3 dB, the response within 0.5 dB; both also in motion, at -20 dBu out.
fn gain_and_response(settings: &Settings) -> [f64; 3] {
    let name = settings.gain.0;
    let gain = decibels(SmallSignal::at(settings, STATED_HZ).gain.norm());
    assert_near(&format!("gain of {name} dB"), gain, name, 0.3);
    for hz in audible() {
        assert_near(
            &format!("{name} dB, response at {hz:.0} Hz"),
            response_db(settings, hz),
            0.0,
            0.5,
        );
    }
    let emf_peak = |hz| peak_volts(QUIET_DBU) / SmallSignal::at(settings, hz).from_emf.norm();
    for hz in [20.0, STATED_HZ, 20_000.0] {
        let tone = Bench::new(settings).tone(hz, emf_peak(hz));
        let moving = decibels(tone.out[0] / tone.mic_in);
        let small = decibels(SmallSignal::at(settings, hz).gain.norm());
        let what = format!("{name} dB at {hz} Hz in motion");
        assert_near(&what, moving, small, 0.01);
        assert_near(&what, tone.dbu(), QUIET_DBU, 0.01);
    }
    [
        gain,
        response_db(settings, 20.0),
        response_db(settings, 20e3),
    ]
}

/// Input impedance at 1 kHz and the least from 50 Hz to 10 kHz, output impedance at 1 kHz.
fn impedances(settings: &Settings) -> [f64; 3] {
    let in_ohms = |hz| SmallSignal::at(settings, hz).in_ohms.norm();
    let at_1_khz = in_ohms(STATED_HZ);
    assert_ratio("input impedance at 1 kHz", at_1_khz, 1500.0, 0.2);
    let least = audible()
        .filter(|hz| (50.0..=10_000.0).contains(hz))
        .chain([50.0, 10_000.0])
        .map(in_ohms)
        .fold(f64::INFINITY, f64::min);
    // What a 150 to 200 ohm source is made for: five times its impedance and more.
    assert!(least > 1_000.0, "input impedance falls to {least} ohm");
    let into = |load: f64| {
        let load = Ohms(load);
        SmallSignal::at(&Settings { load, ..*settings }, STATED_HZ).from_emf
    };
    let (light, heavy) = (into(GAIN_LOAD_OHMS), into(HEAVY_OHMS));
    let out = (light - heavy) / (heavy / HEAVY_OHMS - light / GAIN_LOAD_OHMS);
    [at_1_khz, least, out.norm()]
}

/// Second and third harmonic and all of them at +4 dBu out, in percent.
fn distortion(settings: &Settings) -> [f64; 3] {
    let first = peak_volts(NOMINAL_DBU) / SmallSignal::at(settings, STATED_HZ).from_emf.norm();
    let (tone, _) = Bench::new(settings).at_output(STATED_HZ, NOMINAL_DBU, first);
    if settings.gain.0 == 40.0 {
        let thd = tone.thd_percent();
        assert!((0.05..=0.4).contains(&thd), "THD at 40 dB: {thd} %");
        let others = (3..=10)
            .map(|order| tone.percent(order))
            .fold(0.0, f64::max);
        let second = tone.percent(2);
        assert!(
            second > 10.0 * others,
            "second {second} %, others {others} %"
        );
    }
    [tone.percent(2), tone.percent(3), tone.thd_percent()]
}

/// Where 1 % and 3 % are reached.
fn limits_dbu(settings: &Settings) -> [f64; 2] {
    let first = peak_volts(CLEAN_DBU) / SmallSignal::at(settings, STATED_HZ).from_emf.norm();
    Bench::new(settings).dbu_at_thd(STATED_HZ, [1.0, 3.0], first)
}

/// The table.
pub fn section() -> String {
    let mut lines = vec![
        "| step | gain | 20 Hz / 20 kHz | input 1 kHz / least | output | +4 dBu: H2 / H3 / THD \
         | 1 % THD at, 10 kohm / 600 ohm | 3 % THD at |"
            .to_owned(),
        "|---|---|---|---|---|---|---|---|".to_owned(),
    ];
    for step in GAIN_STEPS_DB {
        let settings = stated(step);
        let [gain, low, high] = gain_and_response(&settings);
        let [input, least, output] = impedances(&settings);
        let [second, third, thd] = distortion(&settings);
        let light = limits_dbu(&settings);
        let heavy = limits_dbu(&Settings {
            load: Ohms(HEAVY_OHMS),
            ..settings
        });
        lines.push(format!(
            "| {step} dB | {gain:.2} dB | {low:+.2} / {high:+.2} dB \
             | {:.2} / {:.2} kohm | {output:.1} ohm | {second:.3} / {third:.3} / {thd:.3} % \
             | {:+.1} / {:+.1} dBu | {:+.1} / {:+.1} dBu |",
            input / 1e3,
            least / 1e3,
            light[0],
            heavy[0],
            light[1],
            heavy[1]
        ));
    }
    lines.join("\n")
}
