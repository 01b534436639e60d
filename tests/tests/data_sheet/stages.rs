//! How hard each gain step makes the tubes work for the same output.

use penstock_dsp::circuit::{GAIN_STEPS_DB, STATED_HZ, SmallSignal};
use penstock_tests::bench::{Bench, Tone, peak_volts, stated};
use penstock_tests::{assert_near, assert_ratio};

/// The table; what the README says of the steps is asserted.
pub fn section() -> String {
    let tones = GAIN_STEPS_DB.map(|step| {
        let settings = stated(step);
        let first = peak_volts(4.0) / SmallSignal::at(&settings, STATED_HZ).from_emf.norm();
        Bench::new(&settings).at_output(STATED_HZ, 4.0, first).0
    });
    let per_volt = |grid: fn(&Tone) -> f64, tone: &Tone| 1e3 * grid(tone) / tone.out[0];
    let (first, second) = (
        tones.map(|tone| per_volt(|tone| tone.grid_1, &tone)),
        tones.map(|tone| per_volt(|tone| tone.grid_2, &tone)),
    );
    for n in 1..tones.len() {
        // Steps of 6 dB: the first grid sees half as much from step to step.
        assert_ratio("first grid", first[n] / first[n - 1], 0.5, 0.03);
        assert_ratio("second grid", second[n], second[0], 0.01);
    }
    for n in 1..4 {
        // Up to 46 dB the distortion is V1's and falls with what its grid sees.
        let fall = tones[n].percent(2) / tones[n - 1].percent(2);
        assert_ratio("second harmonic", fall, 0.5, 0.05);
    }
    // V2 bends the other way: its second harmonic takes from that of V1, and at the top outweighs it.
    let turn = (tones[6].second_degrees - tones[0].second_degrees).rem_euclid(360.0);
    assert_near("second harmonic's turn, degrees", turn, 180.0, 5.0);

    let mut lines = vec![
        "| step | V1 grid per volt out | V2 grid per volt out | V1 grid to V2 grid |".to_owned(),
        "|---|---|---|---|".to_owned(),
    ];
    for (n, step) in GAIN_STEPS_DB.iter().enumerate() {
        lines.push(format!(
            "| {step} dB | {:.1} mV | {:.0} mV | {:.2} times |",
            first[n],
            second[n],
            second[n] / first[n]
        ));
    }
    lines.join("\n")
}
