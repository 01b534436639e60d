//! Levels in words: few digits, always in the same place.

use super::PointReadout;

/// RMS volts of 0 dBu: 1 mW in 600 ohm.
const DBU_VOLTS: f64 = 0.774_596_669_241_483_4;
/// Below this nobody needs a number; it reads as no level at all.
const FLOOR_DB: f64 = -200.0;

/// A level in dB, two decimals; silence is minus infinity.
pub(crate) fn level(volts: f64, reference_volts: f64) -> String {
    let db = 20.0 * (volts / reference_volts).log10();
    if db.is_nan() {
        "?".to_owned()
    } else if db < FLOOR_DB {
        "-\u{221e}".to_owned()
    } else {
        // Adding zero turns a rounded minus zero into zero.
        format!("{:.2}", (db * 100.0).round() / 100.0 + 0.0)
    }
}

/// Volts with an engineering prefix and four digits.
pub(crate) fn volts(volts: f64) -> String {
    if volts.is_nan() {
        return "?".to_owned();
    }
    // 9.9995 of a unit rounds to 10.00: the digits follow the rounded value.
    let (scaled, unit) = match volts.abs() {
        v if v >= 0.999_95 => (volts, "V"),
        v if v >= 0.999_95e-3 => (volts * 1e3, "mV"),
        v if v >= 0.999_95e-6 => (volts * 1e6, "\u{b5}V"),
        v if v >= 1e-9 => (volts * 1e9, "nV"),
        _ => return "0 V".to_owned(),
    };
    let digits = match scaled.abs() {
        v if v < 9.9995 => 3,
        v if v < 99.995 => 2,
        v if v < 999.95 => 1,
        _ => 0,
    };
    format!("{scaled:.digits$} {unit}")
}

/// The RMS level of the sine of the same peak, in volts: what a ceiling is compared with.
pub(crate) fn sine_volts(peak_volts: f64) -> f64 {
    peak_volts * std::f64::consts::FRAC_1_SQRT_2
}

/// One point as six texts: dBFS, dBu and volts of the RMS, then of the peak.
pub(crate) fn cells(point: &PointReadout) -> [String; 6] {
    let dbfs = |volts| {
        point
            .full_scale_volts
            .map_or_else(String::new, |full| level(volts, full))
    };
    let peak = sine_volts(point.peak_volts);
    [
        dbfs(point.rms_volts),
        level(point.rms_volts, DBU_VOLTS),
        volts(point.rms_volts),
        dbfs(peak),
        level(peak, DBU_VOLTS),
        volts(point.peak_volts),
    ]
}

/// A whole number with thin gaps between thousands.
pub(crate) fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::with_capacity(digits.len() * 2);
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push('\u{2009}');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    // 0 dBu = 0.7746 V, +4 dBu = 1.2277 V, 0 dBV = +2.218 dBu (AES-6id, IEC 60268-17 practice).
    #[test]
    fn known_levels() {
        assert_eq!(level(0.774_597, DBU_VOLTS), "0.00");
        assert_eq!(level(1.227_65, DBU_VOLTS), "4.00");
        assert_eq!(level(1.0, DBU_VOLTS), "2.22");
        assert_eq!(level(0.0, 1.0), "-\u{221e}");
        assert_eq!(level(0.999_99, 1.0), "0.00");
        assert_eq!(level(f64::NAN, 1.0), "?");
    }

    #[test]
    fn volts_keep_four_digits() {
        for (value, text) in [
            (1.234_56, "1.235 V"),
            (9.999_6, "10.00 V"),
            (123.44, "123.4 V"),
            (0.999_96, "1.000 V"),
            (0.012_345, "12.35 mV"),
            (99.996e-6, "100.0 \u{b5}V"),
            (3.2e-9, "3.200 nV"),
            (0.0, "0 V"),
        ] {
            assert_eq!(volts(value), text);
        }
    }

    #[test]
    fn a_full_scale_sine_reads_zero_both_ways() {
        let point = PointReadout {
            rms_volts: 9.752,
            peak_volts: 9.752 * 2f64.sqrt(),
            full_scale_volts: Some(9.752),
            ..PointReadout::default()
        };
        let texts = cells(&point);
        assert_eq!((texts[0].as_str(), texts[3].as_str()), ("0.00", "0.00"));
        // +22 dBu is 9.752 V.
        assert_eq!((texts[1].as_str(), texts[4].as_str()), ("22.00", "22.00"));
    }

    #[test]
    fn thousands_are_grouped() {
        assert_eq!(count(0), "0");
        assert_eq!(count(999), "999");
        assert_eq!(count(1_234_567), "1\u{2009}234\u{2009}567");
    }
}
