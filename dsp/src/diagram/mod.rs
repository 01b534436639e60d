//! The level diagram: at every point of the path a ceiling, a floor, and the programme between.
//!
//! One set of figures serves program, report and window. Floors follow from the plan at once; ceilings
//! take a search on the model of some tenths of a second, which a caller runs off the audio thread and may stop.

mod ceiling;
mod draw;
mod floor;
mod frame;
mod limit;
mod lines;
mod spread;
mod weighting;

pub use ceiling::{CeilingCache, DistortionCeilings, PERCENTS, TONES_HZ, distortion_ceilings};
pub use draw::{Command, Ink, Side, draw, draw_in};
pub use floor::floors;
pub use frame::Frame;
pub use limit::{Limit, LimitKind};
pub use weighting::Weighting;

use crate::chain::{CeilingKind, Point, build_pad, ceilings};
use crate::meter::{MeterKind, PointLevel};
use crate::pad::PadError;
use crate::plan::Plan;
use crate::units::{Db, Dbu};

/// Noise at a point, 20 Hz to 20 kHz, RMS. At the return it is the voltage that would read so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Floor {
    /// Unweighted.
    pub flat: Dbu,
    /// A-weighted.
    pub a: Dbu,
    /// Weighted by the curve of BS.468, RMS.
    pub itu_468: Dbu,
}

/// The sine at which a total harmonic distortion is reached at the point itself: what lies behind has
/// no part in it but as a load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThdCeiling {
    /// Frequency of the sine in hertz.
    pub tone_hz: f64,
    /// Total harmonic distortion re the fundamental, in percent.
    pub percent: f64,
    /// Level of the whole waveform there; `None` when nothing below the search's end distorts so much.
    pub level: Option<Dbu>,
}

/// What the programme does at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Programme {
    /// The sine of the same peak.
    pub peak: Dbu,
    /// RMS.
    pub rms: Dbu,
}

impl Programme {
    /// Of a level; `None` for silence.
    #[must_use]
    pub fn of(level: &PointLevel) -> Option<Self> {
        let programme = Self {
            peak: level.peak_dbu(),
            rms: level.dbu(),
        };
        (programme.peak.0.is_finite() && programme.rms.0.is_finite()).then_some(programme)
    }
}

/// A meter, and the steady sine that it reads as it reads the programme.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterReading {
    /// Which meter.
    pub kind: MeterKind,
    /// The sine's level.
    pub sine: Dbu,
}

/// Everything at one point.
#[derive(Clone, Debug, PartialEq)]
pub struct DiagramPoint {
    /// Which.
    pub point: Point,
    /// Level that reads 0 dBFS, at the digital points.
    pub full_scale: Option<Dbu>,
    /// Noise; none at the bus.
    pub floor: Option<Floor>,
    /// By distortion, at 1 kHz and 50 Hz; empty until they have been searched, and where only the
    /// converter lies before the point.
    pub thd: Vec<ThdCeiling>,
    /// A converter's clipping, when it clips.
    pub clip: Option<Dbu>,
    /// Where a tube's grid begins to conduct.
    pub grid: Option<Dbu>,
    /// An own preamplifier's stated limit.
    pub own: Option<Dbu>,
    /// The programme, when there is one; of several channels the larger peak, and the mean of their squares.
    pub programme: Option<Programme>,
    /// What a chosen meter reads of it.
    pub reading: Option<MeterReading>,
    /// Left and right apart, where that is to be drawn instead.
    pub channels: [Option<Programme>; 2],
}

impl DiagramPoint {
    /// Nothing known yet.
    #[must_use]
    pub fn empty(point: Point) -> Self {
        Self {
            point,
            full_scale: None,
            floor: None,
            thd: Vec::new(),
            clip: None,
            grid: None,
            own: None,
            programme: None,
            reading: None,
            channels: [None; 2],
        }
    }

    /// What the chosen meter's scale shows here, as `-1.2 VU`.
    #[must_use]
    pub fn reading_words(&self) -> Option<String> {
        let reading = self.reading?;
        let shown = reading.kind.shown(reading.sine, self.full_scale);
        let is_mark = reading.kind == MeterKind::Ppm2a;
        shown.value.is_finite().then(|| {
            let figure = if is_mark {
                draw::plain(shown.value, 1)
            } else {
                draw::signed(shown.value, 1)
            };
            format!("{figure} {}", shown.unit)
        })
    }

    /// The level of a distortion ceiling.
    #[must_use]
    pub fn thd_at(&self, tone_hz: f64, percent: f64) -> Option<Dbu> {
        let same = |thd: &&ThdCeiling| thd.tone_hz == tone_hz && thd.percent == percent;
        self.thd.iter().find(same).and_then(|thd| thd.level)
    }

    /// The lowest level at which this point no longer passes the programme as it is: 1 % at 1 kHz, a
    /// converter's clip or an own unit's limit.
    #[must_use]
    pub fn ceiling(&self) -> Option<Dbu> {
        [self.thd_at(1000.0, 1.0), self.clip, self.own]
            .into_iter()
            .flatten()
            .min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// From the programme's peak up to the ceiling.
    #[must_use]
    pub fn headroom(&self) -> Option<Db> {
        Some(self.ceiling()? - self.programme?.peak)
    }

    /// From the flat floor up to the programme's RMS.
    #[must_use]
    pub fn signal_to_noise(&self) -> Option<Db> {
        Some(self.programme?.rms - self.floor?.flat)
    }
}

/// The whole picture as figures.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelDiagram {
    /// In the order of [`Point::ALL`].
    pub points: [DiagramPoint; 8],
}

impl LevelDiagram {
    /// Everything that a plan settles without a search: floors, clipping, grids or an own unit's limits.
    ///
    /// # Errors
    /// When the plan's pad cannot be built.
    pub fn of_plan(plan: &Plan) -> Result<Self, PadError> {
        build_pad(plan)?;
        let floors = floors(plan)?;
        let stated = ceilings(plan)?;
        let full_scales = [plan.rig.send_full_scale.0, plan.rig.return_full_scale.0];
        let points = Point::ALL.map(|point| {
            let level = |kind: CeilingKind| {
                let mut all = stated.iter();
                let found = all.find(|ceiling| ceiling.point == point && ceiling.kind == kind);
                found.map(|ceiling| ceiling.level)
            };
            let full_scale = match point {
                Point::Bus => Some(full_scales[0]),
                // The trim comes after the converter.
                Point::Return => Some(full_scales[1]),
                _ => None,
            };
            let digital_clip = match point {
                Point::Bus => Some(full_scales[0] - plan.send.trim),
                Point::Return => Some(full_scales[1] + plan.back.trim),
                _ => None,
            };
            DiagramPoint {
                point,
                full_scale,
                floor: floors[point as usize],
                thd: Vec::new(),
                clip: level(CeilingKind::Clip)
                    .or(digital_clip.filter(|_| plan.rig.converters_clip)),
                grid: level(CeilingKind::Grid),
                own: level(CeilingKind::DataSheet),
                programme: None,
                reading: None,
                channels: [None; 2],
            }
        });
        Ok(Self { points })
    }

    /// Adds what a search found.
    pub fn add_ceilings(&mut self, found: &DistortionCeilings) {
        for (point, thd) in self.points.iter_mut().zip(&found.points) {
            point.thd.clone_from(thd);
        }
    }

    /// Which meter is read somewhere.
    #[must_use]
    pub fn meter(&self) -> Option<MeterKind> {
        let kind = |point: &DiagramPoint| point.reading.map(|reading| reading.kind);
        self.points.iter().find_map(kind)
    }

    /// Puts a programme in.
    pub fn add_programme(&mut self, levels: &[PointLevel; 8]) {
        for (point, level) in self.points.iter_mut().zip(levels) {
            point.programme = Programme::of(level);
        }
    }

    /// Has left and right drawn apart.
    pub fn add_channels(&mut self, sides: [&[PointLevel; 8]; 2]) {
        for (n, point) in self.points.iter_mut().enumerate() {
            point.channels = sides.map(|side| Programme::of(&side[n]));
        }
    }
}
