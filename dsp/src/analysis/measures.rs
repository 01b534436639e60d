//! Distortion figures of a waveform whose lines are known.
//!
//! THD re the fundamental (IEC 60268-3, 14.12.3); THD+N as AES17 reads it: what a notch at the tone leaves
//! from 20 Hz to 20 kHz, over the whole; modulation distortion (IEC 60268-3, 14.12.7, the method of
//! SMPTE) and difference-frequency distortion (14.12.8, CCIF). Clauses from memory.

/// Total harmonic distortion re the fundamental in percent, of amplitudes, the tone's first; `None`
/// without a tone.
#[must_use]
pub fn thd_percent(amplitudes: &[f64]) -> Option<f64> {
    let (first, rest) = amplitudes.split_first()?;
    percent(rest.iter().map(|a| a * a).sum::<f64>().sqrt(), *first)
}

/// THD+N in percent: harmonics (peak amplitudes, the tone's first) and noise (RMS, 20 Hz to 20 kHz, in
/// the same unit), re everything; `None` without a signal. The notch is taken to be narrow.
#[must_use]
pub fn thd_n_percent(amplitudes: &[f64], noise_rms: f64) -> Option<f64> {
    let square = |a: &f64| 0.5 * a * a;
    let whole: f64 = amplitudes.iter().map(square).sum::<f64>() + noise_rms * noise_rms;
    let tone = amplitudes.first().map_or(0.0, square);
    percent((whole - tone).max(0.0).sqrt(), whole.sqrt())
}

/// Modulation distortion in percent, of lines by bin: a low tone (about four times as large) and a high
/// one. Second order: f2 - f1 and f2 + f1 added; third: f2 - 2 f1 and f2 + 2 f1; root of both squares, re
/// the high tone.
#[must_use]
pub fn smpte_percent(lines: &[f64], low: usize, high: usize) -> Option<f64> {
    let at = |bin: usize| lines.get(bin).copied().unwrap_or_default();
    let pair = |order: usize| {
        at(high.checked_sub(order * low).unwrap_or(usize::MAX)) + at(high + order * low)
    };
    percent(pair(1).hypot(pair(2)), at(high))
}

/// Difference-frequency distortion in percent, of lines by bin: two high tones alike. Second order:
/// f2 - f1; third: 2 f1 - f2 and 2 f2 - f1 added; root of both squares, re the sum of the tones.
#[must_use]
pub fn ccif_percent(lines: &[f64], one: usize, other: usize) -> Option<f64> {
    let at = |bin: usize| lines.get(bin).copied().unwrap_or_default();
    let (low, high) = (one.min(other), one.max(other));
    let third = at((2 * low).checked_sub(high).unwrap_or(usize::MAX)) + at(2 * high - low);
    percent(at(high - low).hypot(third), at(low) + at(high))
}

fn percent(part: f64, whole: f64) -> Option<f64> {
    let ratio = part / whole;
    ratio.is_finite().then_some(100.0 * ratio)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Harmonics;
    use std::f64::consts::TAU;

    const SAMPLES: usize = 9_600;
    const RATE_HZ: f64 = 192_000.0;

    /// y = x + a2 x^2 + a3 x^3 of sines (hertz, amplitude) over 50 ms.
    fn curve(tones: &[(f64, f64)]) -> Vec<f64> {
        let sine = |n: usize, (hz, size): &(f64, f64)| size * (TAU * hz * n as f64 / RATE_HZ).sin();
        (0..SAMPLES)
            .map(|n| tones.iter().map(|tone| sine(n, tone)).sum::<f64>())
            .map(|x| x + A2 * x * x + A3 * x * x * x)
            .collect()
    }

    const A2: f64 = 0.02;
    const A3: f64 = 0.01;

    fn near(got: Option<f64>, want: f64) {
        let got = got.expect("a signal");
        assert!((got / want - 1.0).abs() < 1e-9, "{got} {want}");
    }

    /// Closed forms: sin^2 and sin^3 by their multiple angles.
    #[test]
    fn harmonics_of_a_cubic() {
        let size = 0.5;
        let got = Harmonics::of(SAMPLES, 50, 20).amplitudes(&curve(&[(1_000.0, size)]));
        let first = size + 0.75 * A3 * size.powi(3);
        let (second, third) = (0.5 * A2 * size * size, 0.25 * A3 * size.powi(3));
        near(Some(got[1] / got[0] * 100.0), 0.499_064_254_522_770_5);
        near(thd_percent(&got), 100.0 * second.hypot(third) / first);
        // With noise of a tenth of a percent of the tone's RMS.
        let noise = 1e-3 * first * 0.5_f64.sqrt();
        let residue = (0.5 * (second * second + third * third) + noise * noise).sqrt();
        let whole = (residue * residue + 0.5 * first * first).sqrt();
        near(thd_n_percent(&got, noise), 100.0 * residue / whole);
    }

    /// 60 Hz and 7 kHz, 4:1: 1.61391 % by the products' closed forms.
    #[test]
    fn modulation_distortion_of_a_cubic() {
        let (low, high) = (0.4, 0.1);
        let lines = Harmonics::of(SAMPLES, 50, 20).lines(&curve(&[(60.0, low), (7_000.0, high)]));
        let second = 2.0 * A2 * low * high;
        let third = 2.0 * 0.75 * A3 * low * low * high;
        let tone = high * (1.0 + A3 * (0.75 * high * high + 1.5 * low * low));
        near(
            smpte_percent(&lines, 3, 350),
            100.0 * second.hypot(third) / tone,
        );
        let got = smpte_percent(&lines, 3, 350).expect("a signal");
        assert!((got - 1.61391).abs() < 1e-5, "{got}");
    }

    /// 19 and 20 kHz, 1:1.
    #[test]
    fn difference_frequency_distortion_of_a_cubic() {
        let size = 0.25;
        let lines =
            Harmonics::of(SAMPLES, 50, 20).lines(&curve(&[(19_000.0, size), (20_000.0, size)]));
        let second = A2 * size * size;
        let third = 2.0 * 0.75 * A3 * size.powi(3);
        let tones = 2.0 * size * (1.0 + 2.25 * A3 * size * size);
        near(
            ccif_percent(&lines, 950, 1_000),
            100.0 * second.hypot(third) / tones,
        );
    }
}
