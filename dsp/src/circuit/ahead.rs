//! The known part of a step: what the states take of everything but the newest currents.
//!
//! All but the last currents' share is computed a step before, while the laws are waited for.

use super::apart::Apart;
use super::group::{CHUNK, Group, PORT_LANES, Rows};
use super::lanes::Lanes;
use super::model::{EMF_SAMPLES, NOW};
use super::network::{Column, DAMPED, ROWS, STATE_ROWS};
use super::rows::{at, unrolled};
use super::ways::Ways;

impl<L: Apart, const N: usize> Group<L, N> {
    /// Begins step `n`, for models that stay the same.
    #[inline(always)]
    pub(super) fn look_ahead_in<const SAME: bool>(&mut self, ways: Ways<'_, SAME>, n: usize) {
        let known = self.known();
        let (known, left) = ([&known[0], &known[N - 1]], &self.left[1]);
        let emf = [&self.emf[0], &self.emf[N - 1]];
        // A channel's sums are its own whichever way is taken: what is left out adds nothing.
        let sum = if self.used[0] == DAMPED && self.used[N - 1] == DAMPED {
            rows_ahead::<L, SAME, true, N, 5>(ways, emf, n, known, left, 0)
        } else {
            rows_ahead::<L, SAME, false, N, 5>(ways, emf, n, known, left, 0)
        };
        put(&mut self.ahead, 0, sum);
    }

    /// Begins step `n`, of which the states will be `known[side]` and the currents before it are the
    /// last ones now.
    #[inline(always)]
    pub(super) fn see_ahead<const SAME: bool>(
        &mut self,
        ways: Ways<'_, SAME>,
        n: usize,
        side: usize,
    ) {
        let last = N - 1;
        let known = [&self.known[side][0], &self.known[side][last]];
        let emf = [&self.emf[0], &self.emf[last]];
        let sum = rows_ahead::<L, SAME, false, N, 5>(ways, emf, n, known, &self.left[0], 0);
        put(&mut self.ahead, 0, sum);
    }

    /// What is known of the next states, when what was begun is there.
    #[inline(always)]
    pub(super) fn completed<const SAME: bool>(&self, ways: Ways<'_, SAME>) -> [Column; N] {
        let last = N - 1;
        let mut sum = [[L::splat(0.0); 5]; 2];
        unrolled!(V in 0 1 2 3 4 => {
            sum[0][V] = at::<L>(&self.ahead[0], 4 * V);
            sum[1][V] = at::<L>(&self.ahead[last], 4 * V);
        });
        if self.hisses {
            unrolled!(V in 0 1 2 3 4 => {
                sum[0][V] = sum[0][V].add(at::<L>(&self.kick[0], 4 * V));
                sum[1][V] = sum[1][V].add(at::<L>(&self.kick[last], 4 * V));
            });
        }
        unrolled!(K in 0 1 2 3 4 5 => {
            let (kind, lane) = PORT_LANES[K];
            let share = &self.left[0][kind];
            add_both::<L, SAME, N, 5>(
                &mut sum,
                [share[lane], share[lane + last]],
                [&ways.last[0][K], &ways.last[1][K]],
                0,
            );
        });
        let mut known = [[0.0; ROWS]; N];
        put(&mut known, 0, sum);
        known
    }
}

/// Puts rows from number `from` on into columns.
#[inline(always)]
fn put<L: Lanes, const N: usize, const W: usize>(
    to: &mut [Column; N],
    from: usize,
    sum: [[L; W]; 2],
) {
    for (to, sum) in to.iter_mut().zip(sum) {
        for (to, sum) in to[from..].chunks_exact_mut(4).zip(sum) {
            to.copy_from_slice(&sum.store());
        }
    }
}

/// Rows from number `from` on of the states of step `n` that are known without the newest currents. A
/// damped model takes nothing of earlier currents, and of the EMF the newest alone.
#[inline(always)]
fn rows_ahead<L: Lanes, const SAME: bool, const DAMP: bool, const N: usize, const W: usize>(
    ways: Ways<'_, SAME>,
    emf: [&[f64; CHUNK + EMF_SAMPLES]; 2],
    n: usize,
    known: [&Column; 2],
    before: &Rows,
    from: usize,
) -> [[L; W]; 2] {
    let (one, other) = (ways.one, ways.other);
    let mut sum = [[L::splat(0.0); W]; 2];
    unrolled!(K in 0 1 2 3 4 5 => {
        if !DAMP || K == NOW {
            let shares = [emf[0][n + K], emf[1][n + K]];
            add_both::<L, SAME, N, W>(&mut sum, shares, [&one.by_emf[K], &other.by_emf[K]], from);
        }
    });
    unrolled!(K in 0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 => {
        let shares = [known[0][STATE_ROWS[K]], known[1][STATE_ROWS[K]]];
        add_both::<L, SAME, N, W>(&mut sum, shares, [&one.by_state[K], &other.by_state[K]], from);
    });
    if DAMP {
        return sum;
    }
    unrolled!(K in 0 1 2 3 4 5 => {
        let (kind, lane) = PORT_LANES[K];
        let shares = [before[kind][lane], before[kind][lane + N - 1]];
        add_both::<L, SAME, N, W>(&mut sum, shares, [&one.by_before[K], &other.by_before[K]], from);
    });
    sum
}

/// Adds shares of rows of columns to the sums of both channels.
#[inline(always)]
fn add_both<L: Lanes, const SAME: bool, const N: usize, const W: usize>(
    to: &mut [[L; W]; 2],
    shares: [f64; 2],
    columns: [&Column; 2],
    from: usize,
) {
    let (one, two) = (L::splat(shares[0]), L::splat(shares[1]));
    unrolled!(V in 0 1 2 3 4 => {
        if V < W {
            let column = at::<L>(columns[0], from + 4 * V);
            to[0][V] = column.fma(one, to[0][V]);
            if N == 2 {
                let column = if SAME { column } else { at::<L>(columns[1], from + 4 * V) };
                to[1][V] = column.fma(two, to[1][V]);
            }
        }
    });
    if N == 1 {
        to[1] = to[0];
    }
}
