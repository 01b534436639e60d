//! `levels --meter`: what a meter of one's choice reads at every point, in its own unit.

use super::error::Failure;
use super::json;
use super::text;
use penstock_dsp::chain::{Chain, OwnGains, Point};
use penstock_dsp::diagram::{LevelDiagram, MeterReading};
use penstock_dsp::meter::{MeterKind, MetersAlong, PlaceReading, sine_of};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::{Dbfs, Dbu, SampleRate};
use serde_json::{Value, json};

/// A tone is heard for so long before it is read: pointers stand still, capacitors too.
const TONE_SECONDS: usize = 6;

/// Readings of both channels.
pub(super) struct Metered {
    kind: MeterKind,
    /// Of a file the highest reading, of a tone that of its end.
    sides: [Option<[Reading; 8]>; 2],
    overs: [[u64; 2]; 2],
    of: &'static str,
}

/// At one point of one channel.
#[derive(Clone, Copy)]
struct Reading {
    sine: Dbu,
    full_scale: Option<Dbu>,
    dc_volts: f64,
}

impl Metered {
    /// What was heard of a file.
    pub(super) fn of_file(mut meters: MetersAlong, plan: &Plan) -> Self {
        Self::of(&mut meters, plan, "highest", |reading| reading.most)
    }

    /// Of a 1 kHz sine in both channels.
    pub(super) fn of_tone(
        kind: MeterKind,
        plan: &Plan,
        level: Dbfs,
        oversampling: Oversampling,
    ) -> Result<Self, Failure> {
        let rate = SampleRate::STUDIO;
        let mut chain = Chain::prepare(plan, rate, 2, oversampling)?;
        let mut meters = MetersAlong::prepare(kind, rate, oversampling.factor(rate), 2);
        let period = (rate.hz() / 1_000.0) as usize;
        let sine = |n: usize| {
            let turn = std::f64::consts::TAU * (n % period) as f64 / period as f64;
            level.sine_peak() * turn.sin()
        };
        let second: Vec<f64> = (0..rate.hz() as usize).map(sine).collect();
        for _ in 0..TONE_SECONDS {
            // Peaks and DC begin anew, so that none is of the tone's start.
            let _ = (meters.take(0), meters.take(1));
            let (mut left, mut right) = (second.clone(), second.clone());
            chain.process(&mut [&mut left, &mut right], &mut meters);
        }
        Ok(Self::of(&mut meters, plan, "steady", |reading| reading.now))
    }

    fn of(
        meters: &mut MetersAlong,
        plan: &Plan,
        of: &'static str,
        pick: fn(&PlaceReading) -> f64,
    ) -> Self {
        let kind = meters.kind();
        let overs = [0, 1].map(|side| meters.overs(side));
        let own = OwnGains::of(plan);
        let mut side = |side: usize| {
            let readings = meters.take(side)?;
            let send = plan.rig.send_full_scale_of(side);
            let back = plan.rig.return_full_scale_of(side);
            Some(Point::ALL.map(|point| {
                let full_scale = match point {
                    Point::Bus => Some(send),
                    Point::Return => Some(back),
                    _ => None,
                };
                let scale = full_scale.map_or(1.0, |full_scale| full_scale.peak().0);
                let (reading, scale) = match &own {
                    Some(own) if point != Point::Bus => (
                        &readings[Point::LineOut as usize],
                        own.over_heard_line(point).unwrap_or(f64::NAN),
                    ),
                    _ => (&readings[point as usize], scale),
                };
                Reading {
                    sine: sine_of(kind, pick(reading) * scale),
                    full_scale: full_scale.map(|full_scale| full_scale.0),
                    dc_volts: reading.dc * scale,
                }
            }))
        };
        let sides = [side(0), side(1)];
        Self {
            kind,
            sides,
            overs,
            of,
        }
    }

    /// Under the name `meter`.
    pub(super) fn json(&self) -> Value {
        let kind = self.kind;
        let point = |(point, reading): (&Point, &Reading)| {
            let shown = kind.shown(reading.sine, reading.full_scale);
            json!({
                "name": point.name(),
                "reading": json::finite(shown.value),
                "unit": shown.unit,
                "sine_dbu": json::finite(reading.sine.0),
                "dc_volts": reading.dc_volts,
            })
        };
        let side = |side: usize| {
            self.sides[side].as_ref().map(|readings| {
                let points: Vec<Value> = Point::ALL.iter().zip(readings).map(point).collect();
                let [bus, back] = self.overs[side];
                json!({ "points": points, "bus_overs": bus, "return_overs": back })
            })
        };
        json!({ "name": kind.name(), "of": self.of, "left": side(0), "right": side(1) })
    }

    /// A table.
    pub(super) fn describe(&self) -> String {
        let kind = self.kind;
        let mut heads = vec![format!("{}, {}", kind.label(), self.of)];
        let mut overs = Vec::new();
        for (side, name) in ["left", "right"].into_iter().enumerate() {
            if self.sides[side].is_some() {
                heads.extend([name.to_owned(), format!("DC {name}")]);
                let [bus, back] = self.overs[side];
                overs.push(format!("{name} {bus} at the bus, {back} at the return"));
            }
        }
        let mut rows = vec![heads];
        for (n, point) in Point::ALL.iter().enumerate() {
            let of_left_or_right = self.sides.iter().flatten();
            if of_left_or_right.clone().any(|of| of[n].sine.0.is_nan()) {
                // An own preamplifier has no such point.
                continue;
            }
            let mut row = vec![point.name().to_owned()];
            for readings in of_left_or_right {
                let Reading {
                    sine,
                    full_scale,
                    dc_volts,
                } = readings[n];
                let shown = kind.shown(sine, full_scale);
                row.push(format!("{} {}", text::db(shown.value), shown.unit));
                row.push(text::volts(dc_volts));
            }
            rows.push(row);
        }
        let note = match kind {
            MeterKind::Vu => "0 VU = +4 dBu (IEC 60268-17).",
            MeterKind::Ppm1 => "0 dB = +6 dBu, 1.55 V (IEC 60268-10, Type I).",
            MeterKind::Ppm2a => "Mark 4 = 0 dBu, 4 dB a mark (IEC 60268-10, Type IIa).",
            _ => "At the analog points peaks are those of a sine of that level.",
        };
        format!(
            "\n{}{note} Overs (samples at full scale in a row count once): {}.\n",
            text::table(&rows),
            overs.join("; ")
        )
    }

    /// Into the level diagram of the left channel (0) or the right one (1).
    pub(super) fn add_side_to(&self, side: usize, diagram: &mut LevelDiagram) {
        let readings = self.sides.get(side).and_then(Option::as_ref);
        for (point, reading) in diagram
            .points
            .iter_mut()
            .zip(readings.into_iter().flatten())
        {
            let (kind, sine) = (self.kind, reading.sine);
            // Inside our circuit nothing is known of an own unit.
            point.reading = (!sine.0.is_nan()).then_some(MeterReading { kind, sine });
        }
    }

    /// Into the level diagram: the higher channel.
    pub(super) fn add_to(&self, diagram: &mut LevelDiagram) {
        for (n, point) in diagram.points.iter_mut().enumerate() {
            let sines = self.sides.iter().flatten().map(|readings| readings[n].sine);
            point.reading = sines
                .filter(|sine| !sine.0.is_nan())
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .map(|sine| MeterReading {
                    kind: self.kind,
                    sine,
                });
        }
    }
}
