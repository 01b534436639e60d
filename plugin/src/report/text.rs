//! Text for people and for markup: escaping, numbers with a true minus sign, units that never
//! part from their number.
//!
//! Every number of a report passes through here, so that decimals and signs agree everywhere and
//! nothing that is not finite is ever printed.

/// No-break space, between a number and its unit.
pub const NBSP: char = '\u{a0}';
/// Shown for what is not defined.
pub const DASH: &str = "–";

/// Makes text safe inside markup and quoted attributes. Control characters other than line ends
/// and tabs, which no markup may hold, become the replacement character.
pub fn esc(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(c),
            '\r' => {}
            c if c.is_control() => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// A number with a fixed count of decimals and a typographic minus; never "minus zero".
pub fn decimal(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return DASH.to_string();
    }
    let digits = format!("{:.*}", decimals, value.abs());
    let is_zero = digits.bytes().all(|b| b == b'0' || b == b'.');
    if value < 0.0 && !is_zero {
        format!("−{digits}")
    } else {
        digits
    }
}

/// Like [`decimal`], with a plus sign before what is above zero.
pub fn signed(value: f64, decimals: usize) -> String {
    let digits = decimal(value, decimals);
    let is_zero = digits.bytes().all(|b| b == b'0' || b == b'.');
    if value > 0.0 && value.is_finite() && !is_zero {
        format!("+{digits}")
    } else {
        digits
    }
}

/// [`decimal`] of a value that may be missing.
pub fn decimal_or_dash(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| DASH.to_string(), |v| decimal(v, decimals))
}

/// [`signed`] of a value that may be missing.
pub fn signed_or_dash(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| DASH.to_string(), |v| signed(v, decimals))
}

/// A number and its unit, held together; a dash stays alone.
pub fn with_unit(number: &str, unit: &str) -> String {
    if number == DASH {
        number.to_string()
    } else {
        format!("{number}{NBSP}{unit}")
    }
}

/// Sets plain text as this page sets its own: no break between a figure and a unit of the trade,
/// and a true minus before a figure. Not for plan keys, values and file names.
pub fn typeset(text: &str) -> String {
    const UNITS: [&str; 11] = [
        "dB", "dBu", "dBFS", "V", "mV", "Ω", "kΩ", "ohm", "Hz", "kHz", "s",
    ];
    let mut out = String::with_capacity(text.len());
    for (i, word) in text.split(' ').enumerate() {
        let bare = word.trim_end_matches([',', '.', ';', ':', ')']);
        let held = UNITS.contains(&bare) && out.ends_with(|c: char| c.is_ascii_digit());
        if i > 0 {
            out.push(if held { NBSP } else { ' ' });
        }
        match word
            .strip_prefix('-')
            .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        {
            Some(figure) => {
                out.push('−');
                out.push_str(figure);
            }
            None => out.push_str(word),
        }
    }
    out
}

/// Three significant digits in V, mV or µV.
pub fn volts(value: Option<f64>) -> String {
    let Some(v) = value.filter(|v| v.is_finite()) else {
        return DASH.to_string();
    };
    // 0.9995 rounds up to 1.00, so the unit is chosen after rounding.
    let size = v.abs();
    let (scaled, unit) = if size >= 0.9995 {
        (v, "V")
    } else if size >= 0.9995e-3 || size == 0.0 {
        (v * 1e3, "mV")
    } else {
        (v * 1e6, "µV")
    };
    with_unit(&three_digits(scaled), unit)
}

/// Up to four significant digits in ohms or kilohms, trailing zeros dropped.
pub fn ohms(value: Option<f64>) -> String {
    let Some(r) = value.filter(|r| r.is_finite()) else {
        return DASH.to_string();
    };
    let (scaled, unit) = if r.abs() >= 999.95 {
        (r / 1e3, "kΩ")
    } else {
        (r, "Ω")
    };
    let decimals = if scaled.abs() >= 99.995 {
        1
    } else if scaled.abs() >= 9.9995 {
        2
    } else {
        3
    };
    let digits = decimal(scaled, decimals);
    let trimmed = digits.trim_end_matches('0').trim_end_matches('.');
    with_unit(trimmed, unit)
}

fn three_digits(value: f64) -> String {
    let size = value.abs();
    let decimals = if size >= 99.95 {
        0
    } else if size >= 9.995 {
        1
    } else {
        2
    };
    decimal(value, decimals)
}

/// A whole number in groups of three.
pub fn grouped(value: u64) -> String {
    let digits = value.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(NBSP);
        }
        out.push(c);
    }
    out
}

/// A duration: seconds, from two minutes on minutes and seconds.
pub fn duration(seconds: f64) -> String {
    if !seconds.is_finite() {
        return DASH.to_string();
    }
    if seconds < 120.0 {
        return with_unit(&decimal(seconds, 1), "s");
    }
    let minutes = ((seconds * 10.0).round() / 600.0).floor();
    let rest = (seconds - minutes * 60.0).max(0.0);
    format!(
        "{}{NBSP}min {}{NBSP}s",
        decimal(minutes, 0),
        decimal(rest, 1)
    )
}

/// A frequency in Hz or kHz as an axis names it.
pub fn hertz(value: f64) -> String {
    let (scaled, unit) = if value >= 1000.0 {
        (value / 1000.0, "kHz")
    } else {
        (value, "Hz")
    };
    let decimals = if (scaled - scaled.round()).abs() < 1e-9 {
        0
    } else {
        1
    };
    with_unit(&decimal(scaled, decimals), unit)
}

/// A converter's full scale said both ways: "0 dBFS = +22 dBu, −18 dBFS = +4 dBu".
pub fn full_scale_both_ways(full_scale_dbu: f64) -> String {
    let short = |v: f64| {
        let digits = signed(v, 2);
        digits
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_string()
    };
    format!(
        "0{NBSP}dBFS = {}{NBSP}dBu, −18{NBSP}dBFS = {}{NBSP}dBu",
        short(full_scale_dbu),
        short(full_scale_dbu - 18.0)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_characters_are_escaped() {
        assert_eq!(
            esc("<a href=\"x\">'&'</a>"),
            "&lt;a href=&quot;x&quot;&gt;&#39;&amp;&#39;&lt;/a&gt;"
        );
        assert_eq!(esc("a\u{0}b\u{1b}c\r\nd"), "a\u{fffd}b\u{fffd}c\nd");
    }

    #[test]
    fn numbers_have_a_true_minus_and_no_minus_zero() {
        assert_eq!(decimal(-3.456, 2), "−3.46");
        assert_eq!(decimal(-0.004, 2), "0.00");
        assert_eq!(signed(0.004, 2), "0.00");
        assert_eq!(signed(4.0, 1), "+4.0");
        assert_eq!(signed(f64::INFINITY, 1), DASH);
        assert_eq!(decimal(f64::NAN, 1), DASH);
        assert_eq!(decimal_or_dash(Some(f64::NEG_INFINITY), 1), DASH);
    }

    #[test]
    fn volts_keep_three_digits_and_choose_their_unit() {
        let cases = [
            (12.34, "12.3\u{a0}V"),
            (0.9999, "1.00\u{a0}V"),
            (0.7746, "775\u{a0}mV"),
            (0.01234, "12.3\u{a0}mV"),
            (0.000_012_3, "12.3\u{a0}µV"),
            (0.0, "0.00\u{a0}mV"),
        ];
        for (value, text) in cases {
            assert_eq!(volts(Some(value)), text);
        }
        assert_eq!(volts(None), DASH);
        assert_eq!(volts(Some(f64::NAN)), DASH);
    }

    #[test]
    fn ohms_drop_trailing_zeros() {
        let cases = [
            (51.1, "51.1\u{a0}Ω"),
            (150.0, "150\u{a0}Ω"),
            (999.99, "1\u{a0}kΩ"),
            (1540.0, "1.54\u{a0}kΩ"),
            (10_000.0, "10\u{a0}kΩ"),
        ];
        for (value, text) in cases {
            assert_eq!(ohms(Some(value)), text);
        }
    }

    #[test]
    fn units_stay_with_their_figures() {
        assert_eq!(
            typeset("pad 34 dB, gain 46 dB"),
            "pad 34\u{a0}dB, gain 46\u{a0}dB"
        );
        assert_eq!(
            typeset("take 10 stereo at 4 dBu"),
            "take 10 stereo at 4\u{a0}dBu"
        );
    }

    #[test]
    fn durations_and_counts_read_well() {
        assert_eq!(duration(12.04), "12.0\u{a0}s");
        assert_eq!(duration(125.3), "2\u{a0}min 5.3\u{a0}s");
        assert_eq!(duration(179.97), "3\u{a0}min 0.0\u{a0}s");
        assert_eq!(grouped(1_234_567), "1\u{a0}234\u{a0}567");
        assert_eq!(grouped(12), "12");
        assert_eq!(hertz(31.5), "31.5\u{a0}Hz");
        assert_eq!(hertz(16_000.0), "16\u{a0}kHz");
    }

    #[test]
    fn alignment_is_said_both_ways() {
        assert_eq!(
            full_scale_both_ways(22.0),
            "0\u{a0}dBFS = +22\u{a0}dBu, −18\u{a0}dBFS = +4\u{a0}dBu"
        );
        assert!(full_scale_both_ways(8.24).contains("−9.76\u{a0}dBu"));
        assert!(full_scale_both_ways(20.0).contains("+20\u{a0}dBu"));
        assert!(full_scale_both_ways(18.0).contains("= 0\u{a0}dBu"));
    }
}
