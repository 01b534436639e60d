//! The VU meter of IEC 60268-17 (also ANSI C16.5): a full-wave average on a movement of second order.
//!
//! Switched on, a steady tone reads 99 % after 300 ms and goes over by 1.0 to 1.5 %. A movement
//! `x'' + 2 z w x' + w^2 x = w^2 u` does so with z = 0.81272 and w = 13.5123 rad/s (1.25 % over; from its
//! step response). It is stepped exactly for an input that stays as it is within a sample: the average over
//! four places, since the rectified signal has overtones that samples alone would fold. Four steps are taken
//! as one where there are four: the same, in fewer roundings.

use super::Meter;
use super::between::{BLOCK, Between, Looks, Places};
use crate::units::SampleRate;
use std::f64::consts::PI;

const DAMPING: f64 = 0.812_72;
const RADIANS_A_SECOND: f64 = 13.5123;

/// Deflection and speed.
type Motion = [f64; 2];

/// One channel's VU meter.
#[derive(Clone, Debug)]
pub struct Vu {
    between: Between,
    movement: Movement,
}

/// The pointer.
#[derive(Clone, Debug)]
struct Movement {
    /// One step of the motion, and four.
    step: [Motion; 2],
    four: [Motion; 2],
    /// What the average of each of the last four steps adds, the newest last.
    push: [Motion; 4],
    motion: Motion,
}

impl Vu {
    /// At rest.
    #[must_use]
    pub fn prepare(rate: SampleRate) -> Self {
        Self::prepare_at(rate.hz())
    }

    /// At rest, for a rate in hertz.
    pub(super) fn prepare_at(rate_hz: f64) -> Self {
        Self {
            between: Between::prepare_at(rate_hz),
            movement: Movement::prepare(rate_hz),
        }
    }

    /// RMS, in the samples' unit, of the steady sine that deflects as far.
    #[must_use]
    pub fn reading(&self) -> f64 {
        // A sine's RMS over its average: pi / sqrt(8). The pointer rests on its stop at nothing.
        self.movement.motion[0].max(0.0) * PI / 8f64.sqrt()
    }
}

impl Meter for Vu {
    fn reset(&mut self) {
        self.between.reset();
        self.movement.motion = [0.0; 2];
    }

    fn process(&mut self, samples: &[f64]) {
        self.between.process(samples, &mut self.movement);
    }
}

impl Movement {
    fn prepare(rate_hz: f64) -> Self {
        let t = 1.0 / rate_hz;
        let (decay, w) = (DAMPING * RADIANS_A_SECOND, RADIANS_A_SECOND);
        let turn = w * (1.0 - DAMPING * DAMPING).sqrt();
        let (sin, cos) = (turn * t).sin_cos();
        let (shrink, per) = ((-decay * t).exp(), sin / turn);
        // How deflection from where it should be, and speed, go on within a step.
        let step = [
            [shrink * (cos + decay * per), shrink * per],
            [-shrink * w * w * per, shrink * (cos - decay * per)],
        ];
        let mut push = [[1.0 - step[0][0], -step[1][0]]; 4];
        let mut four = step;
        for n in (0..3).rev() {
            push[n] = turned(&step, push[n + 1]);
            let columns = [0, 1].map(|k| turned(&step, [four[0][k], four[1][k]]));
            four = [0, 1].map(|k| [columns[0][k], columns[1][k]]);
        }
        Self {
            step,
            four,
            push,
            motion: [0.0; 2],
        }
    }
}

#[inline(always)]
fn turned(by: &[Motion; 2], [deflection, speed]: Motion) -> Motion {
    [
        by[0][0] * deflection + by[0][1] * speed,
        by[1][0] * deflection + by[1][1] * speed,
    ]
}

impl Looks for Movement {
    #[inline(always)]
    fn look(&mut self, places: &Places, count: usize) {
        let mut averages = [0.0; BLOCK];
        let [w, x, y, z] = places;
        for n in 0..BLOCK {
            averages[n] = 0.25 * ((w[n].abs() + x[n].abs()) + (y[n].abs() + z[n].abs()));
        }
        let (fours, rest) = averages[..count].as_chunks::<4>();
        let mut motion = self.motion;
        for averages in fours {
            let mut to = [0.0; 2];
            for (push, average) in self.push.iter().zip(averages) {
                to = [to[0] + push[0] * average, to[1] + push[1] * average];
            }
            let [deflection, speed] = turned(&self.four, motion);
            motion = [deflection + to[0], speed + to[1]];
        }
        let [.., last] = self.push;
        for average in rest {
            let [deflection, speed] = turned(&self.step, motion);
            motion = [deflection + last[0] * average, speed + last[1] * average];
        }
        self.motion = motion;
    }
}
