//! RMS and peak over everything heard, at each point of the path.
//!
//! RMS is that of the whole waveform (AES17), DC included; peak is the largest magnitude. Over
//! several channels the squares are averaged and the larger peak counts.

use crate::chain::{Observer, Point, PointVolts};
use crate::plan::Plan;
use crate::units::{Dbfs, Dbu, Dbv, Volts, VoltsPeak};

/// Sum of squares and largest magnitude.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LevelMeter {
    squares: f64,
    peak: f64,
}

impl LevelMeter {
    /// Takes one sample.
    #[inline]
    pub fn process(&mut self, sample: f64) {
        self.squares += sample * sample;
        self.peak = self.peak.max(sample.abs());
    }

    /// RMS over `samples`, however many were taken: silence around them changes nothing.
    #[must_use]
    pub fn rms(&self, samples: f64) -> f64 {
        if samples > 0.0 {
            (self.squares / samples).sqrt()
        } else {
            0.0
        }
    }

    /// Largest magnitude.
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.peak
    }
}

/// Level at one point.
///
/// At the digital points volts are what the converter's alignment makes of the samples (bus: the
/// send's unloaded output; return: the voltage that would read so); at the analog points there is
/// no dBFS.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointLevel {
    /// Where.
    pub point: Point,
    /// RMS.
    pub volts: Volts,
    /// Largest magnitude.
    pub peak: VoltsPeak,
    /// RMS in dBFS, at the digital points.
    pub dbfs: Option<Dbfs>,
}

impl PointLevel {
    /// RMS in dBu.
    #[must_use]
    pub fn dbu(&self) -> Dbu {
        Dbu::from_volts(self.volts)
    }

    /// RMS in dBV.
    #[must_use]
    pub fn dbv(&self) -> Dbv {
        self.dbu().dbv()
    }

    /// The level of the sine of the same peak: what a ceiling is compared with.
    #[must_use]
    pub fn peak_dbu(&self) -> Dbu {
        Dbu::of_sine_peak(self.peak)
    }
}

/// Below this RMS there is nothing but the rounding of the circuit's sums (300 V in 53 bits is
/// 3e-14 V): it reads as silence.
const SILENCE: f64 = 1e-12;

/// A meter at every point.
#[derive(Clone, Debug)]
pub struct PointMeter {
    meters: [LevelMeter; 8],
    bus_samples: f64,
    factor: f64,
    send_peak_volts: f64,
    return_peak_volts: f64,
}

impl PointMeter {
    /// For a plan's alignment and the oversampling factor of the chain it listens to.
    #[must_use]
    pub fn prepare(plan: &Plan, factor: usize) -> Self {
        Self {
            meters: [LevelMeter::default(); 8],
            bus_samples: 0.0,
            factor: factor as f64,
            send_peak_volts: plan.rig.send_full_scale.peak().0,
            return_peak_volts: plan.rig.return_full_scale.peak().0,
        }
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        self.meters = [LevelMeter::default(); 8];
        self.bus_samples = 0.0;
    }

    /// Level at every point, over all channels; `silent_samples` of what was heard do not count
    /// (flushing a latency).
    #[must_use]
    pub fn levels(&self, silent_samples: u64) -> [PointLevel; 8] {
        let samples = self.bus_samples - silent_samples as f64;
        Point::ALL.map(|point| {
            let meter = &self.meters[point as usize];
            let (scale, per_bus) = match point {
                Point::Bus => (self.send_peak_volts, 1.0),
                Point::Return => (self.return_peak_volts, 1.0),
                _ => (1.0, self.factor),
            };
            let rms = meter.rms(samples * per_bus);
            let rms = if rms < SILENCE { 0.0 } else { rms };
            PointLevel {
                point,
                volts: Volts(rms * scale),
                peak: VoltsPeak(meter.peak() * scale),
                dbfs: point.is_digital().then(|| Dbfs::from_rms(rms)),
            }
        })
    }
}

impl Observer for PointMeter {
    fn bus(&mut self, _: usize, sample: f64) {
        self.bus_samples += 1.0;
        self.meters[Point::Bus as usize].process(sample);
    }

    #[inline]
    fn analog(&mut self, _: usize, volts: &PointVolts) {
        self.meters[Point::LineOut as usize].process(volts.line_out);
        self.meters[Point::MicIn as usize].process(volts.mic_in);
        self.meters[Point::TransformerIn as usize].process(volts.transformer_in);
        self.meters[Point::Grid1 as usize].process(volts.grid_1);
        self.meters[Point::Grid2 as usize].process(volts.grid_2);
        self.meters[Point::PreampOut as usize].process(volts.preamp_out);
    }

    fn back(&mut self, _: usize, sample: f64) {
        self.meters[Point::Return as usize].process(sample);
    }
}
