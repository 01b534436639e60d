//! Axes: from values to drawing units, and the round numbers to write along them.

/// A straight map from values to drawing units.
#[derive(Debug, Clone, Copy)]
pub struct Linear {
    from: (f64, f64),
    to: (f64, f64),
}

impl Linear {
    /// Maps `from.0` to `to.0` and `from.1` to `to.1`; an empty `from` maps everything to `to.0`.
    pub fn new(from: (f64, f64), to: (f64, f64)) -> Self {
        Self { from, to }
    }

    /// Drawing unit of a value, also outside the range.
    pub fn at(&self, value: f64) -> f64 {
        let span = self.from.1 - self.from.0;
        if span == 0.0 {
            return self.to.0;
        }
        self.to.0 + (value - self.from.0) / span * (self.to.1 - self.to.0)
    }
}

/// A logarithmic map, for frequencies in hertz.
#[derive(Debug, Clone, Copy)]
pub struct Log {
    exponent: Linear,
}

impl Log {
    /// Both ends of `from` must be above zero.
    pub fn new(from: (f64, f64), to: (f64, f64)) -> Self {
        Self {
            exponent: Linear::new((from.0.log10(), from.1.log10()), to),
        }
    }

    /// Drawing unit of a value above zero.
    pub fn at(&self, value: f64) -> f64 {
        self.exponent.at(value.log10())
    }
}

/// The next 1, 2 or 5 times a power of ten that divides `span` into at most `most` steps.
pub fn round_step(span: f64, most: usize) -> Option<f64> {
    if !span.is_finite() || span <= 0.0 || most == 0 {
        return None;
    }
    let raw = span / most as f64;
    let power = 10f64.powf(raw.log10().floor());
    // The slack forgives the last bit of a quotient that is round already.
    let factor = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|f| f * power >= raw * (1.0 - 1e-9))?;
    let step = factor * power;
    (step.is_finite() && step > 0.0).then_some(step)
}

/// Multiples of `step` from `low` to `high`, both included when they are multiples.
///
/// Empty for a range or step that is not finite, empty or upside down, and for more than 1000
/// ticks, which nobody can read.
pub fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let usable = low.is_finite() && high.is_finite() && step.is_finite() && step > 0.0;
    if !usable || high < low || (high - low) / step > 1000.0 {
        return Vec::new();
    }
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

/// Round ticks over a range, at most `most` steps of them.
pub fn ticks(low: f64, high: f64, most: usize) -> Vec<f64> {
    round_step(high - low, most).map_or_else(Vec::new, |step| multiples(low, high, step))
}

/// Frequencies an audio axis names, 20 Hz to 20 kHz.
pub const NAMED_HZ: [f64; 10] = [
    20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0, 20_000.0,
];

/// Every line of an audio axis: 20, 30, ... 90, 100, 200, ... 20 000 Hz.
pub fn decade_lines_hz() -> Vec<f64> {
    let mut lines = Vec::new();
    for decade in [10.0, 100.0, 1000.0, 10_000.0] {
        lines.extend((1..10).map(|i| f64::from(i) * decade));
    }
    lines.retain(|hz| (20.0..=20_000.0).contains(hz));
    lines
}

/// Smallest and largest of the finite values.
pub fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    let mut found: Option<(f64, f64)> = None;
    for v in values.into_iter().filter(|v| v.is_finite()) {
        found = Some(found.map_or((v, v), |(low, high)| (low.min(v), high.max(v))));
    }
    found
}

/// Moves labels that stand too close apart, keeping their order and staying within `range`.
///
/// Takes wished positions and gives positions at least `gap` apart (closer only when the range
/// cannot hold them all), in the order of the input.
pub fn spread(wished: &[f64], gap: f64, range: (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wished.len()).collect();
    order.sort_by(|&a, &b| wished[a].total_cmp(&wished[b]));
    let room = (range.1 - range.0).max(0.0);
    let gap = if wished.len() > 1 {
        gap.min(room / (wished.len() - 1) as f64)
    } else {
        gap
    };
    let mut placed = vec![0.0; wished.len()];
    let mut floor = range.0;
    for &i in &order {
        placed[i] = wished[i].max(floor);
        floor = placed[i] + gap;
    }
    let mut ceiling = range.1;
    for &i in order.iter().rev() {
        placed[i] = placed[i].min(ceiling);
        ceiling = placed[i] - gap;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(
            ticks(-43.0, 27.0, 8),
            vec![-40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0]
        );
        assert_eq!(
            ticks(0.0, 1.0, 5),
            vec![0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0]
        );
        assert_eq!(ticks(0.0, 12.3, 6), vec![0.0, 5.0, 10.0]);
    }

    #[test]
    fn hopeless_ranges_have_no_ticks() {
        for (low, high) in [
            (f64::NAN, 1.0),
            (1.0, 1.0),
            (2.0, 1.0),
            (0.0, f64::INFINITY),
        ] {
            assert!(ticks(low, high, 5).is_empty(), "{low}..{high}");
        }
        assert!(multiples(0.0, 1.0, 1e-9).is_empty());
        assert!(multiples(0.0, 1.0, 0.0).is_empty());
    }

    #[test]
    fn log_axis_puts_decades_at_equal_distance() {
        let axis = Log::new((20.0, 20_000.0), (0.0, 300.0));
        assert!((axis.at(200.0) - 100.0).abs() < 1e-9);
        assert!((axis.at(2000.0) - 200.0).abs() < 1e-9);
        assert_eq!(decade_lines_hz().len(), 28);
    }

    #[test]
    fn labels_are_spread_in_order_and_in_range() {
        let placed = spread(&[10.0, 10.0, 11.0, 90.0], 12.0, (0.0, 100.0));
        assert_eq!(placed, vec![10.0, 22.0, 34.0, 90.0]);
        let at_end = spread(&[99.0, 98.0, 97.0], 10.0, (0.0, 100.0));
        assert_eq!(at_end, vec![100.0, 90.0, 80.0]);
        let crowded = spread(&[0.0, 0.0, 0.0], 60.0, (0.0, 100.0));
        assert_eq!(crowded, vec![0.0, 50.0, 100.0]);
        assert!(spread(&[], 10.0, (0.0, 1.0)).is_empty());
    }

    #[test]
    fn extent_ignores_what_is_not_finite() {
        assert_eq!(
            extent([f64::NAN, 3.0, -1.0, f64::INFINITY]),
            Some((-1.0, 3.0))
        );
        assert_eq!(extent([f64::NAN]), None);
    }
}
