//! RMS and peak over everything heard, at each point of the path.
//!
//! RMS is that of the whole waveform (AES17), DC included; peak is the largest magnitude. Over
//! several channels the squares are averaged and the larger peak counts.

use crate::chain::{AnalogBlock, Observer, OwnConverter, OwnGains, Point};
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

    /// Sum of the squares of what was taken.
    #[must_use]
    pub fn squares(&self) -> f64 {
        self.squares
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

/// Level at one point; no number where an own preamplifier has no such point.
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

/// A meter at every point, of left and right apart.
#[derive(Clone, Debug)]
pub struct PointMeter {
    sides: [Side; 2],
    factor: f64,
    /// Of an own preamplifier, whose levels follow from those at the line output.
    own: Option<OwnGains>,
}

/// Levels with an own unit in place of our circuit: what stands at the line output passes its gains; what comes
/// back was listened to. What only our circuit has is undefined.
fn instead(gains: &OwnGains, heard: [PointLevel; 8]) -> [PointLevel; 8] {
    let line = heard[Point::LineOut as usize];
    heard.map(|level| {
        if level.point.is_digital() {
            return level;
        }
        let gain = gains.over_heard_line(level.point).unwrap_or(f64::NAN);
        PointLevel {
            volts: Volts(line.volts.0 * gain),
            peak: VoltsPeak(line.peak.0 * gain),
            ..level
        }
    })
}

/// One of two channels; of more, every second is a right one.
#[derive(Clone, Copy, Debug)]
struct Side {
    meters: [LevelMeter; 8],
    bus_samples: f64,
    send_peak_volts: f64,
    return_peak_volts: f64,
    /// Of an own preamplifier: what comes back is then metered at the circuit's rate.
    own: Option<OwnConverter>,
}

impl Side {
    /// Volts of what the meter at a point counts in.
    fn scale(&self, point: Point) -> f64 {
        match point {
            Point::Bus => self.send_peak_volts,
            Point::Return => self.return_peak_volts,
            _ => 1.0,
        }
    }

    fn reset(&mut self) {
        self.meters = [LevelMeter::default(); 8];
        self.bus_samples = 0.0;
    }
}

impl PointMeter {
    /// For a plan's alignment and the oversampling factor of the chain it listens to.
    #[must_use]
    pub fn prepare(plan: &Plan, factor: usize) -> Self {
        Self {
            sides: [0, 1].map(|side| Side {
                meters: [LevelMeter::default(); 8],
                bus_samples: 0.0,
                send_peak_volts: plan.rig.send_full_scale_of(side).peak().0,
                return_peak_volts: plan.rig.return_full_scale_of(side).peak().0,
                own: OwnConverter::of(plan, side),
            }),
            factor: factor as f64,
            own: OwnGains::of(plan),
        }
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        self.sides.iter_mut().for_each(Side::reset);
    }

    /// Level at every point, over all channels; `silent_samples` of what was heard do not count
    /// (flushing a latency).
    #[must_use]
    pub fn levels(&self, silent_samples: u64) -> [PointLevel; 8] {
        self.over(&self.sides, silent_samples as f64)
    }

    /// Level at every point of the left channel (0) or the right one (1), of which `silent_samples` do
    /// not count; `None` of a channel that was not there.
    #[must_use]
    pub fn levels_of(&self, side: usize, silent_samples: u64) -> Option<[PointLevel; 8]> {
        let side = self.sides.get(side)?;
        (side.bus_samples > 0.0)
            .then(|| self.over(std::slice::from_ref(side), silent_samples as f64))
    }

    fn over(&self, sides: &[Side], silent_samples: f64) -> [PointLevel; 8] {
        let samples: f64 = sides.iter().map(|side| side.bus_samples).sum();
        let samples = samples - silent_samples;
        let heard = Point::ALL.map(|point| {
            let at_base_rate = match point {
                Point::Bus => true,
                Point::Return => self.own.is_none(),
                _ => false,
            };
            let samples = samples * if at_base_rate { 1.0 } else { self.factor };
            let meters = || {
                sides
                    .iter()
                    .map(|side| (&side.meters[point as usize], side))
            };
            // Channels that are aligned differently are added as volts.
            let rms = |scale: &dyn Fn(&Side) -> f64| {
                let square =
                    |(meter, side): (&LevelMeter, &Side)| meter.squares() * scale(side).powi(2);
                let squares: f64 = meters().map(square).sum();
                let rms = (squares / samples).sqrt();
                if samples > 0.0 && rms >= SILENCE {
                    rms
                } else {
                    0.0
                }
            };
            let peak = |(meter, side): (&LevelMeter, &Side)| meter.peak() * side.scale(point);
            PointLevel {
                point,
                volts: Volts(rms(&|side| side.scale(point))),
                peak: VoltsPeak(meters().map(peak).fold(0.0, f64::max)),
                dbfs: point.is_digital().then(|| Dbfs::from_rms(rms(&|_| 1.0))),
            }
        });
        match &self.own {
            Some(own) => instead(own, heard),
            None => heard,
        }
    }
}

impl Observer for PointMeter {
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        let side = &mut self.sides[channel % 2];
        side.bus_samples += samples.len() as f64;
        let meter = &mut side.meters[Point::Bus as usize];
        samples.iter().for_each(|sample| meter.process(*sample));
    }

    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        let side = &mut self.sides[channel % 2];
        if let Some(own) = side.own {
            block.each(|volts| {
                side.meters[Point::LineOut as usize].process(volts.line_out);
                side.meters[Point::Return as usize].process(own.sample(volts.line_out));
            });
            return;
        }
        let meters = &mut side.meters[Point::LineOut as usize..];
        block.each(|volts| {
            for (meter, volts) in meters.iter_mut().zip(volts.in_order()) {
                meter.process(volts);
            }
        });
    }

    fn back(&mut self, channel: usize, samples: &[f64]) {
        let side = &mut self.sides[channel % 2];
        if side.own.is_some() {
            return;
        }
        let meter = &mut side.meters[Point::Return as usize];
        samples.iter().for_each(|sample| meter.process(*sample));
    }
}
