//! Text for people: numbers with units, tables.

/// A level or gain with sign and two decimals; minus infinity as the trade writes it.
pub(super) fn db(value: f64) -> String {
    if value == f64::NEG_INFINITY {
        "-inf".to_owned()
    } else {
        format!("{value:+.2}")
    }
}

/// Ohms with as many digits as are of use.
pub(super) fn ohms(value: f64) -> String {
    if !value.is_finite() {
        "open".to_owned()
    } else if value >= 10_000.0 {
        format!("{:.2} kohm", value / 1000.0)
    } else if value >= 1000.0 {
        format!("{:.3} kohm", value / 1000.0)
    } else {
        format!("{value:.2} ohm")
    }
}

/// Volts with a prefix.
pub(super) fn volts(value: f64) -> String {
    let magnitude = value.abs();
    if magnitude >= 1.0 || magnitude == 0.0 {
        format!("{value:.3} V")
    } else if magnitude >= 1e-3 {
        format!("{:.3} mV", value * 1e3)
    } else {
        format!("{:.3} uV", value * 1e6)
    }
}

/// A place in a recording: minutes, seconds and thousandths; from an hour on, hours too.
pub(super) fn time(seconds: f64) -> String {
    let thousandths = (seconds.max(0.0) * 1000.0).round() as u64;
    let (minutes, rest) = (thousandths / 60_000, thousandths % 60_000);
    let rest = format!("{:02}.{:03}", rest / 1000, rest % 1000);
    match minutes / 60 {
        0 => format!("{minutes}:{rest}"),
        hours => format!("{hours}:{:02}:{rest}", minutes % 60),
    }
}

/// A length of time: of short ones as many digits as are of use.
pub(super) fn seconds(value: f64) -> String {
    if value <= 0.0 {
        "0 s".to_owned()
    } else if value < 0.1 {
        format!("{:.2} ms", value * 1e3)
    } else {
        format!("{value:.2} s")
    }
}

/// Columns aligned by width: the first to the left, the others to the right.
pub(super) fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let cell = |row: &[String], column: usize| row.get(column).map_or(0, |c| c.chars().count());
    let widths: Vec<usize> = (0..columns)
        .map(|column| rows.iter().map(|row| cell(row, column)).max().unwrap_or(0))
        .collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (column, cell) in row.iter().enumerate() {
            let width = widths[column];
            if column == 0 {
                line.push_str(&format!("{cell:<width$}"));
            } else {
                line.push_str(&format!("  {cell:>width$}"));
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_a_person_writes_them() {
        assert_eq!(db(4.0), "+4.00");
        assert_eq!(db(f64::NEG_INFINITY), "-inf");
        assert_eq!(ohms(1590.4), "1.590 kohm");
        assert_eq!(ohms(f64::INFINITY), "open");
        assert_eq!(volts(0.0123), "12.300 mV");
        assert_eq!([time(7.0), time(61.2345)], ["0:07.000", "1:01.235"]);
        assert_eq!(time(3723.5), "1:02:03.500");
        assert_eq!(
            [seconds(0.0), seconds(0.0123), seconds(2.0)],
            ["0 s", "12.30 ms", "2.00 s"]
        );
        assert_eq!(
            table(&[
                vec!["a".into(), "1".into()],
                vec!["bcd".into(), "22".into()]
            ]),
            "a     1\nbcd  22\n"
        );
    }
}
