//! The preamplifier under a periodic EMF, in steady state: what stands at each point over one period.
//!
//! Waiting for capacitors takes seconds of sound. Instead the state after each period is noted, and
//! after some of them the state that the sequence tends to is extrapolated and gone on from (reduced rank
//! extrapolation: Eddy 1979; Smith, Ford and Sidi, SIAM Review 29 (1987) 199). A few slow modes are gone at
//! once, as far as they are linear and their decays differ by more than rounding; the rest after some
//! rounds.
//!
//! Two EMFs go side by side, since two channels take hardly longer than one.

use crate::circuit::{Preamp, STATES, Settings, Taps, solve};
use crate::pad::TwoPort;
use std::sync::atomic::{AtomicBool, Ordering};

/// From the line output to the preamplifier's output.
pub(crate) const POINTS: usize = 6;
/// EMFs side by side.
pub(crate) const LANES: usize = 2;
/// Modes that may go at once.
const MODES: usize = 5;
/// Periods before those: what is fast goes by itself.
const WAIT: usize = 1;

type States = [f64; STATES];

/// Voltages at the points, over one period.
pub(crate) type Waves = [Vec<f64>; POINTS];

/// The model, driven round by round.
pub(crate) struct Steady {
    preamp: Preamp,
    pad: TwoPort,
    waves: [Waves; LANES],
}

impl Steady {
    /// For a preamplifier behind a pad, at a rate in hertz; its noise is off.
    pub(crate) fn prepare(settings: &Settings, pad: TwoPort, rate_hz: f64) -> Self {
        let quiet = Settings {
            noise: false,
            ..*settings
        };
        Self {
            preamp: Preamp::prepare_channels(&quiet, rate_hz, LANES),
            pad,
            waves: Default::default(),
        }
    }

    /// What the lanes hold, to begin there again.
    pub(crate) fn held(&self) -> [States; LANES] {
        [0, 1].map(|lane| self.preamp.held(lane))
    }

    /// Begins where a lane was.
    pub(crate) fn hold(&mut self, lane: usize, states: &States) {
        self.preamp.hold(lane, states);
    }

    /// One round under EMFs at the terminals, each one period of the same length: nearer to the steady
    /// state, then a period that is kept. `None` when `stop` was set.
    pub(crate) fn round(
        &mut self,
        emf: [&[f64]; LANES],
        stop: &AtomicBool,
    ) -> Option<&[Waves; LANES]> {
        for _ in 0..WAIT {
            self.period(emf, false);
        }
        let mut past = [self.held(); MODES + 2];
        for past in &mut past[1..] {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            self.period(emf, false);
            *past = self.held();
        }
        for lane in 0..LANES {
            let tends = tends_to(&past.map(|states| states[lane]));
            self.preamp.hold(lane, &tends);
        }
        self.period(emf, true);
        Some(&self.waves)
    }

    fn period(&mut self, emf: [&[f64]; LANES], keep: bool) {
        if keep {
            for wave in self.waves.iter_mut().flatten() {
                wave.clear();
            }
        }
        let [one, other] = emf;
        let mut block = [[0.0; 256]; LANES];
        for (one, other) in one.chunks(256).zip(other.chunks(256)) {
            let frames = one.len();
            block[0][..frames].copy_from_slice(one);
            block[1][..frames].copy_from_slice(other);
            let [a, b] = &mut block;
            let mut both = [&mut a[..frames], &mut b[..frames]];
            let (pad, waves) = (&self.pad, &mut self.waves);
            self.preamp
                .process_channels(0, &mut both, |lane, _, block, _| {
                    if !keep {
                        return;
                    }
                    for taps in block.all() {
                        for (wave, volts) in waves[lane].iter_mut().zip(volts(pad, &taps)) {
                            wave.push(volts);
                        }
                    }
                });
        }
    }
}

/// In the order of the points.
fn volts(pad: &TwoPort, taps: &Taps) -> [f64; POINTS] {
    [
        pad.a * taps.mic_in + pad.b * taps.in_amps,
        taps.mic_in,
        taps.transformer_in,
        taps.grid_1,
        taps.grid_2,
        taps.preamp_out,
    ]
}

/// What a sequence of states tends to: the mean, of weights that add up to 1, whose next step is the
/// smallest.
fn tends_to(past: &[States; MODES + 2]) -> States {
    const STEPS: usize = MODES + 1;
    let step = |n: usize, state: usize| past[n + 1][state] - past[n][state];
    let mut normal = [[0.0; STEPS]; STEPS];
    for (a, row) in normal.iter_mut().enumerate() {
        for (b, value) in row.iter_mut().enumerate() {
            *value = (0..STATES)
                .map(|state| step(a, state) * step(b, state))
                .sum();
        }
    }
    let last = past[MODES + 1];
    let trace: f64 = (0..STEPS).map(|n| normal[n][n]).sum();
    if trace <= 1e-24 {
        return last;
    }
    for (n, row) in normal.iter_mut().enumerate() {
        // Steps that are alike to rounding say nothing of their difference.
        row[n] += 1e-13 * trace;
    }
    let mut weights = [[1.0]; STEPS];
    solve(&mut normal, &mut weights);
    let sum: f64 = weights.iter().map(|[weight]| weight).sum();
    let mut tends = [0.0; STATES];
    for (states, [weight]) in past[1..].iter().zip(&weights) {
        for (to, from) in tends.iter_mut().zip(states) {
            *to += weight / sum * from;
        }
    }
    if tends.iter().all(|state| state.is_finite()) {
        tends
    } else {
        last
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sequence of four decaying modes is led to its end at once: what is 5 away comes within 0.01.
    #[test]
    fn four_modes_go_at_once() {
        let decays = [0.98, 0.9, 0.5, -0.3];
        let at = |n: usize| -> States {
            std::array::from_fn(|state| {
                let modes = decays.iter().enumerate().map(|(m, decay)| {
                    let share = ((state * 7 + m * 3) % 11) as f64 - 5.0;
                    share * f64::powi(*decay, n as i32)
                });
                state as f64 + modes.sum::<f64>()
            })
        };
        let tends = tends_to(&std::array::from_fn(at));
        for (state, tends) in tends.iter().enumerate() {
            assert!((tends - state as f64).abs() < 0.01, "{state}: {tends}");
        }
    }
}
