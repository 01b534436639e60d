//! The slow judge: general nodal analysis of resistors, capacitors and current sources.
//!
//! It knows nothing of pads, ladders or balance: every node gets an equation by Kirchhoff's current
//! law, every element its admittance, and the whole is solved by elimination with pivots. What the
//! closed forms say is held against it, and what they cannot say (unequal legs, cables, heat) comes
//! from it. Source: any textbook of network theory.

use super::{Joint, Pad};
use realfft::num_complex::Complex64;

/// Ground: every voltage counts from it.
pub const GROUND: usize = usize::MAX;

/// Most nodes of a circuit.
const MOST: usize = 12;

/// A circuit at one frequency.
#[derive(Clone, Debug)]
pub struct Circuit {
    nodes: usize,
    omega: f64,
    admittance: [[Complex64; MOST]; MOST],
    current: [Complex64; MOST],
}

impl Circuit {
    /// A circuit of so many nodes besides ground (at most twelve) at a frequency in hertz; 0 is DC.
    ///
    /// # Panics
    /// When there are more nodes.
    #[must_use]
    pub fn new(nodes: usize, hz: f64) -> Self {
        assert!(nodes <= MOST, "a circuit has at most {MOST} nodes");
        Self {
            nodes,
            omega: std::f64::consts::TAU * hz,
            admittance: [[Complex64::default(); MOST]; MOST],
            current: [Complex64::default(); MOST],
        }
    }

    /// An admittance in siemens between two nodes.
    pub fn admittance(&mut self, a: usize, b: usize, siemens: Complex64) {
        for (from, to) in [(a, b), (b, a)] {
            if from != GROUND {
                self.admittance[from][from] += siemens;
                if to != GROUND {
                    self.admittance[from][to] -= siemens;
                }
            }
        }
    }

    /// A resistor; infinite is none. A wire (0 ohm) is taken as a microohm.
    pub fn resistor(&mut self, a: usize, b: usize, ohms: f64) {
        let siemens = 1.0 / ohms.max(1e-6);
        self.admittance(a, b, Complex64::new(siemens, 0.0));
    }

    /// A capacitor.
    pub fn capacitor(&mut self, a: usize, b: usize, farads: f64) {
        self.admittance(a, b, Complex64::new(0.0, self.omega * farads));
    }

    /// A voltage of `volts` behind `ohms` (above 0) that drives `plus` up against `minus`.
    pub fn source(&mut self, plus: usize, minus: usize, volts: f64, ohms: f64) {
        self.resistor(plus, minus, ohms);
        let amps = volts / ohms.max(1e-6);
        for (node, sign) in [(plus, 1.0), (minus, -1.0)] {
            if node != GROUND {
                self.current[node] += sign * amps;
            }
        }
    }

    /// Every resistor of a pad, with the nodes that `joint` names and values by `ohms` of the branch's
    /// place in the network's list.
    pub fn pad(&mut self, pad: &Pad, joint: impl Fn(Joint) -> usize, ohms: impl Fn(usize) -> f64) {
        for (place, branch) in pad.network().branches().iter().enumerate() {
            let [a, b] = branch.ends.map(&joint);
            self.resistor(a, b, ohms(place));
        }
    }

    /// Volts of every node, by elimination with row pivots. A node that nothing holds is at 0.
    #[must_use]
    pub fn solve(&self) -> Solution {
        let n = self.nodes;
        let (mut m, mut right) = (self.admittance, self.current);
        for column in 0..n {
            let pivot = (column..n)
                .max_by(|a, b| m[*a][column].norm().total_cmp(&m[*b][column].norm()))
                .unwrap_or(column);
            if m[pivot][column].norm() == 0.0 {
                continue;
            }
            m.swap(column, pivot);
            right.swap(column, pivot);
            let lead = m[column][column];
            for row in column + 1..n {
                let factor = m[row][column] / lead;
                let above = m[column];
                for (entry, above) in m[row].iter_mut().zip(above).skip(column) {
                    *entry -= factor * above;
                }
                let above = right[column];
                right[row] -= factor * above;
            }
        }
        let mut volts = [Complex64::default(); MOST];
        for row in (0..n).rev() {
            let known: Complex64 = (row + 1..n).map(|k| m[row][k] * volts[k]).sum();
            if m[row][row].norm() > 0.0 {
                volts[row] = (right[row] - known) / m[row][row];
            }
        }
        Solution { volts }
    }
}

/// Volts of every node.
#[derive(Clone, Debug)]
pub struct Solution {
    volts: [Complex64; MOST],
}

impl Solution {
    /// Volts of a node against ground.
    #[must_use]
    pub fn at(&self, node: usize) -> Complex64 {
        if node == GROUND {
            Complex64::default()
        } else {
            self.volts[node]
        }
    }

    /// Volts between two nodes.
    #[must_use]
    pub fn between(&self, a: usize, b: usize) -> Complex64 {
        self.at(a) - self.at(b)
    }
}

/// Input ohms, output ohms and terminal voltage ratio of a pad between a source and a load, by nodal
/// analysis alone: what [`super::TwoPort`] says in closed form.
#[must_use]
pub fn judge(pad: &Pad, source_ohms: f64, load_ohms: f64) -> [f64; 3] {
    // Cold input is ground; in an unbalanced network so is cold output.
    let joint = |joint: Joint| match joint {
        Joint::InHot => 0,
        Joint::MidHot => 1,
        Joint::MidCold => 2,
        Joint::OutHot => 3,
        Joint::OutCold => 4,
        Joint::InCold => GROUND,
    };
    let cold = if pad.network().is_balanced() {
        4
    } else {
        GROUND
    };
    let values = |place: usize| pad.values()[pad.network().branches()[place].position];
    let mut driven = Circuit::new(5, 0.0);
    driven.source(0, GROUND, 1.0, source_ohms);
    driven.pad(pad, joint, values);
    driven.resistor(3, cold, load_ohms);
    let volts = driven.solve();
    let input = volts.at(0).re;
    let amps = (1.0 - input) / source_ohms;
    let mut backwards = Circuit::new(5, 0.0);
    backwards.resistor(0, GROUND, source_ohms);
    backwards.pad(pad, joint, values);
    backwards.source(3, cold, 1.0, load_ohms);
    let back = backwards.solve().between(3, cold).re;
    [
        input / amps,
        back / ((1.0 - back) / load_ohms),
        input / volts.between(3, cold).re,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pad::{Input, LossKind, Network, Request, design};
    use crate::units::{Db, Ohms};

    #[test]
    fn every_closed_form_is_what_the_judge_says() {
        for network in Network::ALL.into_iter().skip(1) {
            for kind in [
                LossKind::Loaded,
                LossKind::Unloaded,
                LossKind::MatchedPower,
                LossKind::OpenCircuit,
            ] {
                let request = Request {
                    network,
                    source: Ohms(50.0),
                    input: Input::AtLeast(Ohms(600.0)),
                    output: Ohms(150.0),
                    load: Ohms(1500.0),
                    loss: Db(30.0),
                    kind,
                };
                let pad = design(&request).expect("a pad");
                let [zin, zout, ratio] = judge(&pad, 50.0, 1500.0);
                let near = |got: f64, want: f64| (got / want - 1.0).abs() < 1e-9;
                let load = request.load;
                assert!(near(zin, pad.in_ohms(load).0), "{network:?} {zin}");
                assert!(near(zout, pad.out_ohms(request.source).0), "{network:?}");
                let loss = pad.loss(LossKind::Loaded, request.source, load).ratio();
                assert!(near(ratio, loss), "{network:?}: {ratio} {loss}");
                assert!(near(zout, 150.0), "{network:?}: {zout}");
                if network.meets_three_wishes() {
                    assert!(near(zin, 600.0), "{network:?}: {zin}");
                }
            }
        }
    }
}
