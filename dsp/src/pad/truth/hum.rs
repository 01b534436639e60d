//! Hum: what a voltage common to both legs leaves between them.
//!
//! Both legs of the source carry the same voltage against ground (the difference of two grounds, say);
//! at the preamplifier each leg has a common-mode impedance to ground, which in practice is a phantom
//! feed resistor. Legs that are not equal turn part of it into signal. And where nothing draws it to
//! ground the common voltage reaches the preamplifier whole, while the programme is reduced by the
//! loss: what the preamplifier's own rejection lets through rises by as much against the programme.

use super::{MOST, branch_ohms, cold_out, corners, node};
use crate::pad::nodal::{Circuit, GROUND, Solution};
use crate::pad::{Joint, Pad};
use crate::units::Ohms;

/// The usual phantom feed resistor of IEC 61938 (figure from memory), one in each leg.
pub const PHANTOM_FEED_OHMS: f64 = 6810.0;

/// Under which circumstances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HumCase {
    /// Output impedance of the source, half in each leg.
    pub source: Ohms,
    /// Input impedance of the preamplifier, between the legs.
    pub load: Ohms,
    /// From each leg to ground at the preamplifier.
    pub common_mode: Ohms,
    /// Whether the shunt (of two, the one at the output) is two halves with their joint grounded.
    pub centre_tapped: bool,
    /// By how much every resistor may be off: 0.01 is 1 %.
    pub share: f64,
}

/// What hum does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hum {
    /// Rejection at the worst corner: a programme of as many volts as the hum, over what the hum leaves
    /// between the legs, in dB.
    pub rejection_db: f64,
    /// The same by the root of the sum of squares.
    pub rejection_rss_db: f64,
    /// Loss of the common voltage itself from source to preamplifier, in dB.
    pub common_loss_db: f64,
    /// By how much what the preamplifier's own rejection lets through rises against the programme.
    pub rise_db: f64,
    /// Resistors at the worst corner, in the order of the network's list; with a centre tap the two
    /// halves of the shunt stand at the end and the shunt itself is 0.
    pub worst_ohms: [f64; MOST + 2],
}

/// Hum through a balanced pad; `None` for an unbalanced one, which rejects nothing.
#[must_use]
pub fn hum(pad: &Pad, case: &HumCase) -> Option<Hum> {
    if !pad.network().is_balanced() {
        return None;
    }
    let network = pad.network();
    let shunt = network
        .branches()
        .iter()
        .rposition(|branch| network.count(branch.position) == 1)?;
    let count = network.branches().len() + usize::from(case.centre_tapped);
    let values = |signs: &[f64]| {
        let nominal = branch_ohms(pad);
        let mut ohms = [0.0; MOST + 2];
        for (place, sign) in signs.iter().enumerate() {
            let factor = 1.0 + case.share * sign;
            match (case.centre_tapped, place) {
                (true, place) if place == shunt => ohms[MOST] = 0.5 * nominal[shunt] * factor,
                (true, place) if place + 1 == count => {
                    ohms[MOST + 1] = 0.5 * nominal[shunt] * factor;
                }
                _ => ohms[place] = nominal[place] * factor,
            }
        }
        ohms
    };
    let left = |signs: &[f64]| between(&solve(pad, case, shunt, &values(signs), [1.0, 1.0]), pad);
    let even = [0.0; MOST + 1];
    let programme = solve(pad, case, shunt, &values(&even[..count]), [0.5, -0.5]);
    let programme = between(&programme, pad).abs();
    let common = solve(pad, case, shunt, &values(&even[..count]), [1.0, 1.0]);
    let common = common.at(node(Joint::OutHot)).norm();
    let (mut worst, mut worst_ohms) = (0.0, values(&even[..count]));
    corners(count, |signs| {
        let found = left(signs).abs();
        if found > worst {
            (worst, worst_ohms) = (found, values(signs));
        }
    });
    let squares: f64 = (0..count)
        .map(|place| {
            let mut signs = even;
            signs[place] = 1.0;
            left(&signs[..count]).powi(2)
        })
        .sum();
    let decibels = |ratio: f64| 20.0 * ratio.log10();
    Some(Hum {
        rejection_db: decibels(programme / worst),
        rejection_rss_db: decibels(programme / squares.sqrt()),
        common_loss_db: -decibels(common),
        rise_db: decibels(common / programme),
        worst_ohms,
    })
}

fn between(solution: &Solution, pad: &Pad) -> f64 {
    solution.between(node(Joint::OutHot), cold_out(pad)).re
}

/// The whole circuit with an EMF in each leg.
fn solve(
    pad: &Pad,
    case: &HumCase,
    shunt: usize,
    ohms: &[f64; MOST + 2],
    emf: [f64; 2],
) -> Solution {
    let mut circuit = Circuit::new(6, 0.0);
    let half = 0.5 * case.source.0;
    circuit.source(node(Joint::InHot), GROUND, emf[0], half);
    circuit.source(node(Joint::InCold), GROUND, emf[1], half);
    let open = |place: usize| {
        if case.centre_tapped && place == shunt {
            f64::INFINITY
        } else {
            ohms[place]
        }
    };
    circuit.pad(pad, node, open);
    let (hot, cold) = (node(Joint::OutHot), node(Joint::OutCold));
    if case.centre_tapped {
        let ends = pad.network().branches()[shunt].ends.map(node);
        circuit.resistor(ends[0], GROUND, ohms[MOST]);
        circuit.resistor(ends[1], GROUND, ohms[MOST + 1]);
    }
    circuit.resistor(hot, cold, case.load.0);
    circuit.resistor(hot, GROUND, case.common_mode.0);
    circuit.resistor(cold, GROUND, case.common_mode.0);
    circuit.solve()
}
