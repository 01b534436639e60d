//! A gain that moves in a straight line.

/// A value on its way to a target.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ramp {
    value: f64,
    step: f64,
    target: f64,
    frames_left: u32,
}

impl Ramp {
    /// Standing still.
    pub(super) fn at(value: f64) -> Self {
        Self {
            value,
            step: 0.0,
            target: value,
            frames_left: 0,
        }
    }

    /// Heads for `target`, to be there in `frames`, from wherever it is.
    pub(super) fn head_for(&mut self, target: f64, frames: u32) {
        if target != self.target {
            self.target = target;
            self.frames_left = frames;
            self.step = (target - self.value) / f64::from(frames.max(1));
        }
    }

    /// At its target at once.
    pub(super) fn finish(&mut self) {
        *self = Self::at(self.target);
    }

    /// Where it is.
    pub(super) fn now(&self) -> f64 {
        self.value
    }

    /// The value for the next frame.
    #[inline]
    pub(super) fn next(&mut self) -> f64 {
        match self.frames_left {
            0 => {}
            1 => self.finish(),
            _ => {
                self.frames_left -= 1;
                self.value += self.step;
            }
        }
        self.value
    }
}

/// A share from 0 to 1 without corners at its ends; exactly 0 and 1 there.
pub(super) fn eased(share: f64) -> f64 {
    share * share * (3.0 - 2.0 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_arrives_exactly_and_in_time() {
        let mut ramp = Ramp::at(1.0);
        ramp.head_for(0.1, 10);
        let values: Vec<f64> = (0..12).map(|_| ramp.next()).collect();
        assert!((values[4] - 0.55).abs() < 1e-12);
        assert_eq!(values[9..], [0.1, 0.1, 0.1]);
    }

    #[test]
    fn a_new_target_starts_from_where_it_is() {
        let mut ramp = Ramp::at(0.0);
        ramp.head_for(1.0, 10);
        (0..5).for_each(|_| {
            ramp.next();
        });
        ramp.head_for(0.0, 5);
        assert!((ramp.next() - 0.4).abs() < 1e-12);
    }
}
