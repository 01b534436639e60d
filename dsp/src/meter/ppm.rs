//! Quasi-peak programme meters of IEC 60268-10: Type I and Type IIa.
//!
//! The standard gives readings of 5 kHz bursts against the steady tone and the time of return, not a
//! circuit. An envelope rises towards the rectified signal with a time constant while that is above it,
//! and falls by so many dB a second. Type I: 1.36 ms, 20 dB in 1.7 s. Type IIa: the mean of two, 3.12 ms
//! (share 0.576) and 1.285 ms, 24 dB in 2.8 s: all bursts within half of their tolerances. Time constants
//! were fitted to the table of bursts. A steady tone reads its peak whatever its frequency, since four places
//! a sample are looked at.

use super::Meter;
use super::between::Between;
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
    /// How much of the way up a sample takes, and the share in the reading.
    rises: [(f64, f64); 2],
    fall: f64,
    envelopes: [f64; 2],
}

impl Ppm {
    /// At rest.
    #[must_use]
    pub fn prepare(which: PpmType, rate: SampleRate) -> Self {
        let (times, db_a_second): ([(f64, f64); 2], f64) = match which {
            PpmType::I => ([(1.36e-3, 1.0), (1.36e-3, 0.0)], 20.0 / 1.7),
            PpmType::IIa => ([(3.122e-3, 0.5762), (1.285e-3, 0.4238)], 24.0 / 2.8),
        };
        let rise = |(seconds, share): (f64, f64)| (-(-1.0 / (seconds * rate.hz())).exp_m1(), share);
        Self {
            between: Between::prepare(),
            rises: times.map(rise),
            fall: 10f64.powf(-db_a_second / 20.0 / rate.hz()),
            envelopes: [0.0; 2],
        }
    }

    /// Peak, in the samples' unit, of the steady sine that reads so.
    #[must_use]
    pub fn reading(&self) -> f64 {
        let [(_, one), (_, other)] = self.rises;
        one * self.envelopes[0] + other * self.envelopes[1]
    }
}

impl Meter for Ppm {
    fn reset(&mut self) {
        self.between.reset();
        self.envelopes = [0.0; 2];
    }

    fn process(&mut self, samples: &[f64]) {
        let [(one, _), (other, _)] = self.rises.map(|(rise, share)| (0.25 * rise, share));
        let [mut a, mut b] = self.envelopes;
        let fall = self.fall;
        self.between.process(samples, |places| {
            let [w, x, y, z] = places.map(f64::abs);
            let above = |from: f64| {
                ((w - from).max(0.0) + (x - from).max(0.0))
                    + ((y - from).max(0.0) + (z - from).max(0.0))
            };
            (a, b) = (a * fall, b * fall);
            a += one * above(a);
            b += other * above(b);
        });
        self.envelopes = [a, b];
    }
}
