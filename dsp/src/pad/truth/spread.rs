//! How far tolerances move a pad: every corner, and the root of the sum of squares.

use super::{branch_ohms, corners};
use crate::pad::{LossKind, Pad};
use crate::units::Ohms;

/// How far one figure may be from its nominal value.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Deviation {
    /// The lowest of all corners less the nominal value.
    pub low: f64,
    /// The highest of all corners less the nominal value.
    pub high: f64,
    /// Root of the sum of squares: every resistor's own full tolerance, as if independent. For
    /// resistors spread evenly over their tolerance a standard deviation is this over sqrt(3).
    pub rss: f64,
}

/// What tolerances do to loss (dB) and impedances (ohms).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// The loss, in dB.
    pub loss_db: Deviation,
    /// The input impedance, loaded, in ohms.
    pub in_ohms: Deviation,
    /// The output impedance, driven, in ohms.
    pub out_ohms: Deviation,
}

/// The spread for resistors that may each be off by `share` (0.01 is 1 %), counted resistor by
/// resistor; two in series or parallel count as one.
#[must_use]
pub fn spread(pad: &Pad, kind: LossKind, source: Ohms, load: Ohms, share: f64) -> Spread {
    let branches = pad.network().branches();
    let count = branches.len();
    let figures = |factors: &[f64]| {
        // A pair of legs does what their mean does, for source and load float.
        let mut sums = [0.0; 3];
        for (branch, factor) in branches.iter().zip(factors) {
            sums[branch.position] += factor / pad.network().count(branch.position) as f64;
        }
        let mut values = [0.0; 3];
        for (position, ohms) in pad.values().iter().enumerate() {
            values[position] = ohms * sums[position];
        }
        let pad = Pad::from_values(pad.network(), values);
        [
            pad.loss(kind, source, load).0,
            pad.in_ohms(load).0,
            pad.out_ohms(source).0,
        ]
    };
    let ones = branch_ohms(pad).map(|_| 1.0);
    let nominal = figures(&ones[..count]);
    let mut deviations = [Deviation::default(); 3];
    corners(count, |signs| {
        let mut factors = ones;
        for (factor, sign) in factors.iter_mut().zip(signs) {
            *factor += sign * share;
        }
        let found = figures(&factors[..count]);
        for ((deviation, found), nominal) in deviations.iter_mut().zip(found).zip(nominal) {
            deviation.low = deviation.low.min(found - nominal);
            deviation.high = deviation.high.max(found - nominal);
        }
    });
    for place in 0..count {
        let moved = |by: f64| {
            let mut factors = ones;
            factors[place] += by;
            figures(&factors[..count])
        };
        let (up, down) = (moved(share), moved(-share));
        for ((deviation, up), down) in deviations.iter_mut().zip(up).zip(down) {
            deviation.rss += (0.5 * (up - down)).powi(2);
        }
    }
    let [loss_db, in_ohms, out_ohms] = deviations.map(|deviation| Deviation {
        rss: deviation.rss.sqrt(),
        ..deviation
    });
    Spread {
        loss_db,
        in_ohms,
        out_ohms,
    }
}
