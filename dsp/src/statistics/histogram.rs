//! Percentiles of readings, in memory that does not grow.

/// Readings counted lie between these, in decibels; what is lower is silence.
const LOWEST_DB: f64 = -220.0;
const HIGHEST_DB: f64 = 80.0;
/// Width of a bin.
const STEP_DB: f64 = 0.01;

/// Readings below which the programme lies for 10, 50 and 95 % of the time (nearest rank, to 0.005 dB), and
/// the largest; `None` when that is silence or nothing was read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Percentiles {
    /// 10 %.
    pub p10: Option<f64>,
    /// 50 %.
    pub p50: Option<f64>,
    /// 95 %.
    pub p95: Option<f64>,
    /// The largest, exactly.
    pub most: Option<f64>,
}

/// Counts of readings.
#[derive(Clone, Debug)]
pub(super) struct Histogram {
    bins: Vec<u32>,
    silent: u64,
    all: u64,
    most: f64,
}

impl Histogram {
    pub(super) fn prepare() -> Self {
        let bins = ((HIGHEST_DB - LOWEST_DB) / STEP_DB).round() as usize;
        Self {
            bins: vec![0; bins],
            silent: 0,
            all: 0,
            most: f64::NEG_INFINITY,
        }
    }

    /// Counts a reading in decibels.
    pub(super) fn add(&mut self, reading_db: f64) {
        self.all += 1;
        if reading_db.is_nan() || reading_db < LOWEST_DB {
            self.silent += 1;
            return;
        }
        self.most = self.most.max(reading_db);
        let bin = ((reading_db - LOWEST_DB) / STEP_DB) as usize;
        let bin = bin.min(self.bins.len() - 1);
        self.bins[bin] += 1;
    }

    pub(super) fn percentiles(&self) -> Percentiles {
        Percentiles {
            p10: self.below(0.10),
            p50: self.below(0.50),
            p95: self.below(0.95),
            most: Some(self.most).filter(|most| most.is_finite()),
        }
    }

    /// The lowest reading that a share of all does not exceed.
    fn below(&self, share: f64) -> Option<f64> {
        let rank = ((share * self.all as f64).ceil() as u64).max(1);
        let mut count = self.silent;
        if self.all == 0 || count >= rank {
            return None;
        }
        let bin = self.bins.iter().position(|bin| {
            count += u64::from(*bin);
            count >= rank
        })?;
        Some((LOWEST_DB + STEP_DB * (bin as f64 + 0.5)).min(self.most))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranks_are_counted_from_below_silence_first() {
        let mut histogram = Histogram::prepare();
        assert_eq!(histogram.percentiles(), Percentiles::default());
        for n in 1..=100 {
            histogram.add(-f64::from(n));
        }
        let found = histogram.percentiles();
        // Of -100 to -1 the tenth from below is -91.
        for (got, want) in [(found.p10, -91.0), (found.p50, -51.0), (found.p95, -6.0)] {
            let got = got.expect("a reading");
            assert!((got - want).abs() < 0.0051, "{got} {want}");
        }
        assert_eq!(found.most, Some(-1.0));
        for _ in 0..100 {
            histogram.add(f64::NEG_INFINITY);
        }
        let found = histogram.percentiles();
        assert_eq!((found.p10, found.p50), (None, None));
        assert!((found.p95.expect("a reading") + 11.0).abs() < 0.0051);
    }
}
