//! From ideal values to resistors one can buy: one search over all positions together.
//!
//! What is minimised is `(loss error / 0.1 dB)^2 + (ln Zin ratio / 0.05)^2 + (ln Zout ratio / 0.05)^2`
//! ([`Weights`] holds the three scales). A minimum's term counts only below it; an impedance that the
//! network cannot be asked for (the output of a U or L with an exact input) has no term. Every value
//! within 30 % of the ideal one is tried with every other, so the result is the optimum of these.
//! Nothing here allocates.

use super::design::OHMS_RANGE;
use super::{Input, Network, Pad, PadError, Request, Series};
use crate::units::{Ohms, parallel};

/// How far from the ideal value resistors are tried: 30 %.
const WINDOW: f64 = 0.3;
/// Most values tried at one position.
const MOST: usize = 256;
/// Pairs tried at one position: the nearest.
const PAIRS: usize = 12;
/// Two results closer than this in cost are a tie.
const TIE: f64 = 1e-9;

/// The deviations that cost 1 each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights {
    /// Of the loss, in dB.
    pub loss_db: f64,
    /// Of the input impedance, as the logarithm of a ratio.
    pub in_ln: f64,
    /// Of the output impedance, likewise.
    pub out_ln: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Self {
            loss_db: 0.1,
            in_ln: 0.05,
            out_ln: 0.05,
        }
    }
}

impl Weights {
    /// What a pad's deviations from a request cost.
    #[must_use]
    pub fn cost(&self, request: &Request, pad: &Pad) -> f64 {
        self.loss_cost(request, pad) + self.ohms_cost(request, pad)
    }

    fn loss_cost(&self, request: &Request, pad: &Pad) -> f64 {
        let loss = pad.loss(request.kind, request.source, request.load);
        ((loss - request.loss).0 / self.loss_db).powi(2)
    }

    fn ohms_cost(&self, request: &Request, pad: &Pad) -> f64 {
        let wanted = request.input.ohms().0;
        let input = (pad.in_ohms(request.load).0 / wanted).ln();
        let (input, output) = match request.input {
            Input::AtLeast(_) => (input.min(0.0), true),
            Input::Exact(_) => (input, request.network.meets_three_wishes()),
        };
        let output = if output {
            (pad.out_ohms(request.source).0 / request.output.0).ln()
        } else {
            0.0
        };
        (input / self.in_ln).powi(2) + (output / self.out_ln).powi(2)
    }
}

/// Where resistors come from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stock<'a> {
    /// A series of preferred values.
    Series(Series),
    /// What lies in a drawer, in ohms; at most [`DRAWER_VALUES`] are looked at.
    Drawer(&'a [f64]),
}

/// Most different values a drawer may have.
pub const DRAWER_VALUES: usize = 128;

/// How many resistors a position may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Parts {
    /// One, the nearest to the ideal value, each position for itself.
    Nearest,
    /// One, all positions chosen together.
    Single,
    /// One, or two in series or parallel, all positions chosen together.
    Pair,
}

impl Parts {
    /// The word, as plans and reports write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Nearest => "nearest",
            Self::Single => "single",
            Self::Pair => "pair",
        }
    }
}

/// What is soldered at one position (in each leg, where there are two).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Part {
    /// One resistor.
    Single(f64),
    /// Two in series.
    Series(f64, f64),
    /// Two in parallel.
    Parallel(f64, f64),
}

impl Part {
    /// Its resistance in ohms.
    #[must_use]
    pub fn ohms(self) -> f64 {
        match self {
            Self::Single(ohms) => ohms,
            Self::Series(a, b) => a + b,
            Self::Parallel(a, b) => parallel(a, b),
        }
    }

    /// The values to buy; a wire and a gap are none.
    pub fn values(self) -> impl Iterator<Item = f64> {
        let (a, b) = match self {
            Self::Single(ohms) => (ohms, 0.0),
            Self::Series(a, b) | Self::Parallel(a, b) => (a, b),
        };
        let real = |ohms: &f64| *ohms > 0.0 && ohms.is_finite();
        [a, b].into_iter().filter(real)
    }
}

/// A pad of resistors one can buy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Purchase {
    /// The pad.
    pub pad: Pad,
    parts: [Part; 3],
    /// What its deviations cost by the weights.
    pub cost: f64,
}

impl Purchase {
    /// Of a pad whose every position is one resistor.
    #[must_use]
    pub fn of(pad: Pad, request: &Request, weights: &Weights) -> Self {
        let mut parts = [Part::Single(0.0); 3];
        for (part, ohms) in parts.iter_mut().zip(pad.values()) {
            *part = Part::Single(*ohms);
        }
        Self {
            pad,
            parts,
            cost: weights.cost(request, &pad),
        }
    }

    /// What stands at each position, in the order of the drawing.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts[..self.pad.network().positions()]
    }

    /// How many resistors one pad takes.
    #[must_use]
    pub fn resistors(&self) -> usize {
        let network = self.pad.network();
        let counted =
            |(position, part): (usize, &Part)| network.count(position) * part.values().count();
        self.parts().iter().enumerate().map(counted).sum()
    }

    /// How many different values those are.
    #[must_use]
    pub fn different(&self) -> usize {
        let mut seen = [0.0; 6];
        let mut count = 0;
        for ohms in self.parts().iter().flat_map(|part| part.values()) {
            if !seen[..count].contains(&ohms) {
                seen[count] = ohms;
                count += 1;
            }
        }
        count
    }

    /// Cheaper, or as cheap with fewer parts, or as many with fewer values.
    fn beats(&self, other: &Self) -> bool {
        if (self.cost - other.cost).abs() > TIE {
            return self.cost < other.cost;
        }
        (self.resistors(), self.different()) < (other.resistors(), other.different())
    }
}

/// What is tried at one position.
struct Tried {
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
    fn ends(&self) -> (f64, f64) {
        let ohms = || self.all().iter().map(|part| part.ohms());
        (
            ohms().fold(f64::INFINITY, f64::min),
            ohms().fold(0.0, f64::max),
        )
    }

    fn all(&self) -> &[Part] {
        &self.parts[..self.count]
    }

    /// The candidates around an ideal value; a wire and a gap stay what they are.
    fn around(ideal_ohms: f64, stock: Stock, parts: Parts) -> Self {
        let mut tried = Self::new();
        if ideal_ohms <= 0.0 || !ideal_ohms.is_finite() {
            tried.add(Part::Single(ideal_ohms));
            return tried;
        }
        match stock {
            Stock::Series(series) => {
                let (low, high) = (ideal_ohms * (1.0 - WINDOW), ideal_ohms * (1.0 + WINDOW));
                for ohms in series.values(Ohms(low), Ohms(high)) {
                    tried.add(Part::Single(ohms));
                }
                tried.add_nearest_if_none(series.nearest(Ohms(ideal_ohms)).0);
            }
            Stock::Drawer(values) => {
                for ohms in values.iter().take(DRAWER_VALUES).copied() {
                    tried.add(Part::Single(ohms));
                }
            }
        }
        if parts == Parts::Pair {
            match stock {
                Stock::Series(series) => {
                    let (low, high) = (ideal_ohms * 0.02, ideal_ohms * 50.0);
                    let values = series.values(Ohms(low), Ohms(high));
                    tried.add_pairs(ideal_ohms, values, |wanted| series.nearest(Ohms(wanted)).0);
                }
                Stock::Drawer(values) => {
                    let nearest = |wanted: f64| {
                        let off = |ohms: &f64| (ohms / wanted).ln().abs();
                        let values = values.iter().take(DRAWER_VALUES).copied();
                        values
                            .min_by(|a, b| off(a).total_cmp(&off(b)))
                            .unwrap_or(wanted)
                    };
                    let values = values.iter().take(DRAWER_VALUES).copied();
                    tried.add_pairs(ideal_ohms, values, nearest);
                }
            }
        }
        tried
    }

    fn add_nearest_if_none(&mut self, ohms: f64) {
        if self.count == 0 {
            self.add(Part::Single(ohms));
        }
    }

    /// Adds the pairs nearest to an ideal value: each first resistor with its best second.
    fn add_pairs(
        &mut self,
        ideal_ohms: f64,
        firsts: impl Iterator<Item = f64>,
        nearest: impl Fn(f64) -> f64,
    ) {
        let start = self.count;
        let off = |part: &Part| (part.ohms() / ideal_ohms).ln().abs();
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

/// The best purchase for a request whose ideal pad is `ideal`.
///
/// # Errors
/// [`PadError::EmptyDrawer`] when there is nothing to choose from, [`PadError::NotPositive`] and
/// [`PadError::OutOfRange`] when a drawer holds something that is no resistor.
pub fn buy(
    request: &Request,
    ideal: &Pad,
    stock: Stock,
    parts: Parts,
    weights: &Weights,
) -> Result<Purchase, PadError> {
    if let Stock::Drawer(values) = stock {
        if values.is_empty() {
            return Err(PadError::EmptyDrawer);
        }
        if let Some(given) = values
            .iter()
            .find(|ohms| !(**ohms > 0.0 && ohms.is_finite()))
        {
            return Err(PadError::NotPositive {
                name: "a resistor of the drawer",
                given: *given,
            });
        }
        let (least, most) = OHMS_RANGE;
        if let Some(given) = values.iter().find(|ohms| !(least..=most).contains(*ohms)) {
            return Err(PadError::OutOfRange {
                name: "a resistor of the drawer",
                given: *given,
                least,
                most,
            });
        }
    }
    if stock == Stock::Series(Series::Ideal) || ideal.network() == Network::None {
        return Ok(Purchase::of(*ideal, request, weights));
    }
    if let (Stock::Series(series), Parts::Nearest) = (stock, parts) {
        return Ok(Purchase::of(ideal.rounded(series), request, weights));
    }
    Ok(search(request, ideal, stock, parts, weights))
}

/// Where the search begins: each value the nearest, which is among those tried.
fn start(request: &Request, ideal: &Pad, stock: Stock, weights: &Weights) -> Option<Purchase> {
    let Stock::Series(series) = stock else {
        return None;
    };
    Some(Purchase::of(ideal.rounded(series), request, weights))
}

fn search(
    request: &Request,
    ideal: &Pad,
    stock: Stock,
    parts: Parts,
    weights: &Weights,
) -> Purchase {
    let network = ideal.network();
    let around = |position: usize| match ideal.values().get(position) {
        Some(ohms) => Tried::around(*ohms, stock, parts),
        None => Tried::around(0.0, stock, parts),
    };
    let tried = [around(0), around(1), around(2)];
    let (low, high) = tried[2].ends();
    let mut best = start(request, ideal, stock, weights);
    for first in tried[0].all() {
        for second in tried[1].all() {
            // The loss rises or falls steadily with the last value: where both ends miss on one side,
            // by more than the best so far costs, so does all between them.
            let off = |third: f64| {
                let ohms = [first.ohms(), second.ohms(), third];
                let pad = Pad::from_values(network, ohms);
                let loss = pad.loss(request.kind, request.source, request.load);
                (loss - request.loss).0 / weights.loss_db
            };
            let (one, other) = (off(low), off(high));
            let least = one.abs().min(other.abs()).powi(2);
            let most = best.as_ref().map_or(f64::INFINITY, |best| best.cost + TIE);
            if one * other > 0.0 && least > most {
                continue;
            }
            for third in tried[2].all() {
                let parts = [*first, *second, *third];
                let pad = Pad::from_values(network, parts.map(Part::ohms));
                // The loss alone rules most of them out.
                let most = best.as_ref().map_or(f64::INFINITY, |best| best.cost + TIE);
                let loss_cost = weights.loss_cost(request, &pad);
                if loss_cost > most {
                    continue;
                }
                let cost = loss_cost + weights.ohms_cost(request, &pad);
                if cost > most {
                    continue;
                }
                let found = Purchase { pad, parts, cost };
                if best.as_ref().is_none_or(|best| found.beats(best)) {
                    best = Some(found);
                }
            }
        }
    }
    best.unwrap_or_else(|| Purchase::of(*ideal, request, weights))
}
