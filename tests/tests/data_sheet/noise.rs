//! Noise: what stands at the output, and what that is at the input.

use penstock_dsp::circuit::{
    BOLTZMANN, GAIN_STEPS_DB, ROOM_KELVIN, Settings, equivalent_input_noise, output_noise_volts,
};
use penstock_dsp::units::{Dbu, Ohms, Volts};
use penstock_tests::bench::stated;

/// The least that can be said of any preamplifier: the noise of a resistor, 20 Hz to 20 kHz.
fn resistor(ohms: f64) -> Dbu {
    let squared = 4.0 * BOLTZMANN * ROOM_KELVIN * ohms * (20_000.0 - 20.0);
    Dbu::from_volts(Volts(squared.sqrt()))
}

/// The table.
pub fn section() -> String {
    let source = stated(40.0).source;
    let mut lines = vec![
        "| noise, 20 Hz to 20 kHz | equivalent input noise | above that of the 150 ohm | at the output \
         | equivalent input noise, from 50 / 600 ohm |"
            .to_owned(),
        "|---|---|---|---|---|".to_owned(),
    ];
    for step in GAIN_STEPS_DB {
        let settings = stated(step);
        let ein = equivalent_input_noise(&settings);
        // A bridging input with its transformer noise is good when it is this quiet.
        assert!(ein.0 <= -125.0, "{step} dB: {ein:?}");
        let above = ein - resistor(source.0);
        assert!(above.0 > 0.0, "{step} dB is quieter than its source");
        let from = |ohms: f64| {
            let source = Ohms(ohms);
            equivalent_input_noise(&Settings { source, ..settings }).0
        };
        lines.push(format!(
            "| {step} dB | {:.1} dBu | {:.1} dB | {:.1} dBu | {:.1} / {:.1} dBu |",
            ein.0,
            above.0,
            Dbu::from_volts(output_noise_volts(&settings)).0,
            from(50.0),
            from(600.0),
        ));
    }
    lines.join("\n")
}
