//! Values as text with their unit, and back: what is shown can be typed.
//!
//! Reading takes any case, spaces, a decimal comma, `k` and `M`, with or without unit, and ohms as the
//! trade writes them (4k7, 6R8: IEC 60062); only finite numbers; what lies beyond the range is taken as its end.

use super::table::{Row, RowKind};
use penstock_dsp::plan::Value;

/// A number with its unit: "40 dB", "+22 dBu", "2000 ohm".
#[must_use]
pub fn format_number(row: &Row, value: f64) -> String {
    let rounded = on_grid(row, value);
    if let Some(none) = stands_for_none(row, rounded) {
        return none.to_owned();
    }
    // Levels and trims carry their sign; a loss is a loss without one.
    let signed = row.unit == "dBu" || row.id.ends_with("trim_db") || row.id.ends_with("right_db");
    let sign = if signed && rounded > 0.0 { "+" } else { "" };
    format!("{sign}{rounded} {}", row.unit)
}

/// The value of a row that a number means: the nearest multiple of its step. A resistor of an owned pad
/// has five digits instead, from fractions of an ohm to many kilohms, and no more than hosts can carry.
#[must_use]
pub fn on_grid(row: &Row, value: f64) -> f64 {
    let RowKind::Number { step, min, .. } = row.kind else {
        return value;
    };
    if stands_for_none(row, value).is_some() {
        return min;
    }
    let mut per_unit = (1.0 / step).round();
    if row.id.starts_with("pad.resistor_") && value >= 1.0 {
        per_unit = per_unit.min(10f64.powf(4.0 - value.log10().floor()));
    }
    // Adding zero turns a negative zero into a plain one.
    (value * per_unit).round() / per_unit + 0.0
}

/// What a value says that is no number: the range's lowest unit, where that stands for none.
#[must_use]
pub fn stands_for_none(row: &Row, value: f64) -> Option<&'static str> {
    let RowKind::Number {
        min, step, none, ..
    } = row.kind
    else {
        return None;
    };
    // Half a step: rounding alone makes nothing of a number.
    none.filter(|_| value < min + 1.0 - step / 2.0)
}

/// Reads a number for a row.
#[must_use]
pub fn parse_number(row: &Row, text: &str) -> Option<f64> {
    let RowKind::Number { min, max, none, .. } = row.kind else {
        return None;
    };
    if none.is_some_and(|none| text.trim().eq_ignore_ascii_case(none)) {
        return Some(min);
    }
    let min = if none.is_some() { min + 1.0 } else { min };
    if row.unit == "ohm"
        && let Some(ohms) = marked(row, text)
    {
        return Some(ohms.clamp(min, max));
    }
    let (number, rest) = split(text)?;
    let scale = match rest.as_str() {
        "" => 1.0,
        "k" => 1e3,
        "m" => 1e6,
        unit if is_unit(row, unit) => 1.0,
        unit if row.unit == "ohm" && is_unit(row, unit.strip_prefix('k')?) => 1e3,
        _ => return None,
    };
    Some((number * scale).clamp(min, max))
}

/// Ohms whose letter stands for the point, as IEC 60062 writes them.
fn marked(row: &Row, text: &str) -> Option<f64> {
    let text = text.trim().to_lowercase();
    let (at, factor) = [('k', 1e3), ('r', 1.0), ('m', 1e6)]
        .into_iter()
        .find_map(|(mark, factor)| text.find(mark).map(|at| (at, factor)))?;
    let (whole, part) = (&text[..at], &text[at + 1..]);
    let end = part.find(|c: char| !c.is_ascii_digit());
    let (part, unit) = part.split_at(end.unwrap_or(part.len()));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|c| c.is_ascii_digit());
    let is_one = digits(whole) && digits(part) && (unit.is_empty() || is_unit(row, unit.trim()));
    let number: f64 = format!("{whole}.{part}").parse().ok()?;
    is_one.then_some(number * factor)
}

fn is_unit(row: &Row, text: &str) -> bool {
    match row.unit {
        "ohm" => matches!(text, "ohm" | "ohms" | "\u{3c9}" | "\u{2126}" | "r"),
        unit => text == unit.to_lowercase() || (unit == "dBu" && text == "db"),
    }
}

/// A leading number and what follows it, in lower case without spaces.
fn split(text: &str) -> Option<(f64, String)> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let text = text
        .replace(',', ".")
        .replace('\u{2212}', "-")
        .to_lowercase();
    let part = |c: char| c.is_ascii_digit() || matches!(c, '.' | '+' | '-');
    let end = text.find(|c: char| !part(c)).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    number.is_finite().then(|| (number, text[end..].to_owned()))
}

/// Reads a place in a list: the word, or the number of a numbered list.
#[must_use]
pub fn parse_choice(row: &Row, text: &str) -> Option<usize> {
    let RowKind::Choice { words, values, .. } = &row.kind else {
        return None;
    };
    let plain = |text: &str| text.to_lowercase().replace([' ', '_'], "");
    let wanted = plain(text.trim());
    if let Some(index) = words.iter().position(|word| plain(word) == wanted) {
        return Some(index);
    }
    let of_plan = |value: &Value| matches!(value, Value::Word(word) if plain(word) == wanted);
    if let Some(index) = values.iter().position(of_plan) {
        return Some(index);
    }
    let (number, unit) = split(text)?;
    let known = unit.is_empty() || words.iter().any(|word| plain(word).ends_with(&unit));
    let place = values
        .iter()
        .position(|value| value.number() == Some(number));
    place.filter(|_| known)
}

/// Reads on or off.
#[must_use]
pub fn parse_flag(text: &str) -> Option<bool> {
    match text.trim().to_lowercase().as_str() {
        "on" | "true" | "yes" | "1" => Some(true),
        "off" | "false" | "no" | "0" => Some(false),
        _ => None,
    }
}
