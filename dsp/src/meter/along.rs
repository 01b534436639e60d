//! A chosen meter at every point of the path, with DC and overs: for the window, live, and for files.
//!
//! Blocks come as the host's do. Peaks, squares and sums do not depend on that; the other meters, whose highest
//! reading is looked for after each block of theirs, are shown 64 samples at a time. The analog points are
//! heard at the oversampled rate.

use super::choice::{AnyMeter, MeterKind};
use super::sums::Sums;
use super::{Meter, PeakMeter};
use crate::chain::{AnalogBlock, Observer, Point};
use crate::units::SampleRate;

/// Samples that a meter is shown at once.
const BLOCK: usize = 64;
/// Channels at most.
pub const CHANNELS: usize = 2;

/// One point of one channel.
#[derive(Clone, Debug)]
struct Place {
    meter: AnyMeter,
    /// Since this was asked for last.
    heard: Sums,
    gathered: [f64; BLOCK],
    gathered_samples: usize,
}

impl Place {
    /// Counts what came, of which these are the sums; that is all that a peak meter needs.
    fn count(&mut self, kind: MeterKind, sums: &Sums) {
        self.heard.add(sums);
        if kind == MeterKind::Peak {
            self.meter.process(&[sums.peak]);
        }
    }

    /// Shows a meter that needs it a sample.
    #[inline]
    fn gather(&mut self, sample: f64) {
        self.gathered[self.gathered_samples] = sample;
        self.gathered_samples += 1;
        if self.gathered_samples == BLOCK {
            self.flush();
        }
    }

    fn flush(&mut self) {
        self.meter.process(&self.gathered[..self.gathered_samples]);
        self.gathered_samples = 0;
    }

    fn reset(&mut self) {
        self.meter.reset();
        self.heard = Sums::default();
        self.gathered_samples = 0;
    }

    fn take(&mut self) -> PlaceReading {
        self.flush();
        let heard = std::mem::take(&mut self.heard);
        let samples = heard.samples.max(1.0);
        PlaceReading {
            now: self.meter.take_reading(),
            most: self.meter.most(),
            dc: heard.sum / samples,
            mean_square: heard.squares / samples,
            peak: heard.peak,
        }
    }
}

/// One channel.
#[derive(Clone, Debug)]
struct Channel {
    places: [Place; 8],
    /// How often bus and return went over full scale.
    overs: [PeakMeter; 2],
}

impl Channel {
    fn digital(&mut self, kind: MeterKind, end: usize, point: Point, samples: &[f64]) {
        let sums = Sums::of(samples);
        // One sample within full scale ends an over as well as many.
        let most = if sums.peak < 1.0 { 1 } else { samples.len() };
        self.overs[end].process(&samples[..most.min(samples.len())]);
        let place = &mut self.places[point as usize];
        place.count(kind, &sums);
        if kind != MeterKind::Peak {
            samples.iter().for_each(|sample| place.gather(*sample));
        }
    }

    fn analog(&mut self, kind: MeterKind, block: &AnalogBlock<'_>) {
        let places = &mut self.places[Point::LineOut as usize..];
        for (place, sums) in places.iter_mut().zip(&Sums::of_all(block)) {
            place.count(kind, sums);
        }
        if kind != MeterKind::Peak {
            block.each(|volts| {
                for (place, volts) in places.iter_mut().zip(volts.in_order()) {
                    place.gather(volts);
                }
            });
        }
    }
}

/// What stands at a point, in volts, or of full scale where the signal is digital.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlaceReading {
    /// The meter's reading of now.
    pub now: f64,
    /// Its highest since reset.
    pub most: f64,
    /// Mean since this was asked last.
    pub dc: f64,
    /// Mean of the squares since then.
    pub mean_square: f64,
    /// Largest magnitude since then.
    pub peak: f64,
}

/// The chosen meter at all points of up to two channels.
#[derive(Clone, Debug)]
pub struct MetersAlong {
    kind: MeterKind,
    rate_hz: f64,
    factor: usize,
    channels: Vec<Channel>,
}

impl MetersAlong {
    /// For a rate, the oversampling factor of the chain it listens to, and one or two channels; allocates.
    #[must_use]
    pub fn prepare(kind: MeterKind, rate: SampleRate, factor: usize, channels: usize) -> Self {
        let place = |point: Point| Place {
            meter: AnyMeter::prepare_at(kind, rate_at(point, rate.hz(), factor)),
            heard: Sums::default(),
            gathered: [0.0; BLOCK],
            gathered_samples: 0,
        };
        let channel = |_| Channel {
            places: Point::ALL.map(place),
            overs: [PeakMeter::prepare(rate, 1.0); 2],
        };
        Self {
            kind,
            rate_hz: rate.hz(),
            factor,
            channels: (0..channels.min(CHANNELS)).map(channel).collect(),
        }
    }

    /// Which meter it is.
    #[must_use]
    pub fn kind(&self) -> MeterKind {
        self.kind
    }

    /// Begins anew with another meter or factor; goes on where both are what they were. Never allocates.
    pub fn set(&mut self, kind: MeterKind, factor: usize) {
        if (kind, factor) == (self.kind, self.factor) {
            return;
        }
        (self.kind, self.factor) = (kind, factor);
        for channel in &mut self.channels {
            channel.places.iter_mut().for_each(Place::reset);
            for (place, point) in channel.places.iter_mut().zip(Point::ALL) {
                let rate_hz = rate_at(point, self.rate_hz, factor);
                place.meter.become_at(kind, rate_hz);
            }
        }
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        for channel in &mut self.channels {
            channel.places.iter_mut().for_each(Place::reset);
            channel.overs.iter_mut().for_each(Meter::reset);
        }
    }

    /// The readings of a channel at every point, in the order of [`Point::ALL`]; `None` of a channel that
    /// is not there. All but the meter's own reading begin anew then.
    pub fn take(&mut self, channel: usize) -> Option<[PlaceReading; 8]> {
        let channel = self.channels.get_mut(channel)?;
        let mut readings = [PlaceReading::default(); 8];
        for (reading, place) in readings.iter_mut().zip(&mut channel.places) {
            *reading = place.take();
        }
        Some(readings)
    }

    /// How often a channel went over full scale, at bus and return.
    #[must_use]
    pub fn overs(&self, channel: usize) -> [u64; 2] {
        self.channels.get(channel).map_or([0; 2], |channel| {
            [channel.overs[0].overs(), channel.overs[1].overs()]
        })
    }
}

fn rate_at(point: Point, rate_hz: f64, factor: usize) -> f64 {
    if point.is_digital() {
        rate_hz
    } else {
        rate_hz * factor as f64
    }
}

impl Observer for MetersAlong {
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        if let Some(channel) = self.channels.get_mut(channel) {
            channel.digital(self.kind, 0, Point::Bus, samples);
        }
    }

    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        if let Some(channel) = self.channels.get_mut(channel) {
            channel.analog(self.kind, block);
        }
    }

    fn back(&mut self, channel: usize, samples: &[f64]) {
        if let Some(channel) = self.channels.get_mut(channel) {
            channel.digital(self.kind, 1, Point::Return, samples);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chain::PointVolts;

    /// -6.02 dBFS and 1 V of DC: what goes in comes out, whatever the meter was before.
    #[test]
    fn readings_dc_and_overs_are_those_of_what_was_heard() {
        let rate = SampleRate::STUDIO;
        let mut meters = MetersAlong::prepare(MeterKind::Vu, rate, 4, 1);
        meters.set(MeterKind::Peak, 4);
        for n in 0..4_800 {
            let sine = (std::f64::consts::TAU * f64::from(n) / 48.0).sin();
            meters.bus(0, &[0.5 * sine]);
            let volts = PointVolts {
                grid_1: 1.0,
                ..PointVolts::default()
            };
            meters.analog(0, &AnalogBlock::of(&[volts; 4]));
            meters.back(0, &[2.0 * sine]);
        }
        let readings = meters.take(0).expect("a channel");
        let [bus, .., back] = readings;
        assert!((bus.now - 0.5).abs() < 1e-12 && bus.dc.abs() < 1e-12);
        assert!((bus.peak - 0.5).abs() < 1e-12 && (bus.mean_square - 0.125).abs() < 1e-12);
        assert_eq!(readings[Point::Grid1 as usize].dc, 1.0);
        assert!((back.most - 2.0).abs() < 1e-12);
        // A hundred periods, each over full scale above and below.
        assert_eq!(meters.overs(0), [0, 200]);
        assert_eq!(meters.take(1), None);
        // Peaks begin anew, the highest stays.
        let [bus, ..] = meters.take(0).expect("a channel");
        assert_eq!((bus.now, bus.most), (0.0, 0.5));
    }
}
