//! `[rig]`: facts of the studio, and what follows from them for each channel.

use super::Plan;
use crate::alignment::{Converter, FullScale, Read, Reading};
use crate::units::{Db, Dbfs, Dbu, Dbv, Ohms, Volts};

/// Facts of the studio, untouched by presets and comparisons.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rig {
    /// Unloaded level of a full-scale sine at the send converter; its left channel where there are two.
    pub send_full_scale: FullScale,
    /// By how much the right channel's is higher.
    pub send_right: Db,
    /// Output impedance of the send converter.
    pub source: Ohms,
    /// Level at the return converter's input that reads full scale; its left channel.
    pub return_full_scale: FullScale,
    /// By how much the right channel's is higher.
    pub return_right: Db,
    /// Input impedance of the return converter.
    pub return_in: Ohms,
    /// The readings that these follow from, where they were measured.
    pub readings: Readings,
    /// Whether both converters clip at full scale.
    pub converters_clip: bool,
    /// What the send converter adds, A-weighted, where that is known.
    pub send_noise: Option<Dbfs>,
    /// And the return converter.
    pub return_noise: Option<Dbfs>,
    /// Whose preamplifier it is.
    pub preamp: PreampKind,
    /// The data sheet of one's own.
    pub unit: Unit,
}

/// Whose preamplifier it is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PreampKind {
    /// Our circuit.
    #[default]
    Model,
    /// One's own, by its data sheet.
    Own,
}

/// The data sheet of an own preamplifier. What is not stated is `None`, or an empty list.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// Input impedance.
    pub input: Ohms,
    /// Gain steps in dB.
    pub gains: Steps<16>,
    /// Attenuator steps in dB.
    pub attenuators: Steps<4>,
    /// Largest level at its input, attenuator off.
    pub most_in: Option<Dbu>,
    /// Largest level at its output.
    pub most_out: Option<Dbu>,
    /// Equivalent input noise from 150 ohm, 20 Hz to 20 kHz, unweighted.
    pub ein: Option<Dbu>,
}

impl Default for Unit {
    fn default() -> Self {
        Self {
            // Ten times a microphone's 150 ohm: common practice, no source.
            input: Ohms(1_500.0),
            gains: Steps::default(),
            attenuators: Steps::default(),
            most_in: None,
            most_out: None,
            ein: None,
        }
    }
}

/// Up to `N` numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps<const N: usize> {
    values: [f64; N],
    count: usize,
}

impl<const N: usize> Default for Steps<N> {
    fn default() -> Self {
        Self {
            values: [0.0; N],
            count: 0,
        }
    }
}

impl<const N: usize> Steps<N> {
    /// The first `N` of a list.
    #[must_use]
    pub fn from_list(list: &[f64]) -> Self {
        let mut steps = Self::default();
        list.iter().for_each(|value| steps.push(*value));
        steps
    }

    /// Adds one at the end; what is more than `N` is left out. Never allocates.
    pub fn push(&mut self, value: f64) {
        if let Some(place) = self.values.get_mut(self.count) {
            *place = value;
            self.count += 1;
        }
    }

    /// The numbers.
    #[must_use]
    pub fn list(&self) -> &[f64] {
        &self.values[..self.count]
    }

    /// The nearest one; the number itself where there is none.
    pub(super) fn nearest(&self, to: f64) -> f64 {
        let away = |step: &f64| (step - to).abs();
        let steps = self.list().iter();
        let nearest = steps.min_by(|a, b| away(a).total_cmp(&away(b)));
        nearest.copied().unwrap_or(to)
    }
}

/// What was measured; what was not is `None` and set by its number.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Readings {
    /// At the send, left.
    pub send: Option<Reading>,
    /// At the send, right.
    pub send_right: Option<Reading>,
    /// At the return, left.
    pub back: Option<Reading>,
    /// At the return, right.
    pub back_right: Option<Reading>,
}

/// Send against return of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Straight {
    /// The send's full scale, unloaded, over the return's.
    pub stated: Db,
    /// What a sine gains from bus to return through a plain cable: the same, with the return's input
    /// loading the send.
    pub through: Db,
}

/// A reading that means a full scale out of range.
#[derive(Clone, Debug, PartialEq)]
pub struct Beyond {
    /// The key of the reading.
    pub key: &'static str,
    /// What it means.
    pub full_scale: FullScale,
    /// The nearest reading that serves.
    pub nearest: String,
}

impl Beyond {
    /// Full scales that a plan may have, in dBu.
    pub const FULL_SCALE_DBU: (f64, f64) = (0.0, 30.0);
}

impl Default for Rig {
    fn default() -> Self {
        Self {
            send_full_scale: FullScale(Dbu(22.0)),
            send_right: Db(0.0),
            source: Ohms(50.0),
            return_full_scale: FullScale(Dbu(22.0)),
            return_right: Db(0.0),
            return_in: Ohms(10_000.0),
            readings: Readings::default(),
            converters_clip: true,
            send_noise: None,
            return_noise: None,
            preamp: PreampKind::Model,
            unit: Unit::default(),
        }
    }
}

impl Rig {
    /// The send's full scale of a channel; of several, every second is a right one.
    #[must_use]
    pub fn send_full_scale_of(&self, channel: usize) -> FullScale {
        right_of(self.send_full_scale, self.send_right, channel)
    }

    /// The return's full scale of a channel.
    #[must_use]
    pub fn return_full_scale_of(&self, channel: usize) -> FullScale {
        right_of(self.return_full_scale, self.return_right, channel)
    }

    /// Whether the two channels are aligned alike.
    #[must_use]
    pub fn channels_are_alike(&self) -> bool {
        self.send_right == Db(0.0) && self.return_right == Db(0.0)
    }

    /// Send against return.
    #[must_use]
    pub fn straight(&self, channel: usize) -> Straight {
        let send = self.send_full_scale_of(channel).0;
        let stated = send - self.return_full_scale_of(channel).0;
        let loading = Db::from_ratio(self.return_in.0 / (self.return_in.0 + self.source.0));
        Straight {
            stated,
            through: stated + loading,
        }
    }

    /// The first reading that means a full scale out of range.
    pub(super) fn beyond(&self) -> Option<Beyond> {
        let (send, back) = (Converter::Send, Converter::Return);
        let (source, load) = (self.source, self.return_in);
        let readings = &self.readings;
        let each = [
            ("rig.send.reading", readings.send, send, source),
            ("rig.send.right_reading", readings.send_right, send, source),
            ("rig.return.reading", readings.back, back, load),
            ("rig.return.right_reading", readings.back_right, back, load),
        ];
        let (least, most) = Beyond::FULL_SCALE_DBU;
        each.into_iter().find_map(|(key, reading, converter, own)| {
            let reading = reading?;
            let full_scale = reading.full_scale(converter, own);
            let off = full_scale.0.0 - full_scale.0.0.clamp(least, most);
            // Rounding of the sums alone is not beyond.
            (off.abs() > 1e-9).then(|| Beyond {
                key,
                full_scale,
                nearest: nearest(reading, Db(-off)).text(converter),
            })
        })
    }

    /// Lets every figure that was measured follow from its reading.
    pub(super) fn resolve(&mut self) {
        let (send, back) = (Converter::Send, Converter::Return);
        let (source, load) = (self.source, self.return_in);
        if let Some(reading) = self.readings.send {
            self.send_full_scale = reading.full_scale(send, source);
        }
        if let Some(reading) = self.readings.back {
            self.return_full_scale = reading.full_scale(back, load);
        }
        if let Some(reading) = self.readings.send_right {
            self.send_right = reading.full_scale(send, source).0 - self.send_full_scale.0;
        }
        if let Some(reading) = self.readings.back_right {
            self.return_right = reading.full_scale(back, load).0 - self.return_full_scale.0;
        }
    }
}

/// A reading moved by `by`, to as many decimals as a meter shows, on the side that serves.
fn nearest(reading: Reading, by: Db) -> Reading {
    let inwards = |value: f64, per_unit: f64| {
        let scaled = value * per_unit;
        (if by.0 < 0.0 {
            scaled.floor()
        } else {
            scaled.ceil()
        }) / per_unit
    };
    let moved = reading.raised(by);
    let level = match moved.level {
        Read::Dbu(level) => Read::Dbu(Dbu(inwards(level.0, 100.0))),
        Read::Dbv(level) => Read::Dbv(Dbv(inwards(level.0, 100.0))),
        Read::Volts(volts) => Read::Volts(Volts(inwards(volts.0, 10_000.0))),
    };
    Reading { level, ..moved }
}

fn right_of(left: FullScale, offset: Db, channel: usize) -> FullScale {
    if channel.is_multiple_of(2) {
        left
    } else {
        FullScale(left.0 + offset)
    }
}

impl Plan {
    /// The plan of one channel by itself: what measures in mono measures that channel.
    #[must_use]
    pub fn of_channel(&self, channel: usize) -> Self {
        let mut plan = *self;
        plan.rig.send_full_scale = self.rig.send_full_scale_of(channel);
        plan.rig.return_full_scale = self.rig.return_full_scale_of(channel);
        plan.rig.send_right = Db(0.0);
        plan.rig.return_right = Db(0.0);
        plan.rig.readings = Readings::default();
        plan
    }
}
