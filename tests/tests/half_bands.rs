//! The half-band filters against scipy: firwin with scipy's Kaiser beta, freqz for the response.

use penstock_dsp::oversample::HalfBand;
use penstock_tests::{number, python};
use serde_json::{Value, json};

/// Lower rate and pass edge of every half-band in use at the usual rates.
const FILTERS: [(f64, f64); 9] = [
    (16_000.0, 16_000.0 * 20.0 / 44.1),
    (44_100.0, 20_000.0),
    (88_200.0, 20_000.0),
    (176_400.0, 20_000.0),
    (48_000.0, 20_000.0),
    (96_000.0, 20_000.0),
    (192_000.0, 20_000.0),
    (96_000.0, 40_000.0),
    (192_000.0, 80_000.0),
];

#[test]
fn every_half_band_is_scipys_and_stops_110_db() {
    let request: Vec<Value> = FILTERS
        .iter()
        .map(|(rate_hz, pass_hz)| {
            let taps = HalfBand::design(*rate_hz, *pass_hz).taps();
            let stop = HalfBand::STOP_BAND_DB;
            json!({ "taps": taps, "rate_hz": rate_hz, "pass_hz": pass_hz, "stop_band_db": stop })
        })
        .collect();
    let answer = python("half_bands.py", &json!(request));
    let judged = answer.as_array().expect("a list, one entry a filter");
    assert_eq!(judged.len(), FILTERS.len());
    for (filter, judged) in FILTERS.iter().zip(judged) {
        // Ours are scaled so that unity gain is exact at 0 Hz, a change of the size of the
        // pass-band error of a window design: 10^(-122/20) = 8e-7 of the gain.
        let difference = number(judged, "difference");
        assert!(difference < 8e-7, "{filter:?}: {difference}");
        let stop_db = number(judged, "stop_db");
        assert!(stop_db <= -110.0, "{filter:?}: {stop_db} dB");
        // Six passes share 0.0001 dB.
        let pass_error_db = number(judged, "pass_error_db");
        assert!(pass_error_db < 1e-4 / 6.0, "{filter:?}: {pass_error_db} dB");
    }
}
