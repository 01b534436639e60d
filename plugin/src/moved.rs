//! Whether what the window shows has changed, so that a still picture costs nothing.

use crate::bridge::Reading;
use crate::loudness;

/// A level that moves by less is not seen: a twentieth of a dB, of 0.1 dB that are written.
const SEEN_DB: f32 = 0.05;
/// What lies lower is no level: under the picture's end, in volts or of full scale.
const NOTHING: f32 = 1e-8;
/// DC that moves by less is not seen, in volts.
const SEEN_DC: f32 = 1e-3;

/// What the window was last told of.
#[derive(Clone, Copy, Debug, Default)]
pub struct Shown {
    reading: Reading,
    loudness: Option<loudness::Reading>,
}

impl Shown {
    /// Takes figures, and says whether a new picture is due. Never allocates.
    pub fn moved(&mut self, reading: &Reading, loudness: Option<loudness::Reading>) -> bool {
        let levels = |reading: &Reading| [reading.rms, reading.peak, reading.sine, reading.held];
        let pairs = levels(&self.reading).into_iter().flatten();
        let pairs = pairs.zip(levels(reading).into_iter().flatten());
        let moved = self.reading.clipped != reading.clipped
            || self.reading.overs != reading.overs
            || self.loudness != loudness
            || dc_moved(&self.reading, reading)
            || pairs.into_iter().any(|(was, is)| differs(was, is));
        if moved {
            (self.reading, self.loudness) = (*reading, loudness);
        }
        moved
    }
}

/// DC is told in millivolts; what is less is rounding, whose decibels never rest.
fn dc_moved(was: &Reading, is: &Reading) -> bool {
    let mut pairs = was.dc.iter().zip(&is.dc);
    pairs.any(|(was, is)| (was - is).abs() > SEEN_DC)
}

fn differs(was: f32, is: f32) -> bool {
    let (was, is) = (was.abs().max(NOTHING), is.abs().max(NOTHING));
    (20.0 * (is / was).log10()).abs() > SEEN_DB
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_still_is_not_drawn_again() {
        let mut shown = Shown::default();
        let mut reading = Reading::default();
        assert!(!shown.moved(&reading, None), "silence from the start");
        reading.rms[2] = 0.5;
        assert!(shown.moved(&reading, None));
        assert!(!shown.moved(&reading, None));
        // Small steps add up: it is compared with what was shown, not with what was last.
        let mut told = 0;
        for _ in 0..100 {
            reading.rms[2] *= 1.002;
            told += usize::from(shown.moved(&reading, None));
        }
        // 1.74 dB in steps of more than 0.05 dB.
        assert!((25..=35).contains(&told), "{told}");
        reading.dc[4] = 0.9e-3;
        assert!(!shown.moved(&reading, None), "less than a millivolt");
        reading.dc[4] = 0.03;
        assert!(shown.moved(&reading, None));
        reading.clipped.send_frames = 1;
        assert!(shown.moved(&reading, None));
        assert!(shown.moved(&reading, Some(([-20.0, -14.0], 3.0))));
        assert!(!shown.moved(&reading, Some(([-20.0, -14.0], 3.0))));
    }
}
