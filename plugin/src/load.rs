//! How busy the processor is with the plugin: time taken by time given, only while the window is open.

use penstock_dsp::units::SampleRate;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Instant;

/// How slowly the figure follows, in seconds.
const FOLLOW_SECONDS: f64 = 1.0;
/// The worst is of so many seconds.
const WORST_SECONDS: f64 = 5.0;

/// What the window reads: shares as bits of `f32`.
#[derive(Debug, Default)]
pub struct Cells {
    mean: AtomicU32,
    worst: AtomicU32,
}

impl Cells {
    /// Time taken by time given, on the average of a second, and the worst block of the last some seconds.
    /// From the window's thread.
    #[must_use]
    pub fn read(&self) -> [f32; 2] {
        [&self.mean, &self.worst].map(|cell| f32::from_bits(cell.load(Ordering::Relaxed)))
    }
}

/// The stopwatch on the audio thread. Never allocates or locks.
#[derive(Debug)]
pub struct Load {
    rate_hz: f64,
    begun: Option<Instant>,
    mean: f64,
    /// The worst of this stretch and of the one before.
    worst: [f64; 2],
    stretch_seconds: f64,
}

impl Load {
    /// For a rate.
    #[must_use]
    pub fn prepare(rate: SampleRate) -> Self {
        Self {
            rate_hz: rate.hz(),
            begun: None,
            mean: 0.0,
            worst: [0.0; 2],
            stretch_seconds: 0.0,
        }
    }

    /// A block begins; it is timed when somebody looks.
    pub fn begin(&mut self, open: bool) {
        self.begun = open.then(Instant::now);
    }

    /// It ends after so many frames.
    pub fn end(&mut self, frames: usize, cells: &Cells) {
        let Some(begun) = self.begun.take() else {
            return;
        };
        self.take(begun.elapsed().as_secs_f64(), frames, cells);
    }

    fn take(&mut self, taken_seconds: f64, frames: usize, cells: &Cells) {
        if frames == 0 {
            return;
        }
        let given = frames as f64 / self.rate_hz;
        let share = taken_seconds / given;
        self.mean += (1.0 - (-given / FOLLOW_SECONDS).exp()) * (share - self.mean);
        self.worst[0] = self.worst[0].max(share);
        self.stretch_seconds += given;
        if self.stretch_seconds >= WORST_SECONDS {
            self.worst = [share, self.worst[0]];
            self.stretch_seconds = 0.0;
        }
        let worst = self.worst[0].max(self.worst[1]);
        for (cell, value) in [(&cells.mean, self.mean), (&cells.worst, worst)] {
            cell.store((value as f32).to_bits(), Ordering::Relaxed);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_follows_and_the_worst_is_forgotten() {
        let mut load = Load::prepare(SampleRate::STUDIO);
        let cells = Cells::default();
        load.take(0.009, 480, &cells);
        assert!((cells.read()[1] - 0.9).abs() < 1e-6);
        for _ in 0..1100 {
            load.take(0.001, 480, &cells);
        }
        let [mean, worst] = cells.read();
        assert!((mean - 0.1).abs() < 1e-3 && (worst - 0.1).abs() < 1e-6);
        // Nobody looks.
        load.begin(false);
        load.end(480, &cells);
        assert_eq!(cells.read(), [mean, worst]);
    }
}
