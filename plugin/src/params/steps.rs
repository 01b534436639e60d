//! A list of steps as text and back: "20, 26, 35 dB", or "20 to 65 by 5 dB" where they are even.

/// Steps nearer than this are one.
const SAME_DB: f64 = 1e-6;

/// Steps of a range are no closer: a parameter's own grid.
const LEAST_BY_DB: f64 = 0.001;

/// A list as it is shown and may be typed; empty of an empty one.
#[must_use]
pub fn format_steps(steps: &[f64]) -> String {
    let (Some(first), Some(last)) = (steps.first(), steps.last()) else {
        return String::new();
    };
    let by = steps.get(1).map_or(0.0, |second| second - first);
    let is_even = |pair: &[f64]| (pair[1] - pair[0] - by).abs() < SAME_DB;
    if steps.len() > 3 && steps.windows(2).all(is_even) {
        return format!("{first} to {last} by {} dB", (by * 1e3).round() / 1e3);
    }
    let list: Vec<String> = steps.iter().map(f64::to_string).collect();
    format!("{} dB", list.join(", "))
}

/// Reads a list of at most `most` steps from `min` to `max` dB, and puts it in order. Numbers are parted by
/// commas or spaces, so a decimal has a point; nothing, "any" and "none" are an empty list.
///
/// # Errors
/// In words: what is no number, out of range, or too many, and what is taken.
pub fn parse_steps(text: &str, most: usize, min: f64, max: f64) -> Result<Vec<f64>, String> {
    let plain = text.to_lowercase().replace("db", " ");
    let plain = plain.replace('\u{2212}', "-");
    if matches!(plain.trim(), "" | "any" | "none" | "unused") {
        return Ok(Vec::new());
    }
    let taken = format!(
        "up to {most} numbers from {min} to {max} are taken, as 20, 35, 50 or 20 to 65 by 5"
    );
    let words: Vec<&str> = plain
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
        .filter(|word| !word.is_empty())
        .collect();
    let number = |word: &&str| {
        let number = word.parse::<f64>().ok().filter(|n| n.is_finite());
        number.ok_or_else(|| format!("\u{201c}{word}\u{201d} is no number here; {taken}"))
    };
    let mut steps = match words.as_slice() {
        [from, "to", to, "by", by] => even(number(from)?, number(to)?, number(by)?, most)
            .ok_or_else(|| format!("from {from} to {to} by {by} is no list; {taken}"))?,
        words => words
            .iter()
            .map(number)
            .collect::<Result<Vec<f64>, String>>()?,
    };
    steps.sort_by(f64::total_cmp);
    steps.dedup_by(|a, b| (*a - *b).abs() < SAME_DB);
    if let Some(beyond) = steps.iter().find(|step| !(min..=max).contains(*step)) {
        return Err(format!("{beyond} is out of range; {taken}"));
    }
    if steps.len() > most {
        return Err(format!("these are too many; {taken}"));
    }
    Ok(steps)
}

/// One more than `most` is enough to be refused.
fn even(from: f64, to: f64, by: f64, most: usize) -> Option<Vec<f64>> {
    let count = ((to - from) / by + SAME_DB).floor();
    if by < LEAST_BY_DB || count < 0.0 {
        return None;
    }
    let count = (count as usize).min(most);
    // On a thousandth, as the parameters are: sums of tenths are not.
    let step = |k: usize| ((from + k as f64 * by) * 1e3).round() / 1e3;
    Some((0..=count).map(step).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gains(text: &str) -> Result<Vec<f64>, String> {
        parse_steps(text, 16, -20.0, 100.0)
    }

    #[test]
    fn what_is_shown_can_be_typed() {
        for steps in [
            &[][..],
            &[40.0],
            &[20.0, 35.0, 50.0],
            &[-6.0, 0.0, 12.5],
            &[20.0, 25.0, 30.0, 35.0, 40.0],
            &[0.1, 0.4, 0.7, 1.0, 1.3],
        ] {
            assert_eq!(gains(&format_steps(steps)), Ok(steps.to_vec()));
        }
        assert_eq!(format_steps(&[20.0, 25.0, 30.0, 35.0]), "20 to 35 by 5 dB");
        assert_eq!(format_steps(&[20.0, 25.0, 30.0]), "20, 25, 30 dB");
    }

    #[test]
    fn lists_are_read_as_people_write_them() {
        for text in [
            "20,35,50",
            "50 35 20 dB",
            "20 dB, 35 dB; 50 DB",
            "20 35 35 50",
        ] {
            assert_eq!(gains(text), Ok(vec![20.0, 35.0, 50.0]), "{text}");
        }
        assert_eq!(gains("20 TO 65 by 5").map(|steps| steps.len()), Ok(10));
        for text in ["", "any", " None "] {
            assert_eq!(gains(text), Ok(vec![]), "{text}");
        }
    }

    #[test]
    fn what_cannot_be_is_said() {
        for (text, said) in [
            ("20, x", "\u{201c}x\u{201d} is no number"),
            ("20, nan", "is no number"),
            ("20, 101", "101 is out of range"),
            ("20 to 10 by 5", "is no list"),
            ("20 to 30 by 0", "is no list"),
            ("20 to 30 by -1", "is no list"),
            ("0 to 90 by 1", "these are too many"),
            ("0 to 1e300 by 1e-300", "is no list"),
        ] {
            let error = gains(text).expect_err(text);
            assert!(
                error.contains(said) && error.contains("up to 16"),
                "{error}"
            );
        }
    }
}
