//! One channel with an own preamplifier: its data sheet's gains on what stands at the line output.

use super::listener::Listener;
use crate::chain::{OwnConverter, OwnGains, Point};
use crate::circuit::DELAY_SAMPLES;
use crate::oversample::{BLOCK_FRAMES, Oversampling, Resampler};
use crate::plan::Plan;
use crate::units::SampleRate;

/// The analog points that a unit has.
const ANALOG: [Point; 3] = [Point::LineOut, Point::MicIn, Point::PreampOut];

/// What the listeners of a channel hear of the unit.
pub(super) struct OwnSide {
    /// From what our circuit leaves at the line output to each of [`ANALOG`].
    gains: [f64; 3],
    converter: OwnConverter,
    /// The way down of the return, as late as what is heard comes back.
    down: Resampler,
    /// What the converter has not sampled yet, at the circuit's rate.
    waiting: Vec<f64>,
}

impl OwnSide {
    /// Of the left channel (0) or the right one (1); `None` with our circuit. Allocates.
    pub(super) fn prepare(
        plan: &Plan,
        channel: usize,
        rate: SampleRate,
        oversampling: Oversampling,
    ) -> Option<Self> {
        let gains = OwnGains::of(plan)?;
        let down = Resampler::prepare(rate, oversampling, DELAY_SAMPLES);
        Some(Self {
            gains: ANALOG.map(|point| gains.over_heard_line(point).unwrap_or(f64::NAN)),
            converter: OwnConverter::of(plan, channel)?,
            waiting: Vec::with_capacity(BLOCK_FRAMES * down.factor()),
            down,
        })
    }

    /// Whether a unit has this point.
    pub(super) fn has(point: Point) -> bool {
        point.is_digital() || ANALOG.contains(&point)
    }

    /// Passes on a sample at the line output, in volts, to the listeners of all points.
    pub(super) fn process(&mut self, heard_line_volts: f64, points: &mut [Listener]) {
        for (point, gain) in ANALOG.into_iter().zip(self.gains) {
            points[point as usize].process(heard_line_volts * gain);
        }
        self.waiting.push(self.converter.sample(heard_line_volts));
        if self.waiting.len() == self.waiting.capacity() {
            self.come_back(points);
        }
    }

    /// Lets the return hear whole frames of what waits. A converter's samples are never beyond its full
    /// scale, whatever its filter makes of clipped crests.
    pub(super) fn come_back(&mut self, points: &mut [Listener]) {
        let factor = self.down.factor();
        let mut samples = [0.0; BLOCK_FRAMES];
        let frames = (self.waiting.len() / factor).min(BLOCK_FRAMES);
        let samples = &mut samples[..frames];
        self.down.down(&self.waiting[..frames * factor], samples);
        self.waiting.drain(..frames * factor);
        let most = self.converter.most();
        for sample in samples {
            points[Point::Return as usize].process(sample.clamp(-most, most));
        }
    }
}
