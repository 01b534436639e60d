//! One point of one channel.

use super::histogram::Histogram;
use super::passages::Watch;
use super::{PointStatistics, READINGS_A_SECOND, WINDOW_SECONDS};
use crate::chain::Point;
use crate::diagram::Limit;
use crate::meter::{Meter, TruePeak};
use crate::units::{Dbu, Volts, VoltsPeak};

/// Slots of a short-term reading.
const SLOTS: usize = (WINDOW_SECONDS * READINGS_A_SECOND) as usize;
/// Samples handed on together.
const BLOCK: usize = 64;
/// The signal between samples is no more than so many times the largest of the samples around it: more than
/// the sum of the magnitudes of the filter's taps.
const MOST_BETWEEN: f64 = 3.0;
/// Below this RMS there is nothing but the rounding of the circuit's sums (see `meter::points`).
const SILENCE_VOLTS: f64 = 1e-12;

/// Squares of the samples in slots of a tenth of a second.
#[derive(Clone, Debug)]
struct Slots {
    ring: [(f64, u64); SLOTS],
    whole: u64,
    now: (f64, u64),
    /// Number of the sample that begins the next slot.
    next: u64,
    readings: Histogram,
}

impl Slots {
    fn prepare(rate_hz: f64) -> Self {
        Self {
            ring: [(0.0, 0); SLOTS],
            whole: 0,
            now: (0.0, 0),
            next: Self::begins(1, rate_hz),
            readings: Histogram::prepare(),
        }
    }

    /// The sample at which a slot begins.
    fn begins(slot: u64, rate_hz: f64) -> u64 {
        (slot as f64 * rate_hz / READINGS_A_SECOND).round() as u64
    }

    /// Takes the square of a sample of this number.
    #[inline]
    fn add(&mut self, at: u64, square: f64, rate_hz: f64) {
        self.now.0 += square;
        self.now.1 += 1;
        if at + 1 == self.next {
            self.close(rate_hz);
        }
    }

    fn close(&mut self, rate_hz: f64) {
        self.ring[self.whole as usize % SLOTS] = std::mem::take(&mut self.now);
        self.whole += 1;
        self.next = Self::begins(self.whole + 1, rate_hz);
        if self.whole >= SLOTS as u64 {
            let squares: f64 = self.ring.iter().map(|slot| slot.0).sum();
            let samples: u64 = self.ring.iter().map(|slot| slot.1).sum();
            let rms = (squares / samples as f64).sqrt();
            let heard = if rms < SILENCE_VOLTS { 0.0 } else { rms };
            self.readings.add(Dbu::from_volts(Volts(heard)).0);
        }
    }
}

/// True peak, which is looked for only where it can be higher than before.
#[derive(Clone, Debug)]
struct HighestBetween {
    meter: TruePeak,
    most: f64,
    /// The block being heard, the one before it, and the largest magnitude of each.
    blocks: [[f64; BLOCK]; 2],
    largest: [f64; 2],
    filled: usize,
    /// Whether the meter has heard the block before.
    is_warm: bool,
}

impl HighestBetween {
    fn prepare() -> Self {
        Self {
            meter: TruePeak::prepare(),
            most: 0.0,
            blocks: [[0.0; BLOCK]; 2],
            largest: [0.0; 2],
            filled: 0,
            is_warm: false,
        }
    }

    #[inline]
    fn process(&mut self, sample: f64) {
        self.blocks[0][self.filled] = sample;
        self.largest[0] = self.largest[0].max(sample.abs());
        self.filled += 1;
        if self.filled == BLOCK {
            self.look();
        }
    }

    fn look(&mut self) {
        let [now, before] = &self.blocks;
        if MOST_BETWEEN * self.largest[0].max(self.largest[1]) > self.most {
            if !self.is_warm {
                // What it heard long ago is no neighbour; the block before was too small to matter, and is
                // longer than the filter.
                self.meter.reset();
                self.meter.process(before);
            }
            self.meter.process(now);
            self.most = self.most.max(self.meter.most());
            self.is_warm = true;
        } else {
            self.is_warm = false;
        }
        self.blocks.swap(0, 1);
        self.largest = [0.0, self.largest[0]];
        self.filled = 0;
    }
}

/// Listens at one point of one channel, in volts.
#[derive(Clone, Debug)]
pub(super) struct Listener {
    rate_hz: f64,
    /// Samples yet to come before the recording's first.
    early: usize,
    volts_per_unit: f64,
    heard: u64,
    peak: f64,
    true_peak: HighestBetween,
    slots: Slots,
    watches: Vec<Watch>,
    /// The lowest of their levels.
    lowest: f64,
}

impl Listener {
    /// For samples at a rate, of which the first `early` come before the recording's.
    pub(super) fn prepare(
        rate_hz: f64,
        early: usize,
        volts_per_unit: f64,
        limits: &[Limit],
    ) -> Self {
        let watch = |limit: &Limit| Watch::prepare(*limit, rate_hz);
        let watches: Vec<Watch> = limits.iter().map(watch).collect();
        let levels = watches.iter().map(Watch::level_volts);
        Self {
            rate_hz,
            early,
            volts_per_unit,
            heard: 0,
            peak: 0.0,
            true_peak: HighestBetween::prepare(),
            slots: Slots::prepare(rate_hz),
            lowest: levels.fold(f64::INFINITY, f64::min),
            watches,
        }
    }

    /// Hears a sample.
    #[inline]
    pub(super) fn process(&mut self, sample: f64) {
        if self.early > 0 {
            self.early -= 1;
            return;
        }
        let volts = sample * self.volts_per_unit;
        let (at, size) = (self.heard, volts.abs());
        self.heard += 1;
        self.peak = self.peak.max(size);
        self.true_peak.process(volts);
        self.slots.add(at, volts * volts, self.rate_hz);
        if size > self.lowest {
            self.watches
                .iter_mut()
                .for_each(|watch| watch.process(at, size));
        }
    }

    pub(super) fn read(&self, point: Point) -> PointStatistics {
        let mut true_peak = self.true_peak.clone();
        // To the end of what is being heard, and of the filter.
        (0..2 * BLOCK).for_each(|_| true_peak.process(0.0));
        let sine = |peak: f64| {
            // Of silence, as at any point: no level.
            let heard = if peak < SILENCE_VOLTS { 0.0 } else { peak };
            Dbu::of_sine_peak(VoltsPeak(heard))
        };
        let read = |watch: &Watch| watch.read(self.peak, self.rate_hz);
        PointStatistics {
            point,
            peak: sine(self.peak),
            true_peak: sine(true_peak.most),
            short_term: self.slots.readings.percentiles(),
            above: self.watches.iter().map(read).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A signal whose peaks between the samples come in bursts, small ones and large ones.
    #[test]
    fn what_is_not_looked_at_was_lower() {
        let mut random = 1_u64;
        let mut noise = || {
            random = random
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (random >> 33) as f64 / f64::from(1_u32 << 30) - 1.0
        };
        for seed in 0..20 {
            let (mut whole, mut quick) = (TruePeak::prepare(), HighestBetween::prepare());
            for n in 0..20_000 {
                let burst = if (n / 700 + seed) % 5 == 0 { 1.0 } else { 0.2 };
                let sample = burst * noise() * (1.0 + f64::from(n) / 20_000.0);
                whole.process(&[sample]);
                quick.process(sample);
            }
            (0..2 * BLOCK).for_each(|_| {
                whole.process(&[0.0]);
                quick.process(0.0);
            });
            assert!(
                (whole.most() - quick.most).abs() < 1e-12,
                "{} {}",
                whole.most(),
                quick.most
            );
        }
    }
}
