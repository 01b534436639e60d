//! The third harmonic of the iron: against frequency and level.

use penstock_dsp::circuit::SmallSignal;
use penstock_tests::assert_near;
use penstock_tests::bench::{Bench, peak_volts, stated};

const STEPS_DB: [f64; 3] = [40.0, 52.0, 64.0];
const FREQUENCIES_HZ: [f64; 4] = [20.0, 30.0, 40.0, 60.0];
const LEVELS_DBU: [f64; 3] = [4.0, 10.0, 20.0];

/// By frequency and level, in percent.
fn thirds(step: f64) -> [[f64; 3]; 4] {
    let settings = stated(step);
    FREQUENCIES_HZ.map(|hz| {
        let by_emf = SmallSignal::at(&settings, hz).from_emf.norm();
        let mut bench = Bench::new(&settings);
        LEVELS_DBU.map(|dbu| {
            let (tone, _) = bench.at_output(hz, dbu, peak_volts(dbu) / by_emf);
            tone.percent(3)
        })
    })
}

/// The table, with the exponents of level (from +4 to +10 dBu, at 20 and at 40 Hz) and of frequency
/// (from 20 to 40 Hz, at +4 dBu).
pub fn section() -> String {
    let mut lines = vec![
        "| H3 at +4 / +10 / +20 dBu | 20 Hz | 30 Hz | 40 Hz | 60 Hz | level exponent | frequency exponent |"
            .to_owned(),
        "|---|---|---|---|---|---|---|".to_owned(),
    ];
    for step in STEPS_DB {
        let thirds = thirds(step);
        let volts = 10f64.powf((LEVELS_DBU[1] - LEVELS_DBU[0]) / 20.0);
        let by_level = |row: [f64; 3]| (row[1] / row[0]).ln() / volts.ln();
        let by_frequency = (thirds[2][0] / thirds[0][0]).ln() / 2f64.ln();
        // A core's third harmonic goes with the square of the flux: of volts over frequency. The
        // law of the iron is a little steeper in frequency (see `Core`).
        for row in [thirds[0], thirds[2]] {
            assert_near(&format!("{step} dB, level"), by_level(row), 2.0, 0.05);
        }
        assert_near(&format!("{step} dB, frequency"), by_frequency, -2.25, 0.25);
        let cells: String = thirds
            .iter()
            .map(|row| format!(" {:.3} / {:.2} / {:.1} % |", row[0], row[1], row[2]))
            .collect();
        lines.push(format!(
            "| {step} dB |{cells} {:.2} | {by_frequency:.2} |",
            by_level(thirds[0])
        ));
    }
    lines.join("\n")
}
