//! When a programme is above a level: passages with a beginning and a length.
//!
//! A waveform is above a level only at its crests, so crests that follow one another belong together.

use super::Above;
use crate::diagram::Limit;
use crate::units::Db;

/// What is above a level again after no more than so long is one passage, in seconds: longer than between
/// two crests of any tone one hears. Common practice, no source.
pub const MERGE_SECONDS: f64 = 0.5;
/// So many passages of a ceiling are kept, the rest are counted.
pub const MOST_PASSAGES: usize = 1000;

/// A passage above a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// When it begins, in seconds of the recording.
    pub start_seconds: f64,
    /// From its first sample above the level to its last.
    pub seconds: f64,
    /// How far its largest sample is above.
    pub over: Db,
}

/// A passage in samples.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    first: u64,
    last: u64,
    most: f64,
}

/// Listens for samples above one level.
#[derive(Clone, Debug)]
pub(super) struct Watch {
    limit: Limit,
    level_volts: f64,
    merge_samples: u64,
    samples: u64,
    open: Option<Stretch>,
    kept: Vec<Stretch>,
    passages: u64,
}

impl Watch {
    pub(super) fn prepare(limit: Limit, rate_hz: f64) -> Self {
        Self {
            limit,
            level_volts: limit.level.sine_peak().0,
            merge_samples: (MERGE_SECONDS * rate_hz) as u64,
            samples: 0,
            open: None,
            kept: Vec::with_capacity(MOST_PASSAGES),
            passages: 0,
        }
    }

    /// The level as a peak.
    pub(super) fn level_volts(&self) -> f64 {
        self.level_volts
    }

    /// Hears a magnitude at a sample of this number.
    pub(super) fn process(&mut self, at: u64, size: f64) {
        if size <= self.level_volts {
            return;
        }
        self.samples += 1;
        match &mut self.open {
            Some(open) if at - open.last <= self.merge_samples => {
                open.last = at;
                open.most = open.most.max(size);
            }
            open => {
                self.passages += 1;
                let next = Stretch {
                    first: at,
                    last: at,
                    most: size,
                };
                let done = open.replace(next);
                // The last place is for the one that is open.
                let room = self.kept.len() + 1 < MOST_PASSAGES;
                self.kept.extend(done.filter(|_| room));
            }
        }
    }

    /// With the largest magnitude there was.
    pub(super) fn read(&self, peak: f64, rate_hz: f64) -> Above {
        let over = |volts: f64| Db::from_ratio(volts / self.level_volts);
        let passage = |stretch: &Stretch| Passage {
            start_seconds: stretch.first as f64 / rate_hz,
            seconds: (stretch.last - stretch.first + 1) as f64 / rate_hz,
            over: over(stretch.most),
        };
        Above {
            limit: self.limit,
            over: over(peak),
            seconds: self.samples as f64 / rate_hz,
            passages: self.passages,
            kept: self.kept.iter().chain(&self.open).map(passage).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagram::LimitKind;
    use crate::units::Dbu;

    fn watch() -> Watch {
        let limit = Limit {
            kind: LimitKind::Clip,
            level: Dbu(0.0),
        };
        Watch::prepare(limit, 1000.0)
    }

    #[test]
    fn what_follows_soon_is_one_passage() {
        let mut watch = watch();
        let level = watch.level_volts();
        for (at, size) in [(100, 1.1), (300, 2.0), (800, 1.5), (1301, 1.2), (1400, 1.0)] {
            watch.process(at, size * level);
        }
        let found = watch.read(2.0 * level, 1000.0);
        assert_eq!((found.passages, found.kept.len()), (2, 2));
        let [one, two] = [found.kept[0], found.kept[1]];
        assert!((one.start_seconds - 0.1).abs() < 1e-12 && (one.seconds - 0.701).abs() < 1e-12);
        assert!((two.start_seconds - 1.301).abs() < 1e-12 && (two.seconds - 0.001).abs() < 1e-12);
        assert!((one.over.0 - 6.0206).abs() < 1e-3 && (found.over.0 - 6.0206).abs() < 1e-3);
        assert!((found.seconds - 0.004).abs() < 1e-12);
    }

    #[test]
    fn more_than_are_kept_are_counted() {
        let mut watch = watch();
        let level = watch.level_volts();
        for n in 0..3000 {
            watch.process(1000 * n, 2.0 * level);
        }
        let found = watch.read(2.0 * level, 1000.0);
        assert_eq!((found.passages, found.kept.len()), (3000, MOST_PASSAGES));
        assert_eq!(watch.kept.capacity(), MOST_PASSAGES);
    }
}
