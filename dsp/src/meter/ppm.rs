//! Quasi-peak programme meters of IEC 60268-10: Type I and Type IIa.
//!
//! The standard gives readings of 5 kHz bursts against the steady tone and the time of return, not a
//! circuit. An envelope rises towards the rectified signal with a time constant while that is above it,
//! and falls by so many dB a second. Type I: 1.36 ms, 20 dB in 1.7 s. Type IIa: the mean of two, 3.12 ms
//! (share 0.576) and 1.285 ms, 24 dB in 2.8 s: all bursts within half of their tolerances. Time constants
//! were fitted to the table of bursts. Between peaks an envelope falls: it stands 0.180 dB (Type I) and 0.206 dB
//! (Type IIa) below those of a steady 1 kHz tone, by which meters are aligned, and is shown higher by
//! that. A steady tone reads its peak whatever its frequency, since four places
//! a sample are looked at.

use super::Meter;
use super::between::{BLOCK, Between, Looks, Places};
use crate::units::SampleRate;

/// Which meter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PpmType {
    /// Type I.
    I,
    /// Type IIa.
    IIa,
}

/// One channel's programme meter.
#[derive(Clone, Debug)]
pub struct Ppm {
    between: Between,
    envelopes: Envelopes,
}

/// Two envelopes.
#[derive(Clone, Debug)]
struct Envelopes {
    /// How much of the way up each takes at one of four places, and the share in the reading.
    rises: [(f64, f64); 2],
    /// In one sample, and in four.
    fall: f64,
    fall_of_four: f64,
    now: [f64; 2],
}

impl Ppm {
    /// At rest.
    #[must_use]
    pub fn prepare(which: PpmType, rate: SampleRate) -> Self {
        Self::prepare_at(which, rate.hz())
    }

    /// At rest, for a rate in hertz.
    pub(super) fn prepare_at(which: PpmType, rate_hz: f64) -> Self {
        let (times, db_a_second, below_db) = match which {
            PpmType::I => ([(1.36e-3, 1.0), (1.36e-3, 0.0)], 20.0 / 1.7, 0.180),
            PpmType::IIa => ([(3.122e-3, 0.5762), (1.285e-3, 0.4238)], 24.0 / 2.8, 0.206),
        };
        let aligned = 10f64.powf(below_db / 20.0);
        let rise = |(seconds, share): (f64, f64)| {
            let rise = -0.25 * (-1.0 / (seconds * rate_hz)).exp_m1();
            (rise, share * aligned)
        };
        let fall = |samples: f64| 10f64.powf(-db_a_second * samples / 20.0 / rate_hz);
        Self {
            between: Between::prepare_at(rate_hz),
            envelopes: Envelopes {
                rises: times.map(rise),
                fall: fall(1.0),
                fall_of_four: fall(4.0),
                now: [0.0; 2],
            },
        }
    }

    /// Peak, in the samples' unit, of the steady sine that reads so.
    #[must_use]
    pub fn reading(&self) -> f64 {
        let [(_, one), (_, other)] = self.envelopes.rises;
        one * self.envelopes.now[0] + other * self.envelopes.now[1]
    }
}

impl Meter for Ppm {
    fn reset(&mut self) {
        self.between.reset();
        self.envelopes.now = [0.0; 2];
    }

    fn process(&mut self, samples: &[f64]) {
        self.between.process(samples, &mut self.envelopes);
    }
}

impl Envelopes {
    /// One sample's four places.
    #[inline(always)]
    fn step(&self, [a, b]: [f64; 2], [w, x, y, z]: [f64; 4]) -> [f64; 2] {
        let above = |from: f64| {
            ((w - from).max(0.0) + (x - from).max(0.0))
                + ((y - from).max(0.0) + (z - from).max(0.0))
        };
        let [(one, _), (other, _)] = self.rises;
        let (a, b) = (a * self.fall, b * self.fall);
        [a + one * above(a), b + other * above(b)]
    }
}

impl Looks for Envelopes {
    #[inline(always)]
    fn look(&mut self, places: &Places, count: usize) {
        let mut sizes = *places;
        let mut most = [0.0; BLOCK];
        for place in &mut sizes {
            for (size, most) in place.iter_mut().zip(&mut most) {
                *size = size.abs();
                *most = if *size > *most { *size } else { *most };
            }
        }
        let at = |n: usize| [0, 1, 2, 3].map(|place: usize| sizes[place][n]);
        let mut now = self.now;
        let (fours, rest) = most[..count].as_chunks::<4>();
        for (k, most) in fours.iter().enumerate() {
            let [one, two, three, four] = *most;
            let fallen = now.map(|envelope| envelope * self.fall_of_four);
            if one.max(two).max(three.max(four)) <= fallen[0].min(fallen[1]) {
                // Nothing lifts them: most of what is heard lies below.
                now = fallen;
            } else {
                for n in 4 * k..4 * k + 4 {
                    now = self.step(now, at(n));
                }
            }
        }
        for n in count - rest.len()..count {
            now = self.step(now, at(n));
        }
        self.now = now;
    }
}
