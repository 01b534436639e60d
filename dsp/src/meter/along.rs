//! A chosen meter at every point of the path, with DC and overs: for the window, live, and for files.
//!
//! Samples are gathered into blocks of 64, so that readings do not depend on how the host's come. The analog
//! points are heard at the oversampled rate.

use super::choice::{AnyMeter, MeterKind};
use super::{Meter, PeakMeter};
use crate::chain::{Observer, Point, PointVolts};
use crate::units::SampleRate;

const BLOCK: usize = 64;
/// Channels at most.
pub const CHANNELS: usize = 2;

/// One point of one channel.
#[derive(Clone, Debug)]
struct Place {
    meter: AnyMeter,
    gathered: [f64; BLOCK],
    count: usize,
    sum: f64,
    samples: f64,
}

impl Place {
    #[inline]
    fn take(&mut self, sample: f64) {
        self.gathered[self.count] = sample;
        self.count += 1;
        if self.count == BLOCK {
            self.flush();
        }
    }

    fn flush(&mut self) {
        let gathered = &self.gathered[..self.count];
        self.sum += gathered.iter().sum::<f64>();
        self.samples += gathered.len() as f64;
        self.meter.process(gathered);
        self.count = 0;
    }

    fn reset(&mut self) {
        self.meter.reset();
        (self.count, self.sum, self.samples) = (0, 0.0, 0.0);
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
}

/// The chosen meter at all points of up to two channels.
#[derive(Clone, Debug)]
pub struct MetersAlong {
    kind: MeterKind,
    rate_hz: f64,
    factor: usize,
    channels: Vec<[Place; 8]>,
    /// Of both channels, at bus and return.
    overs: [[PeakMeter; 2]; CHANNELS],
}

impl MetersAlong {
    /// For a rate, the oversampling factor of the chain it listens to, and one or two channels; allocates.
    #[must_use]
    pub fn prepare(kind: MeterKind, rate: SampleRate, factor: usize, channels: usize) -> Self {
        let place = |point: Point| Place {
            meter: AnyMeter::prepare_at(kind, rate_at(point, rate.hz(), factor)),
            gathered: [0.0; BLOCK],
            count: 0,
            sum: 0.0,
            samples: 0.0,
        };
        let channel = |_| Point::ALL.map(place);
        Self {
            kind,
            rate_hz: rate.hz(),
            factor,
            channels: (0..channels.min(CHANNELS)).map(channel).collect(),
            overs: [[PeakMeter::prepare(rate, 1.0); 2]; CHANNELS],
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
            for (place, point) in channel.iter_mut().zip(Point::ALL) {
                place.reset();
                let rate_hz = rate_at(point, self.rate_hz, factor);
                place.meter.become_at(kind, rate_hz);
            }
        }
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        self.channels.iter_mut().flatten().for_each(Place::reset);
        self.overs.iter_mut().flatten().for_each(Meter::reset);
    }

    /// The readings of a channel at every point, in the order of [`Point::ALL`]; `None` of a channel that
    /// is not there. DC and peaks then begin anew.
    pub fn take(&mut self, channel: usize) -> Option<[PlaceReading; 8]> {
        let places = self.channels.get_mut(channel)?;
        let mut readings = [PlaceReading::default(); 8];
        for (reading, place) in readings.iter_mut().zip(places) {
            place.flush();
            *reading = PlaceReading {
                now: place.meter.take_reading(),
                most: place.meter.most(),
                dc: place.sum / place.samples.max(1.0),
            };
            (place.sum, place.samples) = (0.0, 0.0);
        }
        Some(readings)
    }

    /// How often a channel went over full scale, at bus and return.
    #[must_use]
    pub fn overs(&self, channel: usize) -> [u64; 2] {
        self.overs
            .get(channel)
            .map_or([0; 2], |ends| [ends[0].overs(), ends[1].overs()])
    }

    #[inline]
    fn hear(&mut self, channel: usize, point: Point, sample: f64) {
        if let Some(places) = self.channels.get_mut(channel) {
            places[point as usize].take(sample);
        }
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
    fn bus(&mut self, channel: usize, sample: f64) {
        self.hear(channel, Point::Bus, sample);
        if let Some(ends) = self.overs.get_mut(channel) {
            ends[0].process(&[sample]);
        }
    }

    #[inline]
    fn analog(&mut self, channel: usize, volts: &PointVolts) {
        self.hear(channel, Point::LineOut, volts.line_out);
        self.hear(channel, Point::MicIn, volts.mic_in);
        self.hear(channel, Point::TransformerIn, volts.transformer_in);
        self.hear(channel, Point::Grid1, volts.grid_1);
        self.hear(channel, Point::Grid2, volts.grid_2);
        self.hear(channel, Point::PreampOut, volts.preamp_out);
    }

    fn back(&mut self, channel: usize, sample: f64) {
        self.hear(channel, Point::Return, sample);
        if let Some(ends) = self.overs.get_mut(channel) {
            ends[1].process(&[sample]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// -6.02 dBFS and 1 V of DC: what goes in comes out, whatever the meter was before.
    #[test]
    fn readings_dc_and_overs_are_those_of_what_was_heard() {
        let rate = SampleRate::STUDIO;
        let mut meters = MetersAlong::prepare(MeterKind::Vu, rate, 4, 1);
        meters.set(MeterKind::Peak, 4);
        for n in 0..4_800 {
            let sine = (std::f64::consts::TAU * f64::from(n) / 48.0).sin();
            meters.bus(0, 0.5 * sine);
            for _ in 0..4 {
                meters.analog(
                    0,
                    &PointVolts {
                        grid_1: 1.0,
                        ..PointVolts::default()
                    },
                );
            }
            meters.back(0, 2.0 * sine);
        }
        let readings = meters.take(0).expect("a channel");
        let [bus, .., back] = readings;
        assert!((bus.now - 0.5).abs() < 1e-12 && bus.dc.abs() < 1e-12);
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
