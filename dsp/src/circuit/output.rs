//! The preamplifier's output impedance.

use super::elements::{GAIN_LOAD_OHMS, GAIN_STEPS_DB, STATED_HZ, step_of};
use super::preamp::{Settings, SmallSignal};
use crate::units::{Db, Ohms};
use std::sync::OnceLock;

/// Output impedance at 1 kHz at a gain step (anything else means the nearest): its magnitude for small
/// signals, from a 150 ohm source.
#[must_use]
pub fn out_ohms(gain: Db) -> Ohms {
    static OHMS: OnceLock<[f64; GAIN_STEPS_DB.len()]> = OnceLock::new();
    let all = OHMS.get_or_init(|| {
        GAIN_STEPS_DB.map(|gain_db| {
            let at = |load_ohms| {
                let settings = Settings {
                    source: Ohms(150.0),
                    attenuator: false,
                    gain: Db(gain_db),
                    load: Ohms(load_ohms),
                    noise: false,
                };
                SmallSignal::at(&settings, STATED_HZ).from_emf
            };
            // Two loads, two voltages of one EMF.
            let (light, heavy) = (GAIN_LOAD_OHMS, 600.0);
            let ratio = at(light) / at(heavy);
            (light * heavy * (1.0 - ratio) / (ratio * heavy - light)).norm()
        })
    });
    Ohms(all[step_of(gain.0)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_rises_with_the_gain_as_the_data_sheet_has_it() {
        // Source: the data sheet's column "output", measured there by another test.
        for (gain_db, ohms) in [(28.0, 68.7), (40.0, 79.6), (64.0, 294.8)] {
            let found = out_ohms(Db(gain_db)).0;
            assert!((found / ohms - 1.0).abs() < 0.01, "{gain_db} dB: {found}");
        }
    }
}
