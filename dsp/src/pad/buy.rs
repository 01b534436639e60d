//! From ideal values to resistors one can buy: one search over all positions together.
//!
//! What is minimised is `(loss error / 0.1 dB)^2 + (ln Zin ratio / 0.05)^2 + (ln Zout ratio / 0.05)^2`
//! ([`Weights`] holds the three scales). A minimum's term counts only below it; an impedance that the
//! network cannot be asked for (the output of a U or L with an exact input) has no term. Every value
//! within 30 % of the ideal one is tried with every other, so the result is the optimum of these.
//! Nothing here allocates.

use super::design::OHMS_RANGE;
use super::search::{TIE, search};
use super::{Input, Network, Pad, PadError, Request, Series};
use crate::units::parallel;

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
        let loss = pad.loss(request.kind, request.source, request.load);
        let loss_cost = ((loss - request.loss).0 / self.loss_db).powi(2);
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
        loss_cost + (input / self.in_ln).powi(2) + (output / self.out_ln).powi(2)
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
        Self::of_parts(pad, parts, request, weights)
    }

    pub(super) fn of_parts(
        pad: Pad,
        parts: [Part; 3],
        request: &Request,
        weights: &Weights,
    ) -> Self {
        let cost = weights.cost(request, &pad);
        Self { pad, parts, cost }
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

    /// Cheaper, or as cheap with fewer parts, or as many with fewer values, or with smaller ones.
    pub(super) fn beats(&self, other: &Self) -> bool {
        if (self.cost - other.cost).abs() > TIE {
            return self.cost < other.cost;
        }
        let (ours, theirs) = (
            (self.resistors(), self.different()),
            (other.resistors(), other.different()),
        );
        ours < theirs || ours == theirs && self.pad.values() < other.pad.values()
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
