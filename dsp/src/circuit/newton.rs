//! Newton's method for one step of two channels.

use super::lanes::Lanes;
use super::network::Network;
use super::rows::unrolled;
use super::ways::Ways;
use super::wires::{Amps, Controls, Slopes};

/// Rounds at most; the worst input found needs fewer.
const MOST_ROUNDS: usize = 60;
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
    /// Solves `v = known + K left(v)` for the channels in `wanted`; the others' results mean nothing.
    /// Starts from `now`, where currents and (nearly) slopes are known. After the first rounds one that
    /// does not bring the equation nearer is halved, so that it cannot diverge. Ends when no way is longer
    /// than `straight`, so near that the slopes do for the rest. What one channel gets never depends on the
    /// other.
    #[inline(always)]
    pub(super) fn solve<L: Lanes, const SAME: bool>(
        &self,
        ways: Ways<'_, SAME>,
        known: Controls<L>,
        mut now: Solution<L>,
        straight: L,
        wanted: u8,
    ) -> Solution<L> {
        let model = ways.slopes::<L>();
        let mut open = wanted;
        let (mut share, mut before) = (L::splat(1.0), L::splat(f64::INFINITY));
        let mut found = now;
        let mut miss = known.led(now.left, ways).sub(now.v);
        for round in 1..MOST_ROUNDS {
            let (way, more) = direction(ways, &now.slopes.sub(model), miss);
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
            let drawn = self.currents(v);
            let here = Solution {
                v,
                left: drawn.amps.sub(model.times(v)),
                slopes: drawn.slopes,
            };
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
        now.where_set(lanes_of(open), found)
    }
}

/// A share of a way of some length that is short enough.
#[inline(always)]
fn bounded<L: Lanes>(share: L, length: L) -> L {
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

/// Newton's way of the controls and of what is left of the currents.
///
/// Solved for the currents, of which there are fewer: `e = S (miss + K e)`, S being the slopes that the
/// model does not have. Each tube with its core is solved for by itself, then both together: `A e = r +
/// B e'`, where e' are the currents of the other one, so `(1 - X X') e = d + X d'` with `X = B/A`,
/// `d = r/A`. A small determinant gives numbers that are not finite, or a way that does not lead nearer,
/// which is seen.
#[inline(always)]
pub(super) fn direction<L: Lanes, const SAME: bool>(
    ways: Ways<'_, SAME>,
    beyond: &Slopes<L>,
    miss: Controls<L>,
) -> (Controls<L>, Amps<L>) {
    let zero = L::splat(0.0);
    let one = L::splat(1.0);
    let (mut a, mut b) = ([[zero; 3]; 3], [[zero; 3]; 3]);
    unrolled!(KIND in 0 1 2 => {
        let own = beyond.times(Controls {
            grid: ways.own(0, KIND),
            plate: ways.own(1, KIND),
            flux: ways.own(2, KIND),
            core: ways.own(3, KIND),
        });
        let across = beyond.times(Controls {
            grid: ways.across(0, KIND),
            plate: ways.across(1, KIND),
            flux: ways.across(2, KIND),
            core: ways.across(3, KIND),
        });
        a[0][KIND] = zero.sub(own.plate);
        a[1][KIND] = zero.sub(own.grid);
        a[2][KIND] = zero.sub(own.core);
        a[KIND][KIND] = a[KIND][KIND].add(one);
        b[0][KIND] = across.plate;
        b[1][KIND] = across.grid;
        b[2][KIND] = across.core;
    });
    let r = beyond.times(miss);
    let inverse = inverted(&a);
    let d = times(&inverse, [r.plate, r.grid, r.core]);
    let mut x = [[zero; 3]; 3];
    unrolled!(N in 0 1 2 => {
        let column = times(&inverse, [b[0][N], b[1][N], b[2][N]]);
        x[0][N] = column[0];
        x[1][N] = column[1];
        x[2][N] = column[2];
    });
    let mut q = [[zero; 3]; 3];
    unrolled!(N in 0 1 2 => {
        let column = times(&x, [x[0][N].swapped(), x[1][N].swapped(), x[2][N].swapped()]);
        q[0][N] = zero.sub(column[0]);
        q[1][N] = zero.sub(column[1]);
        q[2][N] = zero.sub(column[2]);
        q[N][N] = q[N][N].add(one);
    });
    let by_other = times(&x, [d[0].swapped(), d[1].swapped(), d[2].swapped()]);
    let [plate, grid, core] = times(
        &inverted(&q),
        [
            d[0].add(by_other[0]),
            d[1].add(by_other[1]),
            d[2].add(by_other[2]),
        ],
    );
    let more = Amps { plate, grid, core };
    (miss.led(more, ways), more)
}

/// A matrix times a vector.
#[inline(always)]
fn times<L: Lanes>(m: &[[L; 3]; 3], [a, b, c]: [L; 3]) -> [L; 3] {
    [
        m[0][2].fma(c, m[0][1].fma(b, m[0][0].mul(a))),
        m[1][2].fma(c, m[1][1].fma(b, m[1][0].mul(a))),
        m[2][2].fma(c, m[2][1].fma(b, m[2][0].mul(a))),
    ]
}

/// The inverse of a matrix, by its cofactors.
#[inline(always)]
fn inverted<L: Lanes>(m: &[[L; 3]; 3]) -> [[L; 3]; 3] {
    let [[a, b, c], [d, e, f], [g, h, i]] = *m;
    let (ei, fg, dh) = (
        f.fnma(h, e.mul(i)),
        d.fnma(i, f.mul(g)),
        e.fnma(g, d.mul(h)),
    );
    let one = L::splat(1.0).div(c.fma(dh, b.fma(fg, a.mul(ei))));
    [
        [
            ei.mul(one),
            b.fnma(i, c.mul(h)).mul(one),
            c.fnma(e, b.mul(f)).mul(one),
        ],
        [
            fg.mul(one),
            c.fnma(g, a.mul(i)).mul(one),
            a.fnma(f, c.mul(d)).mul(one),
        ],
        [
            dh.mul(one),
            a.fnma(h, b.mul(g)).mul(one),
            b.fnma(d, a.mul(e)).mul(one),
        ],
    ]
}
