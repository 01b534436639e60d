//! The input attenuator: its loss, and what stands on its two sides.

use penstock_dsp::circuit::{
    ELEMENTS, GAIN_STEPS_DB, Kind, STATED_HZ, Settings, SmallSignal, Value,
};
use penstock_dsp::units::parallel;
use penstock_tests::bench::{Bench, decibels, peak_volts, stated};
use penstock_tests::{assert_near, assert_ratio};

fn ohms(name: &str) -> f64 {
    let part = ELEMENTS.iter().find(|element| element.name == name);
    match part.map(|element| element.kind) {
        Some(Kind::Resistor(Value::Attenuator(ohms))) => ohms,
        other => panic!("{name} is no part of the attenuator: {other:?}"),
    }
}

/// A sentence.
pub fn section() -> String {
    let (mut losses, mut inputs) = (Vec::new(), Vec::new());
    for step in GAIN_STEPS_DB {
        let out = stated(step);
        let settings = Settings {
            attenuator: true,
            ..out
        };
        let [without, with] = [out, settings].map(|s| SmallSignal::at(&s, STATED_HZ));
        losses.push(decibels((without.gain / with.gain).norm()));
        inputs.push(with.in_ohms.norm());
        // In motion, from the terminals to T1.
        let tone = Bench::new(&settings).tone(STATED_HZ, peak_volts(-20.0));
        let moving = decibels(tone.mic_in / tone.transformer_in);
        assert_near("loss in motion", moving, losses[losses.len() - 1], 0.01);
    }
    for (loss, input) in losses.iter().zip(&inputs) {
        assert_near("loss of the attenuator", *loss, 20.0, 0.3);
        assert_ratio("input impedance with it", *input, 1500.0, 0.2);
    }
    let legs = ohms("R1") + ohms("R2");
    let seen = [50.0, 150.0, 600.0].map(|source| parallel(ohms("R3"), legs + source));
    for ohms in seen {
        assert!((100.0..=250.0).contains(&ohms), "T1 sees {ohms} ohm");
    }
    format!(
        "Attenuator: loss {:.2} dB, input impedance {:.2} kohm; T1 sees {:.1} ohm from a 50 ohm \
         source, {:.1} from 150, {:.1} from 600.",
        losses[2],
        inputs[2] / 1e3,
        seen[0],
        seen[1],
        seen[2]
    )
}
