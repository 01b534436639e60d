//! What the window has heard of the programme: its loudest passage, kept until it is forgotten.

use crate::advice::Heard;
use crate::bridge::Reading;
use crate::loudness;
use penstock_dsp::chain::Point;
use penstock_dsp::units::{Dbfs, Dbu, VoltsPeak};
use std::time::{Duration, Instant};

/// Figures are of this plan once it has stood so long: a fade, a window of the gauge, and some to spare.
const SETTLED: Duration = Duration::from_millis(300);
/// Integration of the RMS in seconds, as in the picture.
const RMS_SECONDS: f64 = 0.3;
/// Peaks below this are no programme, full scale = 1.0: -100 dBFS.
const LEAST: f64 = 1e-5;

/// Keeps the loudest.
#[derive(Debug, Default)]
pub(super) struct Listener {
    heard: Heard,
    mean_square: f64,
    last: Option<Instant>,
    changed: Option<Instant>,
}

impl Listener {
    /// From now on another plan sounds: what stood at the end of the old path is of no use.
    pub(super) fn plan_changed(&mut self) {
        (self.heard.out_peak, self.heard.return_peak) = (None, None);
        self.changed = Some(Instant::now());
    }

    /// Whether figures may still be of the plan before.
    pub(super) fn is_settling(&self) -> bool {
        self.changed
            .is_some_and(|changed| changed.elapsed() < SETTLED)
    }

    /// What has been heard.
    pub(super) fn heard(&self) -> Heard {
        self.heard
    }

    /// Takes the figures of now.
    pub(super) fn listen(&mut self, reading: &Reading, loudness: Option<loudness::Reading>) {
        let now = Instant::now();
        let since = self.last.map_or(0.0, |last| (now - last).as_secs_f64());
        self.last = Some(now);
        self.take(reading, since);
        self.heard.loudness =
            loudness.map(|(lufs, seconds)| (lufs.map(f64::from), f64::from(seconds)));
    }

    fn take(&mut self, reading: &Reading, since_seconds: f64) {
        let heard = &mut self.heard;
        heard.clipped = reading.clipped;
        let at = |point: Point| f64::from(reading.peak[point as usize]);
        let rms = f64::from(reading.rms[Point::Bus as usize]);
        let share = 1.0 - (-since_seconds / RMS_SECONDS).exp();
        self.mean_square += share * (rms * rms - self.mean_square);
        if at(Point::Bus) < LEAST {
            return;
        }
        let louder = |held: &mut Option<Dbfs>, level: Dbfs| {
            *held = Some(held.map_or(level, |held| Dbfs(held.0.max(level.0))));
        };
        louder(&mut heard.peak, Dbfs::of_sine_peak(at(Point::Bus)));
        louder(&mut heard.rms, Dbfs::from_rms(self.mean_square.sqrt()));
        if self
            .changed
            .is_some_and(|changed| changed.elapsed() < SETTLED)
        {
            return;
        }
        louder(
            &mut heard.return_peak,
            Dbfs::of_sine_peak(at(Point::Return)),
        );
        let out = Dbu::of_sine_peak(VoltsPeak(at(Point::PreampOut)));
        heard.out_peak = Some(heard.out_peak.map_or(out, |held| Dbu(held.0.max(out.0))));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(bus: f32, out_volts: f32) -> Reading {
        let mut reading = Reading::default();
        reading.rms[0] = bus * std::f32::consts::FRAC_1_SQRT_2;
        reading.peak[0] = bus;
        reading.peak[Point::PreampOut as usize] = out_volts;
        reading
    }

    #[test]
    fn the_loudest_is_kept_and_another_plan_forgets_the_end_of_the_path() {
        let mut listener = Listener::default();
        listener.take(&reading(0.0, 0.0), 1.0);
        assert_eq!(listener.heard().peak, None);
        for bus in [0.1, 0.5, 0.2] {
            listener.take(&reading(bus, 2.0 * bus), 3.0);
        }
        let heard = listener.heard();
        // A sine of half of full scale: -6.02 dBFS (AES17).
        assert!((heard.peak.expect("a peak").0 + 6.02).abs() < 0.01);
        assert!((heard.rms.expect("a level").0 + 6.02).abs() < 0.01);
        // 1 V peak is 0.707 V or -0.79 dBu.
        assert!((heard.out_peak.expect("a peak").0 + 0.79).abs() < 0.01);
        listener.plan_changed();
        listener.take(&reading(0.1, 7.0), 0.05);
        let heard = listener.heard();
        assert!(heard.out_peak.is_none() && listener.is_settling());
        assert!((heard.peak.expect("a peak").0 + 6.02).abs() < 0.01);
    }
}
