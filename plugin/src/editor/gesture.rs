//! Arithmetic of drags, keys and the wheel, in normalised positions.

/// Points a drag must travel for the whole range.
const DRAG_POINTS: f32 = 400.0;
/// How much slower a fine drag is.
const FINE: f32 = 0.1;
/// Points of a smooth scroll that make one notch.
pub(crate) const POINTS_PER_NOTCH: f32 = 40.0;
/// Steps of a page key.
pub(crate) const PAGE_STEPS: f32 = 10.0;

/// A drag's exact position, and what of it is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Drag {
    exact: f32,
    step: f32,
}

impl Drag {
    /// From where the control stands; `step` as in `Kind::Continuous`.
    pub(crate) fn start(at: f32, step: f32) -> Self {
        Self { exact: at, step }
    }

    /// Moves by points to the right or up, and returns the position on the grid: a tenth of a
    /// step, or a hundredth when fine.
    pub(crate) fn travel(&mut self, points: f32, fine: bool) -> f32 {
        let rate = if fine { FINE } else { 1.0 };
        self.exact = (self.exact + rate * points / DRAG_POINTS).clamp(0.0, 1.0);
        let grid = self.step * 0.1 * rate;
        on_grid(self.exact, grid)
    }
}

/// The nearest multiple of `grid`; the ends of the range are always reached.
fn on_grid(at: f32, grid: f32) -> f32 {
    if grid.is_nan() || grid <= 0.0 || at <= 0.0 || at >= 1.0 {
        return at.clamp(0.0, 1.0);
    }
    ((f64::from(at) / f64::from(grid)).round() * f64::from(grid)).clamp(0.0, 1.0) as f32
}

/// Moves by arrow keys or notches; fine is a tenth of a step.
pub(crate) fn nudged(at: f32, steps: f32, step: f32, fine: bool) -> f32 {
    let rate = if fine { FINE } else { 1.0 };
    (at + steps * step * rate).clamp(0.0, 1.0)
}

/// Where the k-th of `count` stands.
pub(crate) fn position_of(k: usize, count: usize) -> f32 {
    let last = count.saturating_sub(1);
    if last == 0 {
        0.0
    } else {
        k.min(last) as f32 / last as f32
    }
}

/// The k moved by whole steps, without leaving the ends.
pub(crate) fn stepped(k: usize, by: i32, count: usize) -> usize {
    k.saturating_add_signed(by as isize)
        .min(count.saturating_sub(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP: f32 = 1.0 / 80.0;

    #[test]
    fn a_drag_lands_on_tenths_of_a_step() {
        let mut drag = Drag::start(0.5, STEP);
        for _ in 0..37 {
            let tenths = f64::from(drag.travel(1.0, false)) * 800.0;
            assert!((tenths - tenths.round()).abs() < 1e-3, "{tenths}");
        }
        // 37 points of 400 over 80 units are 7.4 units.
        assert!((drag.travel(0.0, false) * 80.0 - 47.4).abs() < 1e-4);
    }

    #[test]
    fn shift_is_ten_times_finer_and_does_not_jump() {
        let mut drag = Drag::start(0.25, STEP);
        let coarse = drag.travel(40.0, false);
        let fine = drag.travel(40.0, true);
        assert!((coarse - 0.35).abs() < 1e-5);
        assert!((fine - 0.36).abs() < 1e-5);
    }

    #[test]
    fn slow_drags_add_up() {
        let mut drag = Drag::start(0.0, 0.5);
        let mut at = 0.0;
        for _ in 0..100 {
            at = drag.travel(0.4, false);
        }
        assert!((at - 0.1).abs() < 1e-5);
    }

    #[test]
    fn the_ends_are_reached_and_not_passed() {
        let mut drag = Drag::start(0.999, 0.3);
        assert_eq!(drag.travel(1000.0, false), 1.0);
        assert_eq!(drag.travel(-4000.0, true), 0.0);
        assert_eq!(nudged(0.95, 1.0, 0.1, false), 1.0);
        assert_eq!(nudged(0.05, -PAGE_STEPS, 0.1, false), 0.0);
    }

    #[test]
    fn fine_keys_are_a_tenth() {
        assert!((nudged(0.5, 1.0, STEP, false) - (0.5 + STEP)).abs() < 1e-7);
        assert!((nudged(0.5, 1.0, STEP, true) - (0.5 + STEP * 0.1)).abs() < 1e-7);
    }

    #[test]
    fn steps_stand_at_k_over_n_minus_one() {
        let places: Vec<f32> = (0..5).map(|k| position_of(k, 5)).collect();
        assert_eq!(places, [0.0, 0.25, 0.5, 0.75, 1.0]);
        assert_eq!(position_of(0, 1), 0.0);
        assert_eq!(stepped(0, -1, 7), 0);
        assert_eq!(stepped(5, 9, 7), 6);
    }
}
