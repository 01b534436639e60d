//! Values as one writes them beside a symbol.

use penstock_dsp::circuit::{Kind, Value};

/// A number with a unit, three significant digits, with the prefixes a drawing uses.
fn with_unit(value: f64, unit: &str, prefixes: &[(f64, &str)]) -> String {
    let fits = |entry: &&(f64, &str)| value >= 0.9999 * entry.0;
    let last = prefixes.last().copied().unwrap_or((1.0, ""));
    let (scale, prefix) = prefixes.iter().find(fits).copied().unwrap_or(last);
    let scaled = value / scale;
    format!("{} {prefix}{unit}", plain(scaled))
}

/// Three significant digits, without zeros at the end.
fn plain(number: f64) -> String {
    let digits = usize::from(number < 99.95) + usize::from(number < 9.995);
    let text = format!("{number:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn ohms(ohms: f64) -> String {
    if ohms.is_finite() {
        with_unit(ohms, "\u{3a9}", &[(1e6, "M"), (1e3, "k"), (1.0, "")])
    } else {
        "open".to_owned()
    }
}

fn range(values: &[f64; 7]) -> String {
    let closed = || values.iter().copied().filter(|ohms| ohms.is_finite());
    let (least, most) = (
        closed().fold(f64::INFINITY, f64::min),
        closed().fold(0.0, f64::max),
    );
    match (least < most, closed().count() < values.len()) {
        (false, false) => ohms(least),
        (false, true) => format!("open or {}", ohms(least)),
        (true, false) => format!("{} to {}", ohms(least), ohms(most)),
        (true, true) => format!("{} to open", ohms(least)),
    }
}

/// What is written beside a symbol: of a switched one the range.
#[must_use]
pub fn value(kind: &Kind) -> String {
    match kind {
        Kind::Resistor(Value::Fixed(value) | Value::Attenuator(value)) => ohms(*value),
        Kind::Resistor(Value::ByGain(values)) => range(values),
        Kind::Capacitor(farads) => {
            with_unit(*farads, "F", &[(1e-6, "\u{b5}"), (1e-9, "n"), (1e-12, "p")])
        }
        Kind::Leakage(henries) => with_unit(*henries, "H", &[(1e-3, "m"), (1e-6, "\u{b5}")]),
        Kind::Iron(core) => with_unit(core.henries, "H", &[(1.0, "")]),
        Kind::Turns(ratio) if *ratio >= 1.0 => format!("1 : {}", plain(*ratio)),
        Kind::Turns(ratio) => format!("{} : 1", plain(1.0 / ratio)),
        Kind::Tube { triode, .. } => triode.name.to_owned(),
    }
}

/// The values of a switched resistor by gain step, as written; nothing of any other element.
#[must_use]
pub fn switched(kind: &Kind) -> Option<[String; 7]> {
    match kind {
        Kind::Resistor(Value::ByGain(values)) => Some(values.map(ohms)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_written_as_on_a_drawing() {
        let resistor = |ohms| value(&Kind::Resistor(Value::Fixed(ohms)));
        assert_eq!(resistor(36.0), "36 \u{3a9}");
        assert_eq!(resistor(1_500.0), "1.5 k\u{3a9}");
        assert_eq!(resistor(1.47e6), "1.47 M\u{3a9}");
        assert_eq!(resistor(470e3), "470 k\u{3a9}");
        assert_eq!(value(&Kind::Capacitor(1e-3)), "1000 \u{b5}F");
        assert_eq!(value(&Kind::Capacitor(0.46e-12)), "0.46 pF");
        assert_eq!(value(&Kind::Leakage(2.5e-3)), "2.5 mH");
        assert_eq!(value(&Kind::Turns(8.0)), "1 : 8");
        assert_eq!(value(&Kind::Turns(1.0 / 2.8)), "2.8 : 1");
    }

    #[test]
    fn switched_values_are_written_as_a_range() {
        let open = f64::INFINITY;
        let of = |values| value(&Kind::Resistor(Value::ByGain(values)));
        let mut values = [open; 7];
        values[6] = 3_900.0;
        assert_eq!(of(values), "open or 3.9 k\u{3a9}");
        values = [47e3, 22e3, 10e3, 10e3, 10e3, 10e3, 10e3];
        assert_eq!(of(values), "10 k\u{3a9} to 47 k\u{3a9}");
    }
}
