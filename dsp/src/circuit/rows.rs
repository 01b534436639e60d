//! Columns, four rows at a time.

use super::lanes::Lanes;
use super::network::{Column, ROWS};

/// The same statement for several constants: a loop would keep what it adds up in memory.
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
