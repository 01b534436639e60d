//! Newton's method for one step, from anywhere.

use super::currents::{Beyond, Slopes, left};
use super::equations::{CONTROLS, PORTS};
use super::lanes::Lanes;
use super::network::{Column, Model, Network};
use super::rows::{at, controls, lanes, led};

/// The method ends when no control moves by more, in volts (fluxes: milliwebers).
const TOLERANCE: f64 = 1e-3;
/// Below this the currents follow the controls in a straight line, to a hundred millionth.
const STRAIGHT: f64 = 3e-4;
/// Rounds at most; the worst input found needs fewer.
const MOST_ROUNDS: usize = 60;
/// Rounds before which a way need not lead nearer: where a tube begins to conduct, the first leads too
/// far, and the next ones back.
const BOLD_ROUNDS: usize = 5;
/// No control moves further in one round.
const MOST_STEP: f64 = 50.0;

/// Controls, what is left of the currents there, and slopes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Solution {
    pub(super) v: [f64; CONTROLS],
    pub(super) left: [f64; PORTS],
    pub(super) slopes: Slopes,
    /// `known + K left - v`: nothing, when it is one.
    miss: [f64; CONTROLS],
}

impl Network {
    /// Solves `v = known + K left(v)` from `v` on; after the first, a round that does not bring the
    /// equation nearer is halved, so that it cannot diverge.
    #[inline(always)]
    pub(super) fn solve<L: Lanes>(
        &self,
        model: &Model,
        known: &Column,
        v: &[f64; CONTROLS],
    ) -> Solution {
        let mut now = self.tried::<L>(model, known, v);
        for round in 0..MOST_ROUNDS {
            let (move_by, more) = model.newton::<L>(&now.slopes, &now.miss);
            let most = largest(&move_by);
            if !most.is_finite() {
                break;
            }
            if most < STRAIGHT {
                // So near that the slopes do for the rest of the way.
                for (left, more) in now.left.iter_mut().zip(&more) {
                    *left += more;
                }
                for (v, move_by) in now.v.iter_mut().zip(&move_by) {
                    *v += move_by;
                }
                break;
            }
            let mut share = (MOST_STEP / most).min(1.0);
            let before = size(&now.miss);
            for _ in 0..12 {
                let mut v = now.v;
                for (v, move_by) in v.iter_mut().zip(&move_by) {
                    *v += share * move_by;
                }
                let next = self.tried::<L>(model, known, &v);
                let nearer = round < BOLD_ROUNDS || size(&next.miss) < before || most < TOLERANCE;
                if nearer || share < 1e-3 {
                    now = next;
                    break;
                }
                share *= 0.5;
            }
            if most < TOLERANCE {
                break;
            }
        }
        now
    }

    /// How far these controls are from a solution.
    #[inline(always)]
    fn tried<L: Lanes>(&self, model: &Model, known: &Column, v: &[f64; CONTROLS]) -> Solution {
        let (amps, slopes) = self.currents::<L>(v);
        let left = left(model, v, &amps);
        let from = [at::<L>(known, 0), at::<L>(known, 4)];
        let mut miss = controls(led::<L>(from, &left, &model.by_ports[2]));
        for (miss, v) in miss.iter_mut().zip(v) {
            *miss -= v;
        }
        Solution {
            v: *v,
            left,
            slopes,
            miss,
        }
    }
}

impl Model {
    /// The step of Newton's method: of the controls, and of what is left of the currents.
    ///
    /// Solved for the currents, of which there are fewer: `e = S (miss + K e)`, S being the slopes that
    /// the model does not have. A small pivot gives numbers that are not finite, or a way that does not
    /// lead nearer, which is seen.
    #[inline(always)]
    pub(super) fn newton<L: Lanes>(
        &self,
        slopes: &Slopes,
        miss: &[f64; CONTROLS],
    ) -> ([f64; CONTROLS], [f64; PORTS]) {
        let feedback = &self.by_ports[2];
        let beyond = Beyond::<L>::of(slopes, &self.slopes);
        let miss = lanes::<L>(miss);
        let mut left = beyond.amps(miss);
        let mut matrix = [[0.0; PORTS]; PORTS];
        for (port, column) in feedback.iter().enumerate() {
            let by = beyond.amps([at::<L>(column, 0), at::<L>(column, 4)]);
            for (row, by) in by.iter().enumerate() {
                matrix[row][port] = -by;
            }
            matrix[port][port] += 1.0;
        }
        for n in 0..PORTS {
            let pivot = matrix[n];
            let inverse = 1.0 / pivot[n];
            for row in n + 1..PORTS {
                let share = matrix[row][n] * inverse;
                for k in n + 1..PORTS {
                    matrix[row][k] -= share * pivot[k];
                }
                left[row] -= share * left[n];
            }
        }
        for n in (0..PORTS).rev() {
            for k in n + 1..PORTS {
                left[n] -= matrix[n][k] * left[k];
            }
            left[n] /= matrix[n][n];
        }
        (controls(led::<L>(miss, &left, feedback)), left)
    }
}

/// The largest magnitude; not a number when one is none.
fn largest(values: &[f64; CONTROLS]) -> f64 {
    let mut most: f64 = 0.0;
    for value in values {
        let size = value.abs();
        if size > most || size.is_nan() {
            most = size;
        }
    }
    most
}

fn size(miss: &[f64; CONTROLS]) -> f64 {
    miss.iter().map(|miss| miss * miss).sum()
}
