//! What is tried at one position of a pad: single resistors round the ideal value, and pairs.

use super::{DRAWER_VALUES, Part, Parts, Stock};
use crate::units::Ohms;

/// How far from the ideal value resistors are tried: 30 %.
const WINDOW: f64 = 0.3;
/// Most values tried at one position.
const MOST: usize = 256;
/// Pairs tried at one position: the nearest.
const PAIRS: usize = 12;
/// A pair's resistor that is nearer to the ideal value lies within these shares of it: it is half to
/// twice that, but for the steps of the coarsest series.
const FIRSTS: (f64, f64) = (0.4, 2.5);

/// What is tried at one position, the nearest first.
pub(super) struct Tried {
    parts: [Part; MOST],
    count: usize,
}

impl Tried {
    fn new() -> Self {
        Self {
            parts: [Part::Single(0.0); MOST],
            count: 0,
        }
    }

    fn add(&mut self, part: Part) {
        if let Some(place) = self.parts.get_mut(self.count) {
            *place = part;
            self.count += 1;
        }
    }

    /// The smallest and the largest value.
    pub(super) fn ends(&self) -> [f64; 2] {
        let ohms = || self.all().iter().map(|part| part.ohms());
        [
            ohms().fold(f64::INFINITY, f64::min),
            ohms().fold(0.0, f64::max),
        ]
    }

    pub(super) fn all(&self) -> &[Part] {
        &self.parts[..self.count]
    }

    /// The candidates around an ideal value; a wire and a gap stay what they are.
    pub(super) fn around(ideal_ohms: f64, stock: Stock, parts: Parts) -> Self {
        let mut tried = Self::new();
        if ideal_ohms <= 0.0 || !ideal_ohms.is_finite() {
            tried.add(Part::Single(ideal_ohms));
            return tried;
        }
        let within = |(low, high): (f64, f64)| (Ohms(ideal_ohms * low), Ohms(ideal_ohms * high));
        match stock {
            Stock::Series(series) => {
                let (low, high) = within((1.0 - WINDOW, 1.0 + WINDOW));
                for ohms in series.values(low, high) {
                    tried.add(Part::Single(ohms));
                }
                if tried.count == 0 {
                    tried.add(Part::Single(series.nearest(Ohms(ideal_ohms)).0));
                }
                if parts == Parts::Pair {
                    let (low, high) = within(FIRSTS);
                    let nearest = |wanted: f64| series.nearest(Ohms(wanted)).0;
                    tried.add_pairs(ideal_ohms, series.values(low, high), nearest);
                }
            }
            Stock::Drawer(values) => {
                let values = || values.iter().take(DRAWER_VALUES).copied();
                for ohms in values() {
                    tried.add(Part::Single(ohms));
                }
                if parts == Parts::Pair {
                    let nearest = |wanted: f64| {
                        let off = |ohms: &f64| (ohms / wanted).ln().abs();
                        let nearest = values().min_by(|a, b| off(a).total_cmp(&off(b)));
                        nearest.unwrap_or(wanted)
                    };
                    tried.add_pairs(ideal_ohms, values(), nearest);
                }
            }
        }
        tried.parts[..tried.count]
            .sort_unstable_by(|a, b| off(a, ideal_ohms).total_cmp(&off(b, ideal_ohms)));
        tried
    }

    /// Adds the pairs nearest to an ideal value: each first resistor with its best second.
    fn add_pairs(
        &mut self,
        ideal_ohms: f64,
        firsts: impl Iterator<Item = f64>,
        nearest: impl Fn(f64) -> f64,
    ) {
        let start = self.count;
        let off = |part: &Part| off(part, ideal_ohms);
        for first in firsts {
            let pair = if first < ideal_ohms {
                let second = nearest(ideal_ohms - first);
                // The same two the other way round are no other pair.
                (second <= first).then_some(Part::Series(first, second))
            } else if first > ideal_ohms {
                let second = nearest(1.0 / (1.0 / ideal_ohms - 1.0 / first));
                (second >= first).then_some(Part::Parallel(first, second))
            } else {
                None
            };
            let Some(pair) = pair else { continue };
            if self.count < (start + PAIRS).min(MOST) {
                self.add(pair);
                continue;
            }
            let kept = &mut self.parts[start..self.count];
            let worst = kept.iter_mut().max_by(|a, b| off(a).total_cmp(&off(b)));
            if let Some(worst) = worst
                && off(&pair) < off(worst)
            {
                *worst = pair;
            }
        }
    }
}

/// How far a part is from the ideal value on a logarithmic axis: larger is farther, 1 is none.
fn off(part: &Part, ideal_ohms: f64) -> f64 {
    let ratio = part.ohms() / ideal_ohms;
    ratio.max(1.0 / ratio)
}
