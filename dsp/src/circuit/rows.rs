//! Columns, four rows at a time.

use super::equations::{CONTROLS, PORTS};
use super::lanes::Lanes;
use super::network::{Column, ROWS};

/// The same statement for several constants.
macro_rules! unrolled {
    ($name:ident in $($number:literal)+ => $do:expr) => {
        $({
            const $name: usize = $number;
            $do;
        })+
    };
}
pub(super) use unrolled;

/// Four rows of a column.
#[inline(always)]
pub(super) fn at<L: Lanes>(column: &Column, row: usize) -> L {
    L::load(&[
        column[row],
        column[row + 1],
        column[row + 2],
        column[row + 3],
    ])
}

/// Adds a share of a column.
#[inline(always)]
pub(super) fn add<L: Lanes>(to: &mut [L; 5], share: f64, column: &Column) {
    let share = L::splat(share);
    unrolled!(N in 0 1 2 3 4 => to[N] = at::<L>(column, 4 * N).fma(share, to[N]));
}

/// Adds a share of a column, on any processor.
pub(super) fn take(to: &mut Column, share: f64, column: &Column) {
    for (to, column) in to.iter_mut().zip(column) {
        *to += share * column;
    }
}

/// The whole column.
#[inline(always)]
pub(super) fn stored<L: Lanes>(known: [L; 5]) -> Column {
    let mut column = [0.0; ROWS];
    for (to, from) in column.chunks_exact_mut(4).zip(known) {
        to.copy_from_slice(&from.store());
    }
    column
}

/// The controls as lanes.
#[inline(always)]
pub(super) fn lanes<L: Lanes>(v: &[f64; CONTROLS]) -> [L; 2] {
    let [a, b, c, d, e, f, g, h] = *v;
    [L::load(&[a, b, c, d]), L::load(&[e, f, g, h])]
}

/// The controls as numbers.
#[inline(always)]
pub(super) fn controls<L: Lanes>(v: [L; 2]) -> [f64; CONTROLS] {
    let [[a, b, c, d], [e, f, g, h]] = v.map(L::store);
    [a, b, c, d, e, f, g, h]
}

/// Controls, and what these currents add to them.
#[inline(always)]
pub(super) fn led<L: Lanes>(from: [L; 2], by: &[f64; PORTS], feedback: &[Column; PORTS]) -> [L; 2] {
    // Two chains: half the time from end to end.
    let (mut one, mut two) = (from, [L::splat(0.0); 2]);
    unrolled!(N in 0 2 4 => add_controls::<L>(&mut one, by[N], &feedback[N]));
    unrolled!(N in 1 3 5 => add_controls::<L>(&mut two, by[N], &feedback[N]));
    [one[0].add(two[0]), one[1].add(two[1])]
}

#[inline(always)]
fn add_controls<L: Lanes>(to: &mut [L; 2], share: f64, column: &Column) {
    let share = L::splat(share);
    to[0] = at::<L>(column, 0).fma(share, to[0]);
    to[1] = at::<L>(column, 4).fma(share, to[1]);
}
