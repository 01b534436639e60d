//! Weighting of noise: flat, A (IEC 61672-1) and 468 (ITU-R BS.468-4).

use std::f64::consts::TAU;

/// How noise is weighed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weighting {
    /// As it is, 20 Hz to 20 kHz.
    Flat,
    /// The curve of IEC 61672-1, 0 dB at 1 kHz.
    A,
    /// The curve of ITU-R BS.468-4, 0 dB at 1 kHz; read here by RMS, where the standard's own meter
    /// has a quasi-peak detector that reads noise some dB higher.
    Itu468,
}

impl Weighting {
    /// All of them, in the order of [`super::Floor`].
    pub const ALL: [Self; 3] = [Self::Flat, Self::A, Self::Itu468];

    /// The curve as a power ratio at a frequency in hertz.
    #[must_use]
    pub fn power(self, hz: f64) -> f64 {
        match self {
            Self::Flat => 1.0,
            Self::A => a_power(hz),
            Self::Itu468 => itu_power(hz),
        }
    }
}

/// IEC 61672-1, Annex E: poles at 20.6, 107.7, 737.9 and 12194 Hz; +2.000 dB makes 0 dB at 1 kHz.
fn a_power(hz: f64) -> f64 {
    const SQUARES: [f64; 4] = [
        20.598_997 * 20.598_997,
        107.652_65 * 107.652_65,
        737.862_23 * 737.862_23,
        12_194.217 * 12_194.217,
    ];
    let shape = |hz: f64| {
        let square = hz * hz;
        let [one, two, three, four] = SQUARES.map(|pole| square + pole);
        let ratio = SQUARES[3] * square * square / (one * four);
        ratio * ratio / (two * three)
    };
    shape(hz) / shape(1000.0)
}

/// A zero at 0 and six poles (radians a second) fitted to the table of BS.468-4 within 0.07 dB,
/// +12.2 dB at 6.3 kHz.
fn itu_power(hz: f64) -> f64 {
    const REAL: [f64; 2] = [25_903.701, 62_675.170_1];
    const PAIRS: [(f64, f64); 2] = [(23_615.535_2, 36_379.908_9), (18_743.746_7, 62_460.156_5)];
    let shape = |hz: f64| {
        let w = TAU * hz;
        let mut power = w * w;
        for pole in REAL {
            power /= w * w + pole * pole;
        }
        for (re, im) in PAIRS {
            power /= (re * re + (w - im).powi(2)) * (re * re + (w + im).powi(2));
        }
        power
    };
    10_f64.powf(1.22) * shape(hz) / shape(6300.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 61672-1, Table 3: dB at 10, 12.5 ... 20000 Hz (exact: tenths of a decade).
    const A_TABLE: [f64; 34] = [
        -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4,
        -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1,
        -1.1, -2.5, -4.3, -6.6, -9.3,
    ];

    /// ITU-R BS.468-4, Table 1: hertz, dB.
    const ITU_TABLE: [[f64; 2]; 20] = [
        [31.5, -29.9],
        [63.0, -23.9],
        [100.0, -19.8],
        [200.0, -13.8],
        [400.0, -7.8],
        [800.0, -1.9],
        [1000.0, 0.0],
        [2000.0, 5.6],
        [3150.0, 9.0],
        [4000.0, 10.5],
        [5000.0, 11.7],
        [6300.0, 12.2],
        [7100.0, 12.0],
        [8000.0, 11.4],
        [9000.0, 10.1],
        [10_000.0, 8.1],
        [12_500.0, 0.0],
        [14_000.0, -5.3],
        [16_000.0, -11.7],
        [20_000.0, -22.2],
    ];

    #[test]
    fn a_is_the_table_of_iec_61672() {
        for (n, want) in A_TABLE.iter().enumerate() {
            let hz = 10_f64.powf(1.0 + n as f64 / 10.0);
            let got = 10.0 * Weighting::A.power(hz).log10();
            // The table is printed to 0.1 dB.
            assert!((got - want).abs() <= 0.051, "{hz:.1} Hz: {got:.3} {want}");
        }
    }

    #[test]
    fn itu_468_is_the_table_of_bs_468() {
        for [hz, want] in ITU_TABLE {
            // The narrowest tolerance beside a fixed point is 0.2 dB.
            let got = 10.0 * Weighting::Itu468.power(hz).log10();
            assert!((got - want).abs() < 0.07, "{hz} Hz: {got:.3} {want}");
        }
    }
}
