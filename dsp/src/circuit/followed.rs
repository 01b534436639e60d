//! The sure way to where the equations of one step hold, when Newton's method alone is long in coming.
//!
//! Continuation (Ortega and Rheinboldt, Iterative Solution of Nonlinear Equations in Several Variables,
//! 1970, 7.5): where the step begins the equations hold once what they miss there is taken off. That is
//! given back in stages, each so short that Newton's method needs a few rounds from the last one.

use super::apart::Apart;
use super::direction::{Cores, direction};
use super::lanes::Lanes;
use super::network::Network;
use super::newton::{Solution, bounded, channels_of};
use super::ways::Ways;
use super::wires::Controls;

/// The first stage, as a share of the whole way; a stage that is reached doubles the next one.
const FIRST_STAGE: f64 = 0.125;
/// Rounds of Newton's method in a stage; one that takes more is halved.
const STAGE_ROUNDS: usize = 6;
/// Tries at most: a stage is halved no further than to nothing.
const MOST_TRIES: usize = 64;

impl Network {
    /// Solves `v = known + K left(v)` for one of the channels, from `start`, where currents and slopes are
    /// known. The other one's result means nothing. If no stage can be reached, gives the last that was.
    #[inline(always)]
    pub(super) fn followed_in<L: Apart, const SAME: bool>(
        &self,
        ways: Ways<'_, SAME>,
        known: Controls<L>,
        start: Solution<L>,
        straight: L,
        channel: u8,
    ) -> Solution<L> {
        let miss = known.led(start.left, ways).sub(start.v);
        let (mut at, mut stage, mut there) = (0.0, FIRST_STAGE, start);
        for _ in 0..MOST_TRIES {
            let next = (at + stage).min(1.0);
            let here = known.moved(L::splat(next - 1.0), miss);
            let (found, reached) = self.reached(ways, here, there, straight, channel);
            if !reached {
                stage *= 0.5;
                continue;
            }
            if next >= 1.0 {
                return found;
            }
            // Looked up where the slopes have led to.
            there = self.at(ways, found.v);
            (at, stage) = (next, 2.0 * stage);
        }
        there
    }

    /// A few rounds of Newton's method; whether they led to the end.
    #[inline(always)]
    fn reached<L: Lanes, const SAME: bool>(
        &self,
        ways: Ways<'_, SAME>,
        known: Controls<L>,
        mut now: Solution<L>,
        straight: L,
        channel: u8,
    ) -> (Solution<L>, bool) {
        for _ in 0..STAGE_ROUNDS {
            let miss = known.led(now.left, ways).sub(now.v);
            let beyond = now.slopes.sub(ways.slopes());
            let (way, more) = direction(ways, &Cores::of(ways, &beyond), &beyond, miss);
            let length = way.length();
            if channels_of(length.less(straight).bits()) & channel == channel {
                let end = Solution {
                    v: now.v.add(way),
                    left: now.left.add(more),
                    ..now
                };
                return (end, true);
            }
            now = self.at(ways, now.v.moved(bounded(L::splat(1.0), length), way));
        }
        (now, false)
    }
}

#[cfg(test)]
mod tests {
    use super::super::equations::Setup;
    use super::super::lanes::Portable;
    use super::super::network::{DAMPED, PASSIVE};
    use super::super::newton::BOTH;
    use super::*;

    /// splitmix64 (Steele, Lea, Flood, 2014), as a number between -1 and 1.
    fn random(state: &mut u64) -> f64 {
        *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = *state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }

    /// However far a step leads, its equations hold at the end: from anywhere that a step may have
    /// ended to anywhere that the EMF's bounds allow.
    #[test]
    fn every_step_is_solved() {
        let mut state = 1;
        for (rate_hz, load_ohms) in [(44_100.0, 600.0), (48_000.0, 1_430.0), (384e3, 10_000.0)] {
            let setup = Setup {
                source_ohms: 150.0,
                load_ohms,
                step: 6,
            };
            let network = Network::prepare(&setup, 1.0 / rate_hz);
            for place in [PASSIVE, DAMPED] {
                let ways = Ways::same(network.model(place));
                let straight = Portable::splat(network.straight);
                let (mut worst, mut open) = (0.0_f64, 0);
                let mut now = network.at(ways, Controls::nothing());
                for _ in 0..20_000 {
                    let mut any = |one: f64, two: f64| {
                        let (one, two) = (one * random(&mut state), two * random(&mut state));
                        Portable::load(&[one, one, two, two])
                    };
                    let known = Controls {
                        grid: any(400.0, 200.0),
                        plate: any(200.0, 250.0),
                        flux: any(0.1, 1.0),
                        core: any(10.0, 100.0),
                    };
                    now = network.solve(ways, known, now, straight, BOTH);
                    let here = network.at(ways, now.v);
                    let miss = known.led(here.left, ways).sub(here.v).length().store();
                    let miss = miss[0] + miss[2];
                    worst = worst.max(miss);
                    open += u32::from(miss > 0.05);
                    now = here;
                }
                println!("{rate_hz} Hz, place {place}: {worst:.2e} V, {open} not solved");
                assert_eq!(open, 0, "{rate_hz} Hz, place {place}: {worst} V");
            }
        }
    }
}
