//! From the audio thread to the window: levels at every point, without locks.
//!
//! The audio thread sums over a window of about 50 ms and then stores one figure a point; a reader
//! may meet figures of two neighbouring windows side by side, which no eye sees. Nothing is summed
//! while the window is closed.

use penstock_dsp::chain::{Clipped, Observer, Point, PointVolts};
use std::any::Any;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Figures that both sides reach.
#[derive(Debug, Default)]
pub struct Bridge {
    /// RMS and peak of each point as bits of `f32`: volts, at bus and return of full scale.
    rms: [AtomicU32; 8],
    peak: [AtomicU32; 8],
    clipped_send_frames: AtomicU64,
    clipped_return_frames: AtomicU64,
    /// What was counted when the window last cleared its counters.
    cleared_send_frames: AtomicU64,
    cleared_return_frames: AtomicU64,
    /// Sample rate in hertz, 0 while inactive.
    pub sample_rate_hz: AtomicU32,
    /// Channels, 0 while inactive.
    pub channels: AtomicU32,
    /// Latency in frames.
    pub latency_frames: AtomicU32,
    /// Whether the audio thread had to give up and passes the bus on, and what it said.
    faulted: AtomicBool,
    fault: Mutex<String>,
}

/// One reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reading {
    /// RMS at each point, in the order of [`Point::ALL`].
    pub rms: [f32; 8],
    /// Largest magnitude at each point.
    pub peak: [f32; 8],
    /// Frames clipped since the counters were cleared.
    pub clipped: Clipped,
}

impl Bridge {
    /// The latest figures. From the window's thread.
    #[must_use]
    pub fn read(&self) -> Reading {
        let load = |cells: &[AtomicU32; 8]| {
            std::array::from_fn(|n| f32::from_bits(cells[n].load(Ordering::Relaxed)))
        };
        // After a reset the count begins anew, below what was cleared.
        let since = |now: &AtomicU64, cleared: &AtomicU64| {
            let (now, cleared) = (now.load(Ordering::Relaxed), cleared.load(Ordering::Relaxed));
            if now >= cleared { now - cleared } else { now }
        };
        Reading {
            rms: load(&self.rms),
            peak: load(&self.peak),
            clipped: Clipped {
                send_frames: since(&self.clipped_send_frames, &self.cleared_send_frames),
                return_frames: since(&self.clipped_return_frames, &self.cleared_return_frames),
            },
        }
    }

    /// Counts from here. From the window's thread.
    pub fn clear_clips(&self) {
        let copy = |from: &AtomicU64, to: &AtomicU64| {
            to.store(from.load(Ordering::Relaxed), Ordering::Relaxed);
        };
        copy(&self.clipped_send_frames, &self.cleared_send_frames);
        copy(&self.clipped_return_frames, &self.cleared_return_frames);
    }

    /// Whether the circuit has panicked since the host last activated the plugin. From any thread.
    #[must_use]
    pub fn faulted(&self) -> bool {
        self.faulted.load(Ordering::Relaxed)
    }

    /// What the panic said. From the window's thread.
    #[must_use]
    pub fn fault(&self) -> String {
        self.lock().clone()
    }

    /// Notes a panic. From the audio thread, once, when all is lost anyway: it may allocate.
    pub fn fail(&self, panic: &(dyn Any + Send)) {
        *self.lock() = panic_text(panic);
        self.faulted.store(true, Ordering::Relaxed);
    }

    /// Begins anew. From the thread that activates.
    pub fn mend(&self) {
        self.faulted.store(false, Ordering::Relaxed);
    }

    /// Whole after every step, so a panic elsewhere does not spoil it.
    fn lock(&self) -> MutexGuard<'_, String> {
        self.fault.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Stores what was counted. From the audio thread.
    pub fn count(&self, clipped: Clipped) {
        self.clipped_send_frames
            .store(clipped.send_frames, Ordering::Relaxed);
        self.clipped_return_frames
            .store(clipped.return_frames, Ordering::Relaxed);
    }
}

/// What a panic said, on one line.
#[must_use]
pub fn panic_text(panic: &(dyn Any + Send)) -> String {
    let said = panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned());
    said.unwrap_or_else(|| "it did not say why".to_owned())
}

/// Sums on the audio thread.
#[derive(Debug)]
pub struct Gauge {
    squares: [f64; 8],
    peak: [f64; 8],
    bus_samples: f64,
    analog_samples: f64,
    window_samples: f64,
}

impl Gauge {
    /// For a rate in hertz and a number of channels.
    #[must_use]
    pub fn prepare(rate_hz: f64, channels: usize) -> Self {
        Self {
            squares: [0.0; 8],
            peak: [0.0; 8],
            bus_samples: 0.0,
            analog_samples: 0.0,
            window_samples: 0.05 * rate_hz * channels as f64,
        }
    }

    fn take(&mut self, point: Point, sample: f64) {
        self.squares[point as usize] += sample * sample;
        self.peak[point as usize] = self.peak[point as usize].max(sample.abs());
    }

    /// Stores the figures of a full window and begins the next; says whether it did.
    pub fn publish(&mut self, bridge: &Bridge) -> bool {
        if self.bus_samples < self.window_samples {
            return false;
        }
        for point in Point::ALL {
            let n = point as usize;
            let samples = if point.is_digital() {
                self.bus_samples
            } else {
                self.analog_samples.max(1.0)
            };
            let rms = (self.squares[n] / samples).sqrt() as f32;
            bridge.rms[n].store(rms.to_bits(), Ordering::Relaxed);
            bridge.peak[n].store((self.peak[n] as f32).to_bits(), Ordering::Relaxed);
        }
        (self.squares, self.peak) = ([0.0; 8], [0.0; 8]);
        (self.bus_samples, self.analog_samples) = (0.0, 0.0);
        true
    }
}

impl Observer for Gauge {
    fn bus(&mut self, _: usize, sample: f64) {
        self.bus_samples += 1.0;
        self.take(Point::Bus, sample);
    }

    fn analog(&mut self, _: usize, volts: &PointVolts) {
        self.analog_samples += 1.0;
        self.take(Point::LineOut, volts.line_out);
        self.take(Point::MicIn, volts.mic_in);
        self.take(Point::TransformerIn, volts.transformer_in);
        self.take(Point::Grid1, volts.grid_1);
        self.take(Point::Grid2, volts.grid_2);
        self.take(Point::PreampOut, volts.preamp_out);
    }

    fn back(&mut self, _: usize, sample: f64) {
        self.take(Point::Return, sample);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_is_published_when_it_is_full() {
        let bridge = Bridge::default();
        let mut gauge = Gauge::prepare(100.0, 1);
        for _ in 0..4 {
            gauge.bus(0, 0.5);
            gauge.publish(&bridge);
            assert_eq!(bridge.read(), Reading::default());
        }
        gauge.bus(0, -1.0);
        gauge.publish(&bridge);
        let reading = bridge.read();
        assert_eq!(reading.peak[0], 1.0);
        assert!((reading.rms[0] - 0.4_f32.sqrt()).abs() < 1e-6);
    }
}
