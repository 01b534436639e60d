//! All positions of a pad chosen together: every candidate with every other, less what cannot win.
//!
//! Loss, input and output impedance each rise or fall steadily with every resistor, so over a set of
//! choices they lie between what its corners (smallest and largest values) give. Where one of them
//! misses by more than the best pad so far costs, the whole set is left out. The nearest values are tried
//! first, for a good pad rules out most others. Fast enough for the audio thread; never allocates.

use super::tried::Tried;
use super::{Input, Pad, Part, Parts, Purchase, Request, Stock, Weights};
use crate::units::Db;

/// Two results closer than this in cost are a tie.
pub(super) const TIE: f64 = 1e-9;
/// Rounding in the last digits must not rule out what ties.
const SLACK: f64 = 1e-12;

/// What a pad must keep to in order to cost no more than the best so far: from, to.
#[derive(Clone, Copy, Debug)]
struct Limits {
    loss_ratio: (f64, f64),
    in_ohms: (f64, f64),
    out_ohms: (f64, f64),
}

impl Limits {
    /// For a cost; infinite while there is no pad.
    fn of(cost: f64, request: &Request, weights: &Weights) -> Self {
        let off = (cost + TIE).sqrt();
        let around = |wanted: f64, ln: f64| {
            let factor = (off * ln).exp();
            (
                wanted / factor * (1.0 - SLACK),
                wanted * factor * (1.0 + SLACK),
            )
        };
        let any = (f64::NEG_INFINITY, f64::INFINITY);
        let mut in_ohms = around(request.input.ohms().0, weights.in_ln);
        let mut out_ohms = around(request.output.0, weights.out_ln);
        match request.input {
            Input::AtLeast(_) => in_ohms.1 = f64::INFINITY,
            Input::Exact(_) if !request.network.meets_three_wishes() => out_ohms = any,
            Input::Exact(_) => {}
        }
        let one_db = Db(1.0).ratio().ln();
        Self {
            loss_ratio: around(request.loss.ratio(), weights.loss_db * one_db),
            in_ohms,
            out_ohms,
        }
    }

    /// Whether no pad between these corners keeps to them.
    fn rule_out(&self, request: &Request, corners: impl Iterator<Item = [f64; 3]>) -> bool {
        let mut seen: Option<[(f64, f64); 3]> = None;
        for ohms in corners {
            let port = Pad::from_values(request.network, ohms).two_port();
            let here = [
                port.loss_ratio(request.kind, request.source, request.load),
                port.in_ohms(request.load).0,
                port.out_ohms(request.source).0,
            ];
            let ends = seen.get_or_insert(here.map(|value| (value, value)));
            for ((low, high), value) in ends.iter_mut().zip(here) {
                *low = low.min(value);
                *high = high.max(value);
            }
        }
        let limits = [self.loss_ratio, self.in_ohms, self.out_ohms];
        seen.is_some_and(|ends| {
            ends.iter()
                .zip(limits)
                .any(|((low, high), (least, most))| *high < least || *low > most)
        })
    }
}

/// The best purchase of the candidates round the ideal pad.
pub(super) fn search(
    request: &Request,
    ideal: &Pad,
    stock: Stock,
    parts: Parts,
    weights: &Weights,
) -> Purchase {
    let around = |position: usize| {
        let ohms = ideal.values().get(position).copied().unwrap_or(0.0);
        Tried::around(ohms, stock, parts)
    };
    let tried = [around(0), around(1), around(2)];
    let [first_ends, second_ends, _] = [tried[0].ends(), tried[1].ends(), tried[2].ends()];
    let mut best = Best::start(request, ideal, stock, weights);
    // The last position first: it sets the output impedance, which leaves most values no choice.
    for third in tried[2].all() {
        let last = third.ohms();
        let corners = second_ends
            .iter()
            .flat_map(|second| first_ends.map(|first| [first, *second, last]));
        if best.limits.rule_out(request, corners) {
            continue;
        }
        for second in tried[1].all() {
            let corners = first_ends.map(|first| [first, second.ohms(), last]);
            if best.limits.rule_out(request, corners.into_iter()) {
                continue;
            }
            for first in tried[0].all() {
                best.meet(request, weights, [*first, *second, *third]);
            }
        }
    }
    best.purchase
        .unwrap_or_else(|| Purchase::of(*ideal, request, weights))
}

/// The best so far, and what the next must keep to.
struct Best {
    purchase: Option<Purchase>,
    limits: Limits,
}

impl Best {
    /// Each value of a series the nearest, which is among those tried; nothing of a drawer.
    fn start(request: &Request, ideal: &Pad, stock: Stock, weights: &Weights) -> Self {
        let purchase = match stock {
            Stock::Series(series) => Some(Purchase::of(ideal.rounded(series), request, weights)),
            Stock::Drawer(_) => None,
        };
        let cost = purchase.map_or(f64::INFINITY, |purchase| purchase.cost);
        Self {
            purchase,
            limits: Limits::of(cost, request, weights),
        }
    }

    fn meet(&mut self, request: &Request, weights: &Weights, parts: [Part; 3]) {
        let ohms = parts.map(Part::ohms);
        if self.limits.rule_out(request, std::iter::once(ohms)) {
            return;
        }
        let pad = Pad::from_values(request.network, ohms);
        let found = Purchase::of_parts(pad, parts, request, weights);
        if self.purchase.as_ref().is_none_or(|best| found.beats(best)) {
            self.limits = Limits::of(found.cost, request, weights);
            self.purchase = Some(found);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pad::{LossKind, Network, Series, design};
    use crate::units::Ohms;

    /// Every candidate with every other, nothing left out.
    fn everything(request: &Request, ideal: &Pad, stock: Stock, parts: Parts) -> Purchase {
        let weights = Weights::default();
        let tried = [0, 1, 2].map(|position| {
            let ohms = ideal.values().get(position).copied().unwrap_or(0.0);
            Tried::around(ohms, stock, parts)
        });
        let mut best: Option<Purchase> = None;
        for first in tried[0].all() {
            for second in tried[1].all() {
                for third in tried[2].all() {
                    let parts = [*first, *second, *third];
                    let pad = Pad::from_values(request.network, parts.map(Part::ohms));
                    let found = Purchase::of_parts(pad, parts, request, &weights);
                    if best.as_ref().is_none_or(|best| found.beats(best)) {
                        best = Some(found);
                    }
                }
            }
        }
        best.expect("something was tried")
    }

    #[test]
    fn what_is_left_out_could_not_win() {
        let drawer = [6.8, 10.0, 47.0, 100.0, 150.0, 470.0, 1e3, 2.2e3, 10e3];
        let kinds = [
            LossKind::Loaded,
            LossKind::Unloaded,
            LossKind::MatchedPower,
            LossKind::OpenCircuit,
        ];
        let mut designs = 0;
        for (n, network) in [
            Network::U,
            Network::H,
            Network::O,
            Network::T,
            Network::L,
            Network::Pi,
        ]
        .into_iter()
        .enumerate()
        {
            for kind in kinds {
                for (loss, in_ohms) in [(24.0, 611.0), (33.0, 1970.0), (47.0, 9400.0)] {
                    for input in [Input::AtLeast(Ohms(in_ohms)), Input::Exact(Ohms(in_ohms))] {
                        let request = Request {
                            network,
                            source: Ohms(50.0 + 7.0 * n as f64),
                            input,
                            output: Ohms(153.0),
                            load: Ohms(1590.0),
                            loss: Db(loss),
                            kind,
                        };
                        let Ok(ideal) = design(&request) else {
                            continue;
                        };
                        designs += 1;
                        for stock in [Stock::Series(Series::E24), Stock::Drawer(&drawer)] {
                            for parts in [Parts::Single, Parts::Pair] {
                                let quick =
                                    search(&request, &ideal, stock, parts, &Weights::default());
                                let slow = everything(&request, &ideal, stock, parts);
                                let what = format!("{request:?} {stock:?} {parts:?}");
                                assert!(
                                    (quick.cost - slow.cost).abs() <= 2.0 * TIE,
                                    "{what}: {quick:?} {slow:?}"
                                );
                                let count = |of: &Purchase| (of.resistors(), of.different());
                                assert_eq!(count(&quick), count(&slow), "{what}");
                            }
                        }
                    }
                }
            }
        }
        assert!(designs > 100, "{designs}");
    }
}
