//! How restless a channel's tubes are, which decides what its steps are taken with.
//!
//! A step that leads a tube to another region, or in which a grid leaps, is taken without any tube in
//! its exact part: less exact, but bounded by the currents themselves. When leap follows leap it is the
//! steps that swing, not the sound: then they are damped. Such a channel also does without the tubes for
//! some calm steps, since it is likely to leap again, and trying both ways is what would cost most.

use super::network::{DAMPED, PASSIVE};

/// After so many leaps in a row the steps are damped.
const SWINGS: u32 = 4;
/// After so many, so many calm steps do without the tubes.
const STREAK: u32 = 2;
const CALM_STEPS: u32 = 24;
/// After so many since it was calm the steps are damped until it is: a swing with calm steps in between.
const MOST_LEAPS: u32 = 256;

/// What a channel's last steps were.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Unrest {
    /// Leaps in a row to here.
    in_a_row: u32,
    /// Leaps since all was calm.
    leaps: u32,
    /// Calm steps to go without the tubes.
    to_go: u32,
}

impl Unrest {
    /// Nothing leaps.
    pub(super) const CALM: Self = Self {
        in_a_row: 0,
        leaps: 0,
        to_go: 0,
    };

    /// Whether nothing leaps, nor has just done.
    #[inline(always)]
    pub(super) fn is_calm(self) -> bool {
        self.in_a_row | self.to_go == 0
    }

    /// The model to step with from a place.
    #[inline(always)]
    pub(super) fn model(self, place: usize) -> usize {
        if self.is_calm() {
            place
        } else if self.in_a_row < SWINGS && self.leaps < MOST_LEAPS {
            PASSIVE
        } else {
            DAMPED
        }
    }

    /// Counts a step.
    pub(super) fn count(&mut self, leaps: bool) {
        if leaps {
            self.in_a_row = self.in_a_row.saturating_add(1);
            self.leaps = self.leaps.saturating_add(1);
            if self.in_a_row >= STREAK {
                self.to_go = CALM_STEPS;
            }
        } else {
            self.in_a_row = 0;
            self.to_go = self.to_go.saturating_sub(1);
            if self.to_go == 0 {
                self.leaps = 0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_leap_a_row_of_leaps_and_calm() {
        let mut unrest = Unrest::CALM;
        assert_eq!(unrest.model(5), 5);
        unrest.count(true);
        assert_eq!(unrest.model(5), PASSIVE);
        unrest.count(false);
        assert_eq!(unrest.model(5), 5);
        (0..SWINGS).for_each(|_| unrest.count(true));
        assert_eq!(unrest.model(5), DAMPED);
        for _ in 0..CALM_STEPS {
            unrest.count(false);
            assert_ne!(unrest.model(5), DAMPED);
        }
        assert_eq!((unrest, unrest.model(5)), (Unrest::CALM, 5));
    }

    #[test]
    fn a_swing_with_calm_steps_in_between_is_damped_too() {
        let mut unrest = Unrest::CALM;
        for n in 0..2 * MOST_LEAPS {
            unrest.count(n % 3 < 2);
        }
        assert_eq!(unrest.model(0), DAMPED);
    }
}
