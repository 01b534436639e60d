//! What other sources than 150 ohm do.

use penstock_dsp::circuit::{GAIN_STEPS_DB, STATED_HZ, Settings, SmallSignal};
use penstock_dsp::units::Ohms;
use penstock_tests::assert_near;
use penstock_tests::bench::{decibels, stated};

const SOURCES_OHMS: [f64; 3] = [50.0, 150.0, 600.0];

/// Gain from the EMF against that from 150 ohm, response at 20 Hz and 20 kHz.
fn change(step: f64, source_ohms: f64) -> [f64; 3] {
    let from = |ohms, hz| {
        let settings = Settings {
            source: Ohms(ohms),
            ..stated(step)
        };
        SmallSignal::at(&settings, hz)
    };
    let volts = |ohms, hz| from(ohms, hz).from_emf.norm();
    let gain = decibels(volts(source_ohms, STATED_HZ) / volts(150.0, STATED_HZ));
    // A divider of source and input impedance says the same.
    let input = from(150.0, STATED_HZ).in_ohms;
    let divider = ((input + 150.0) / (input + source_ohms)).norm();
    assert_near("gain by the divider", gain, decibels(divider), 0.01);
    let response = |hz| decibels(volts(source_ohms, hz) / volts(source_ohms, STATED_HZ));
    [gain, response(20.0), response(20e3)]
}

/// The table: by source the gain, and the least and the most over the steps.
pub fn section() -> String {
    let mut lines = vec![
        "| source | gain from the EMF | 20 Hz, over all steps | 20 kHz, over all steps |"
            .to_owned(),
        "|---|---|---|---|".to_owned(),
    ];
    for source_ohms in SOURCES_OHMS {
        let changes = GAIN_STEPS_DB.map(|step| change(step, source_ohms));
        let least = |n: usize| changes.iter().map(|c| c[n]).fold(f64::INFINITY, f64::min);
        let most = |n: usize| changes.iter().map(|c| c[n]).fold(-f64::INFINITY, f64::max);
        // The input does not depend on the step, or routes would change level with it.
        assert_near("gain over the steps", most(0) - least(0), 0.0, 0.01);
        if source_ohms <= 150.0 {
            assert!(least(1) > -0.5 && most(1) < 0.5, "{source_ohms} ohm, 20 Hz");
            assert!(
                least(2) > -0.5 && most(2) < 0.5,
                "{source_ohms} ohm, 20 kHz"
            );
        }
        lines.push(format!(
            "| {source_ohms} ohm | {:+.2} dB | {:+.2} to {:+.2} dB | {:+.2} to {:+.2} dB |",
            changes[0][0],
            least(1),
            most(1),
            least(2),
            most(2)
        ));
    }
    lines.join("\n")
}
