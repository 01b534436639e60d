//! What buying a pad costs: the search over single parts and over pairs.

use crate::ruler::least;
use penstock_dsp::pad::{
    Input, LossKind, Network, Parts, Request, Series, Stock, Weights, buy, design,
};
use penstock_dsp::units::{Db, Ohms};
use std::hint::black_box;

/// Prints the time of one search for the networks of two and of three values.
pub fn table() {
    println!();
    for network in [Network::U, Network::H, Network::O] {
        let request = Request {
            network,
            source: Ohms(50.0),
            input: Input::AtLeast(Ohms(2000.0)),
            output: Ohms(150.0),
            load: Ohms(1590.0),
            loss: Db(40.0),
            kind: LossKind::Loaded,
        };
        let ideal = design(&request).expect("40 dB can be built");
        for (parts, what) in [
            (Parts::Single, "one part"),
            (Parts::Pair, "up to two parts"),
        ] {
            let stock = Stock::Series(Series::E96);
            let ns = least(20, || {
                let found = buy(
                    black_box(&request),
                    &ideal,
                    stock,
                    parts,
                    &Weights::default(),
                );
                black_box(found.expect("a series is no empty drawer"));
            });
            let what = format!("pad: {} of E96, {what} a position", network.name());
            println!("{what:<52} {:>8.3} ms (50 ms allowed)", ns * 1e-6);
        }
    }
}
