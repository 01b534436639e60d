//! Statistics of a programme at every point of the path, left and right: largest sample, true peak,
//! percentiles of the short-term level, time above each ceiling, and when. One pass, in memory that does
//! not grow.
//!
//! Short-term is over the last 3 s, ten times a second (EBU Tech 3341): RMS at every point, loudness of all
//! channels together at bus and return. Times count from the first frame of the recording at every point:
//! what the filters delay is taken off.
//!
//! With an own preamplifier figures are the unit's, of what stands at the line output; inside our circuit,
//! which is not there, there are none. Loudness stays that of what is heard.

mod histogram;
mod listener;
mod loudness;
mod own;
mod passages;

pub use histogram::Percentiles;
pub use passages::{MERGE_SECONDS, MOST_PASSAGES, Passage};

use crate::chain::{AnalogBlock, Observer, Point, analog_delay_samples};
use crate::diagram::{Limit, LimitKind};
use crate::oversample::Oversampling;
use crate::plan::Plan;
use crate::units::{Db, Dbu, SampleRate};
use listener::Listener;
use loudness::ShortTermLoudness;
use own::OwnSide;

/// Short-term levels are over so long, in seconds, and read so often.
const WINDOW_SECONDS: f64 = 3.0;
const READINGS_A_SECOND: f64 = 10.0;
/// Analog points.
const ANALOG: usize = 6;

/// What a programme did at one point.
#[derive(Clone, Debug, PartialEq)]
pub struct PointStatistics {
    /// Which.
    pub point: Point,
    /// The sine of the same largest sample; at the analog points samples are the circuit's. Minus infinity
    /// for silence; no number, here and below, where an own preamplifier has no such point.
    pub peak: Dbu,
    /// The sine of the same true peak (BS.1770 Annex 2).
    pub true_peak: Dbu,
    /// RMS over 3 s, in dBu.
    pub short_term: Percentiles,
    /// By ceiling.
    pub above: Vec<Above>,
}

impl PointStatistics {
    /// Of a point that is not there.
    fn unknown(point: Point) -> Self {
        Self {
            point,
            peak: Dbu(f64::NAN),
            true_peak: Dbu(f64::NAN),
            short_term: Percentiles::default(),
            above: Vec::new(),
        }
    }

    /// Whether the point is there: inside our circuit nothing is with an own preamplifier.
    #[must_use]
    pub fn is_there(&self) -> bool {
        !self.peak.0.is_nan()
    }
}

/// How a programme fared against one ceiling.
#[derive(Clone, Debug, PartialEq)]
pub struct Above {
    /// Which, and where it lies.
    pub limit: Limit,
    /// How far the largest sample is above; negative is headroom.
    pub over: Db,
    /// How long samples were above, in seconds, all added.
    pub seconds: f64,
    /// How many passages above there were.
    pub passages: u64,
    /// The first of them.
    pub kept: Vec<Passage>,
}

/// Everything of a programme.
#[derive(Clone, Debug, PartialEq)]
pub struct ProgrammeStatistics {
    /// Short-term loudness in LUFS of the bus, all channels together.
    pub bus_lufs: Percentiles,
    /// And of the return.
    pub return_lufs: Percentiles,
    /// Left and right, where they are there, in the order of [`Point::ALL`].
    pub sides: [Option<Vec<PointStatistics>>; 2],
}

impl ProgrammeStatistics {
    /// Every point of every channel there is, with the channel's number.
    pub fn points(&self) -> impl Iterator<Item = (usize, &PointStatistics)> {
        let side =
            |(n, side): (usize, &'_ Option<Vec<PointStatistics>>)| side.is_some().then_some(n);
        let there: Vec<usize> = self.sides.iter().enumerate().filter_map(side).collect();
        there.into_iter().flat_map(|n| {
            let points = self.sides[n].iter().flatten();
            points.map(move |point| (n, point))
        })
    }

    /// How far the programme is above a ceiling where it comes nearest to it or passes it by most; `None`
    /// where there is no such ceiling.
    #[must_use]
    pub fn most_over(&self, kind: LimitKind) -> Option<Db> {
        let above = self.points().flat_map(|(_, point)| &point.above);
        above
            .filter(|above| above.limit.kind == kind)
            .map(|above| above.over)
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// Listens along the path.
pub struct StatisticsMeter {
    sides: Vec<Side>,
    loudness: [ShortTermLoudness; 2],
    factor: u64,
}

/// One channel.
struct Side {
    points: Vec<Listener>,
    /// Samples heard at the analog points, and at the return.
    analog: u64,
    back: u64,
    own: Option<OwnSide>,
}

impl Side {
    /// A sample of a circuit at rest, at every analog point.
    fn hear_nothing(&mut self) {
        self.analog += 1;
        match &mut self.own {
            Some(own) => own.process(0.0, &mut self.points),
            None => {
                for listener in &mut self.points[1..=ANALOG] {
                    listener.process(0.0);
                }
            }
        }
    }

    fn read(&self) -> Vec<PointStatistics> {
        let read = |(point, listener): (Point, &Listener)| {
            if self.own.is_some() && !OwnSide::has(point) {
                PointStatistics::unknown(point)
            } else {
                listener.read(point)
            }
        };
        Point::ALL.into_iter().zip(&self.points).map(read).collect()
    }
}

impl StatisticsMeter {
    /// For a chain of one or two channels, with the ceilings of left and right; allocates.
    #[must_use]
    pub fn prepare(
        plan: &Plan,
        rate: SampleRate,
        channels: usize,
        oversampling: Oversampling,
        limits: &[[Vec<Limit>; 8]; 2],
    ) -> Self {
        let factor = oversampling.factor(rate);
        let fine_hz = rate.hz() * factor as f64;
        let latency = crate::chain::latency_frames(rate);
        let analog_delay = analog_delay_samples(rate, oversampling);
        let side = |side: usize| {
            let listener = |point: Point| {
                let limits = &limits[side][point as usize];
                let (send, back) = (
                    plan.rig.send_full_scale_of(side).peak().0,
                    plan.rig.return_full_scale_of(side).peak().0,
                );
                match point {
                    Point::Bus => Listener::prepare(rate.hz(), 0, send, limits),
                    Point::Return => Listener::prepare(rate.hz(), latency, back, limits),
                    _ => Listener::prepare(fine_hz, analog_delay, 1.0, limits),
                }
            };
            Side {
                points: Point::ALL.into_iter().map(listener).collect(),
                analog: 0,
                back: 0,
                own: OwnSide::prepare(plan, side, rate, oversampling),
            }
        };
        let channels = channels.clamp(1, 2);
        Self {
            sides: (0..channels).map(side).collect(),
            loudness: [0, latency].map(|skip| ShortTermLoudness::prepare(rate, channels, skip)),
            factor: factor as u64,
        }
    }

    /// What was heard so far.
    #[must_use]
    pub fn read(&self) -> ProgrammeStatistics {
        let side = |n: usize| self.sides.get(n).map(Side::read);
        ProgrammeStatistics {
            bus_lufs: self.loudness[0].percentiles(),
            return_lufs: self.loudness[1].percentiles(),
            sides: [side(0), side(1)],
        }
    }
}

impl Observer for StatisticsMeter {
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        let Some(side) = self.sides.get_mut(channel) else {
            return;
        };
        for sample in samples {
            side.points[Point::Bus as usize].process(*sample);
            self.loudness[0].process(channel, *sample);
        }
    }

    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        let Some(side) = self.sides.get_mut(channel) else {
            return;
        };
        if let Some(own) = &mut side.own {
            block.each(|volts| {
                side.analog += 1;
                own.process(volts.line_out, &mut side.points);
            });
            return;
        }
        block.each(|volts| {
            side.analog += 1;
            for (listener, volts) in side.points[1..=ANALOG].iter_mut().zip(volts.in_order()) {
                listener.process(volts);
            }
        });
    }

    fn back(&mut self, channel: usize, samples: &[f64]) {
        let Some(side) = self.sides.get_mut(channel) else {
            return;
        };
        side.back += samples.len() as u64;
        // A circuit at rest says nothing, but time goes on.
        while side.analog < side.back * self.factor {
            side.hear_nothing();
        }
        if let Some(own) = &mut side.own {
            own.come_back(&mut side.points);
        } else {
            let listener = &mut side.points[Point::Return as usize];
            samples.iter().for_each(|sample| listener.process(*sample));
        }
        for sample in samples {
            self.loudness[1].process(channel, *sample);
        }
    }
}
