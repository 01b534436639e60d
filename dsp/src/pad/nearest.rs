//! The impedances nearest to those asked for between which a loss can be had.
//!
//! Searched, not solved: from what was asked for in steps of 5 % either way, then bisected. A window
//! narrower than a step may be missed; every answer given is one that [`super::design`] accepts.

use super::design::realise;
use super::{Input, Network, Pad, Request};
use crate::units::Ohms;
use std::fmt;

/// What would make a loss possible that is too small for its impedances. In ohms.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Nearest {
    /// This input impedance alone, smaller than the one asked for.
    pub in_ohms: Option<f64>,
    /// This output impedance alone.
    pub out_ohms: Option<f64>,
    /// Input and output impedance together; sought only where neither alone helps.
    pub both_ohms: Option<(f64, f64)>,
}

impl Nearest {
    /// Searches round a request that [`super::design`] refused for its loss. Some thousand trials: not for
    /// the audio thread.
    #[must_use]
    pub fn of(request: &Request) -> Self {
        let (input, output) = (request.input.ohms().0, request.output.0);
        let works = |input: f64, output: f64| realise(&with(request, input, output)).is_some();
        // A U or L with an exact input leaves its output impedance to chance.
        let has_output =
            request.network.meets_three_wishes() || matches!(request.input, Input::AtLeast(_));
        let in_ohms = first(&|x| works(input * x, output), false).map(|x| input * x);
        let out_ohms = has_output
            .then(|| {
                let down = first(&|x| works(input, output * x), false);
                let up = first(&|x| works(input, output / x), true).map(|x| 1.0 / x);
                let nearer = |x: &f64| x.ln().abs();
                let both = [down, up].into_iter().flatten();
                both.min_by(|a, b| nearer(a).total_cmp(&nearer(b)))
                    .map(|x| output * x)
            })
            .flatten();
        let alone = Self {
            in_ohms: in_ohms.map(|x| rounded(x, &|x| works(x, output))),
            out_ohms: out_ohms.map(|x| rounded(x, &|x| works(input, x))),
            both_ohms: None,
        };
        if alone != Self::default() {
            return alone;
        }
        Self {
            both_ohms: both(request),
            ..alone
        }
    }
}

/// The same request with other impedances.
fn with(request: &Request, input: f64, output: f64) -> Request {
    Request {
        input: match request.input {
            Input::Exact(_) => Input::Exact(Ohms(input)),
            Input::AtLeast(_) => Input::AtLeast(Ohms(input)),
        },
        output: Ohms(output),
        ..*request
    }
}

/// The largest factor below 1, from 0.95 down to 1e-9 (or to 0.001 where `near`), at which `works`.
fn first(works: &dyn Fn(f64) -> bool, near: bool) -> Option<f64> {
    const STEP: f64 = 0.95;
    let least = if near { 1e-3 } else { 1e-9 };
    let mut good = STEP;
    while !works(good) {
        good *= STEP;
        if good < least {
            return None;
        }
    }
    let mut bad = good / STEP;
    for _ in 0..50 {
        let middle = 0.5 * (good + bad);
        if works(middle) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    Some(good)
}

/// Input and output impedance on the way from those asked for to those of a pad that has the loss: a
/// shunt with equal arms, or with one arm for U and L.
fn both(request: &Request) -> Option<(f64, f64)> {
    let has_output_arm = request.network.meets_three_wishes();
    let pad = |arm: f64, shunt: f64| {
        let out_arm = if has_output_arm { arm } else { 0.0 };
        // A T whatever the network: losses and impedances are the same, and a T may have no arms.
        Pad::from_t(Network::T, Ohms(arm), Ohms(out_arm), Ohms(shunt))
    };
    let lacks = |pad: Pad| pad.loss(request.kind, request.source, request.load).0 <= request.loss.0;
    let load = request.load.0;
    let shunt = [1.0, 10.0, 100.0, 1e3, 1e4]
        .map(|times| times * load)
        .into_iter()
        .find(|shunt| lacks(pad(0.0, *shunt)))?;
    let (mut low, mut high) = (0.0, 1e9);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if lacks(pad(middle, shunt)) {
            low = middle;
        } else {
            high = middle;
        }
    }
    let built = pad(high, shunt);
    let (in_goal, out_goal) = (
        built.in_ohms(request.load).0,
        built.out_ohms(request.source).0,
    );
    let (input, output) = (request.input.ohms().0, request.output.0);
    let at = |way: f64| {
        (
            input * (in_goal / input).powf(way),
            output * (out_goal / output).powf(way),
        )
    };
    let works = |(input, output): (f64, f64)| realise(&with(request, input, output)).is_some();
    let way = (1..=1000)
        .map(|step| f64::from(step) / 1000.0)
        .find(|way| works(at(*way)))?;
    let (input, output) = at(way);
    let input = rounded(input, &|x| works((x, output)));
    Some((input, rounded(output, &|x| works((input, x)))))
}

/// The number with as few digits as it keeps working with: what is printed can be asked for.
fn rounded(ohms: f64, works: &dyn Fn(f64) -> bool) -> f64 {
    [10.0, 100.0, 1e4, 1e6]
        .into_iter()
        .flat_map(|parts| {
            [
                (ohms * parts).floor() / parts,
                (ohms * parts).ceil() / parts,
            ]
        })
        // One step is 1 % at most.
        .find(|&near| (near / ohms - 1.0).abs() < 0.01 && works(near))
        .unwrap_or(ohms)
}

impl fmt::Display for Nearest {
    /// The end of a sentence that says why not; empty where nothing helps.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.in_ohms, self.out_ohms, self.both_ohms) {
            (Some(input), Some(output), _) => write!(
                f,
                "at this loss an input impedance of at most {input} ohm or an output impedance of \
                 {output} ohm"
            ),
            (Some(input), None, _) => {
                write!(f, "at this loss an input impedance of at most {input} ohm")
            }
            (None, Some(output), _) => {
                write!(f, "at this loss an output impedance of {output} ohm")
            }
            (None, None, Some((input, output))) => write!(
                f,
                "at this loss an input impedance of {input} ohm with an output impedance of \
                 {output} ohm"
            ),
            (None, None, None) => Ok(()),
        }
    }
}
