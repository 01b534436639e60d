//! Newton's method for one step of two channels.

use super::apart::Apart;
use super::direction::{Cores, direction};
use super::lanes::Lanes;
use super::network::Network;
use super::ways::Ways;
use super::wires::{Amps, Controls, Slopes};

/// Rounds at most; then the sure way is taken, from the start.
const MOST_ROUNDS: usize = 16;
/// Rounds before which a way need not lead nearer: where a tube begins to conduct, the first leads too
/// far, and the next ones back.
const BOLD_ROUNDS: usize = 5;
/// No control moves further in one round (plates: thirty times as far).
const MOST_STEP: f64 = 50.0;
/// A way is halved down to this share.
const LEAST_SHARE: f64 = 1e-3;

/// Controls, and what is left of the currents there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Solution<L> {
    pub(super) v: Controls<L>,
    pub(super) left: Amps<L>,
    /// Slopes of the currents.
    pub(super) slopes: Slopes<L>,
}

/// Lanes of the channels whose bits are set: 1 the first, 2 the second.
#[inline(always)]
pub(super) fn lanes_of<L: Lanes>(channels: u8) -> L {
    const MASKS: [[f64; 4]; 4] = [
        [0.0; 4],
        [-1.0, 0.0, -1.0, 0.0],
        [0.0, -1.0, 0.0, -1.0],
        [-1.0; 4],
    ];
    L::load(&MASKS[usize::from(channels & 3)])
}

/// The channels both of whose lanes are set.
#[inline(always)]
pub(super) fn channels_of(bits: u8) -> u8 {
    bits & bits >> 2
}

/// Both channels.
pub(super) const BOTH: u8 = 3;

impl Network {
    /// What is left of the currents at controls.
    #[inline(always)]
    pub(super) fn at<L: Lanes, const SAME: bool>(
        &self,
        ways: Ways<'_, SAME>,
        v: Controls<L>,
    ) -> Solution<L> {
        let drawn = self.currents(v);
        Solution {
            v,
            left: drawn.amps.sub(ways.slopes::<L>().times(v)),
            slopes: drawn.slopes,
        }
    }

    /// Solves `v = known + K left(v)` for the channels in `wanted`; the others' results mean nothing.
    /// Starts from `now`, where currents and (nearly) slopes are known. After the first rounds one that
    /// does not bring the equation nearer is halved, so that it cannot diverge; where that does not lead to
    /// the end, [`Self::followed_in`] does. Ends when no way is longer than `straight`, so near that the
    /// slopes do for the rest. What one channel gets never depends on the
    /// other.
    #[inline(always)]
    pub(super) fn solve<L: Apart, const SAME: bool>(
        &self,
        ways: Ways<'_, SAME>,
        known: Controls<L>,
        mut now: Solution<L>,
        straight: L,
        wanted: u8,
    ) -> Solution<L> {
        let model = ways.slopes::<L>();
        let mut open = wanted;
        let start = now;
        let (mut share, mut before) = (L::splat(1.0), L::splat(f64::INFINITY));
        let mut found = now;
        let mut miss = known.led(now.left, ways).sub(now.v);
        let mut cores = Cores::of(ways, &now.slopes.sub(model));
        for round in 1..MOST_ROUNDS {
            let beyond = now.slopes.sub(model);
            if round > BOLD_ROUNDS {
                cores = Cores::of(ways, &beyond);
            }
            let (way, more) = direction(ways, &cores, &beyond, miss);
            let length = way.length();
            let ends = channels_of(length.less(straight).bits()) & open;
            // A way that is no number leads nowhere: there it stays.
            let lost = !channels_of(length.less(L::splat(f64::INFINITY)).bits()) & open;
            if ends | lost != 0 {
                let end = Solution {
                    v: now.v.add(way),
                    left: now.left.add(more),
                    ..now
                };
                found = end.where_set(lanes_of(ends), now.where_set(lanes_of(lost), found));
                open &= !(ends | lost);
                if open == 0 {
                    return found;
                }
            }
            let v = now.v.moved(bounded(share, length), way);
            let here = self.at(ways, v);
            let miss_here = known.led(here.left, ways).sub(v);
            if round <= BOLD_ROUNDS {
                (now, miss) = (here, miss_here);
            } else {
                let size = miss_here.size();
                let size = size.add(size.swapped());
                let nearer = size.less(before);
                let taken = nearer.select(nearer, share.less(L::splat(LEAST_SHARE)));
                now = here.where_set(taken, now);
                miss = miss_here.where_set(taken, miss);
                before = taken.select(size, before);
                share = taken.select(L::splat(1.0), share.mul(L::splat(0.5)));
            }
        }
        for channel in [1, 2] {
            if open & channel != 0 {
                let end = L::followed(self, ways, known, &start, straight, channel);
                found = end.where_set(lanes_of(channel), found);
            }
        }
        found
    }
}

/// A share of a way of some length that is short enough.
#[inline(always)]
pub(super) fn bounded<L: Lanes>(share: L, length: L) -> L {
    let most = L::splat(MOST_STEP);
    if length.less(most).bits() == 0b1111 {
        return share;
    }
    let other = length.swapped();
    let longest = other.less(length).select(length, other);
    longest
        .less(most)
        .select(share, most.div(longest).min(share))
}

impl<L: Lanes> Solution<L> {
    /// Of a mask's lanes this, of the others `other`.
    #[inline(always)]
    pub(super) fn where_set(self, mask: L, other: Self) -> Self {
        Self {
            v: self.v.where_set(mask, other.v),
            left: self.left.where_set(mask, other.left),
            slopes: self.slopes.where_set(mask, other.slopes),
        }
    }
}

impl<L: Lanes> Slopes<L> {
    #[inline(always)]
    pub(super) fn where_set(self, mask: L, other: Self) -> Self {
        Self {
            plate_by_grid: mask.select(self.plate_by_grid, other.plate_by_grid),
            plate_by_plate: mask.select(self.plate_by_plate, other.plate_by_plate),
            grid_by_grid: mask.select(self.grid_by_grid, other.grid_by_grid),
            core_by_flux: mask.select(self.core_by_flux, other.core_by_flux),
            core_by_volts: mask.select(self.core_by_volts, other.core_by_volts),
        }
    }
}
