//! From a request to ideal resistor values, by closed form.
//!
//! T, H, pi and O have three values and meet three wishes at once: input impedance with the real load
//! connected, output impedance with the real source connected, and loss. Derivation: with
//! `AD - BC = 1` the two impedances leave one free number, which the loss fixes; each kind of loss
//! then gives a linear or a quadratic equation with one positive root. For `Zs = Zin` and
//! `ZL = Zout` the matched-power form is the textbook image-matched T.
//!
//! U and L have two resistors and meet two wishes: loss and output impedance when the input
//! impedance is a minimum, loss and input impedance when it is exact.

use super::{LossKind, Network, Pad, PadError, TwoPort};
use crate::units::{Db, Ohms};

/// What the pad's input may present to the source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Input {
    /// This impedance, as loaded.
    Exact(Ohms),
    /// This impedance or more, as loaded.
    AtLeast(Ohms),
}

impl Input {
    /// The impedance named.
    #[must_use]
    pub fn ohms(self) -> Ohms {
        match self {
            Self::Exact(ohms) | Self::AtLeast(ohms) => ohms,
        }
    }
}

/// Impedances that make sense, in ohms.
pub(super) const OHMS_RANGE: (f64, f64) = (0.001, 1e9);

/// The largest loss that a plan can ask for, in dB.
pub const MOST_LOSS_DB: f64 = 80.0;

/// A pad wanted. Impedances in ohms, leg to leg, all positive and finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Request {
    /// The network.
    pub network: Network,
    /// Output impedance of what drives the pad.
    pub source: Ohms,
    /// What the source shall see.
    pub input: Input,
    /// What the load shall see.
    pub output: Ohms,
    /// Input impedance of what follows.
    pub load: Ohms,
    /// The loss.
    pub loss: Db,
    /// How the loss is counted.
    pub kind: LossKind,
}

/// Designs a pad with ideal values.
///
/// # Errors
/// [`PadError::NotPositive`] and [`PadError::OutOfRange`] for an impossible number, [`PadError::TooLittleLoss`] when the loss
/// is too small for the impedances; it names the smallest loss above which every design works.
pub fn design(request: &Request) -> Result<Pad, PadError> {
    check(request)?;
    if request.network == Network::None {
        return Ok(Pad::STRAIGHT);
    }
    realise(request).ok_or_else(|| PadError::TooLittleLoss {
        request: *request,
        smallest_db: smallest_loss(request),
    })
}

fn check(request: &Request) -> Result<(), PadError> {
    for (name, given) in [
        ("the source impedance", request.source.0),
        ("the input impedance", request.input.ohms().0),
        ("the output impedance", request.output.0),
        ("the load impedance", request.load.0),
    ] {
        if !(given > 0.0 && given.is_finite()) {
            return Err(PadError::NotPositive { name, given });
        }
        let (least, most) = OHMS_RANGE;
        if !(least..=most).contains(&given) {
            return Err(PadError::OutOfRange {
                name,
                given,
                least,
                most,
            });
        }
    }
    if !(request.loss.0 >= 0.0 && request.loss.0.is_finite()) {
        return Err(PadError::NotPositive {
            name: "the loss in dB",
            given: request.loss.0,
        });
    }
    Ok(())
}

/// The pad if all its resistors come out possible and a minimum is kept.
pub(super) fn realise(request: &Request) -> Option<Pad> {
    let (r1, r2, r3) = if request.network.meets_three_wishes() {
        three_wishes(request)?.to_t()
    } else {
        let (r1, r3) = two_wishes(request)?;
        (r1, 0.0, r3)
    };
    // Rounding in the last digits of a minimum-loss pad must not make it impossible.
    let zero = |ohms: f64| {
        if ohms.abs() < 1e-9 * request.input.ohms().0 {
            0.0
        } else {
            ohms
        }
    };
    let (r1, r2) = (zero(r1), zero(r2));
    let possible = r1 >= 0.0 && r2 >= 0.0 && r3 > 0.0 && (r1 + r2 + r3).is_finite();
    let pad = Pad::from_t(request.network, Ohms(r1), Ohms(r2), Ohms(r3));
    let kept = match request.input {
        Input::AtLeast(minimum) => pad.in_ohms(request.load).0 >= minimum.0 * (1.0 - 1e-9),
        Input::Exact(_) => true,
    };
    (possible && kept).then_some(pad)
}

/// The loss above which every larger loss can be built: searched downward in steps, then bisected.
fn smallest_loss(request: &Request) -> Option<f64> {
    const TOP_DB: f64 = 200.0;
    const STEP_DB: f64 = 0.25;
    let works = |loss_db: f64| {
        realise(&Request {
            loss: Db(loss_db),
            ..*request
        })
        .is_some()
    };
    let mut good_db = TOP_DB;
    if !works(good_db) {
        return None;
    }
    while good_db > STEP_DB && works(good_db - STEP_DB) {
        good_db -= STEP_DB;
    }
    let mut bad_db = good_db - STEP_DB;
    for _ in 0..60 {
        let middle_db = 0.5 * (good_db + bad_db);
        if works(middle_db) {
            good_db = middle_db;
        } else {
            bad_db = middle_db;
        }
    }
    Some(good_db)
}

/// Loss counted from the pad's terminals, given the loss from the source's EMF.
fn loaded_ratio(request: &Request) -> f64 {
    let in_ohms = request.input.ohms().0;
    let ratio = request.loss.ratio();
    match request.kind {
        LossKind::Unloaded => ratio * in_ohms / (in_ohms + request.source.0),
        _ => ratio,
    }
}

/// T and H: input impedance, output impedance and loss at once.
fn three_wishes(request: &Request) -> Option<TwoPort> {
    let (zs, zl) = (request.source.0, request.load.0);
    let (zin, zout) = (request.input.ohms().0, request.output.0);
    match request.kind {
        LossKind::Loaded | LossKind::Unloaded => {
            let k = 1.0 / loaded_ratio(request);
            let g = (k * zin / zl).powi(2);
            let below = (zin + zs) - g * (zout + zl);
            let d = (zout + zl) * (zin + zs) / below;
            let r3 = k * zin * d / zl;
            let (r1, r2) = (zin + g * d - r3, d - zl - r3);
            (below > 0.0).then(|| TwoPort::from_t(r1, r2, r3))
        }
        LossKind::MatchedPower => {
            // Image impedances z1, z2 and image attenuation theta, from
            // zin = z1 (zl + z2 t)/(z2 + zl t) and its mirror, t = tanh theta.
            let theta = request.loss.ratio().ln();
            let t = theta.tanh();
            let quadratic = (
                t * (zs + zin),
                zl * (zs + t * t * zin) - zout * (zin + zs * t * t),
                -zout * zl * t * (zin + zs),
            );
            let z2 = positive_root(quadratic)?;
            let z1 = zin * (z2 + zl * t) / (zl + z2 * t);
            let r3 = (z1 * z2).sqrt() / theta.sinh();
            let (a, d) = (
                theta.cosh() * (z1 / z2).sqrt(),
                theta.cosh() * (z2 / z1).sqrt(),
            );
            Some(TwoPort::from_t((a - 1.0) * r3, (d - 1.0) * r3, r3))
        }
        LossKind::OpenCircuit => {
            let a = request.loss.ratio();
            let d0 = a * (zl + zout) / (zin + zs);
            let d1 = (zin * zl - zout * zs) / (zin + zs);
            let b0 = zout * a - zs * d0;
            let b1 = zs * (zout + d1);
            let c = positive_root((b1, a * d1 + b0, 1.0 - a * d0))?;
            let r3 = 1.0 / c;
            Some(TwoPort::from_t(
                (a - 1.0) * r3,
                (d0 - d1 * c - 1.0) * r3,
                r3,
            ))
        }
    }
}

/// U and L: (series, shunt) from the loss and one impedance.
fn two_wishes(request: &Request) -> Option<(f64, f64)> {
    let (zs, zl) = (request.source.0, request.load.0);
    let open_ratio = match request.kind {
        LossKind::OpenCircuit => Some(request.loss.ratio()),
        // Without an output arm D = 1, and sqrt(A) + sqrt(A - 1) = K gives A.
        LossKind::MatchedPower => {
            let k = request.loss.ratio();
            Some((0.5 * (k + 1.0 / k)).powi(2))
        }
        LossKind::Loaded | LossKind::Unloaded => None,
    };
    match (request.input, open_ratio) {
        (Input::Exact(zin), Some(a)) => {
            let r3 = positive_root((a - 1.0, a * zl - zin.0, -zin.0 * zl))?;
            Some(((a - 1.0) * r3, r3))
        }
        (Input::Exact(zin), None) => {
            let joint = zin.0 / loaded_ratio(request);
            Some((zin.0 - joint, shunt_beside(joint, zl)))
        }
        (Input::AtLeast(_), Some(a)) => {
            // 1/zout = 1/r3 + 1/((a - 1) r3 + zs)
            let zout = request.output.0;
            let r3 = positive_root((a - 1.0, zs - a * zout, -zout * zs))?;
            Some(((a - 1.0) * r3, r3))
        }
        (Input::AtLeast(_), None) => {
            // `joint` is the shunt beside the load; 1/zout + 1/zl = 1/joint + 1/(r1 + zs).
            let g = 1.0 / request.output.0 + 1.0 / zl;
            let m = request.loss.ratio() - 1.0;
            let (joint, r1) = if request.kind == LossKind::Unloaded {
                let joint = (1.0 + 1.0 / m) / g;
                (joint, m * joint - zs)
            } else {
                let joint = positive_root((g * m, g * zs - m - 1.0, -zs))?;
                (joint, m * joint)
            };
            Some((r1, shunt_beside(joint, zl)))
        }
    }
}

/// The shunt that makes `joint_ohms` in parallel with the load.
fn shunt_beside(joint_ohms: f64, load_ohms: f64) -> f64 {
    1.0 / (1.0 / joint_ohms - 1.0 / load_ohms)
}

/// The positive root of a x^2 + b x + c with a >= 0 and c <= 0, free of cancellation.
fn positive_root((a, b, c): (f64, f64, f64)) -> Option<f64> {
    let root = (b * b - 4.0 * a * c).sqrt();
    let x = if b > 0.0 {
        -2.0 * c / (b + root)
    } else {
        (root - b) / (2.0 * a)
    };
    (x > 0.0 && x.is_finite()).then_some(x)
}
