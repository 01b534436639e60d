//! What is found of a programme: levels, ceilings, floors, statistics.

use super::LevelsArgs;
use crate::cli::audio::Reader;
use crate::cli::error::Failure;
use crate::cli::metered::Metered;
use crate::cli::pass::{self, Planar, Sink};
use indicatif::MultiProgress;
use penstock_dsp::analysis::measure_tone;
use penstock_dsp::chain::build_pad;
use penstock_dsp::diagram::{DistortionCeilings, LevelDiagram, distortion_ceilings};
use penstock_dsp::meter::{MeterKind, MetersAlong, PointLevel, PointMeter};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::statistics::{ProgrammeStatistics, StatisticsMeter};
use penstock_dsp::units::Dbfs;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Levels that differ by no more are alike.
const ALIKE_DB: f64 = 0.005;

/// Everything of a plan and a programme but what is distorted.
pub(in crate::cli) struct Measured {
    /// Over both channels.
    pub(in crate::cli) points: [PointLevel; 8],
    /// Of each channel that there is.
    pub(in crate::cli) sides: [Option<[PointLevel; 8]>; 2],
    /// Ceilings and floors of left and right, with the programme of each.
    pub(in crate::cli) diagrams: [LevelDiagram; 2],
    /// Whether the ceilings by distortion were searched.
    pub(in crate::cli) searched: bool,
    /// Of a recording.
    pub(in crate::cli) statistics: Option<ProgrammeStatistics>,
    /// Its length.
    pub(in crate::cli) seconds: Option<f64>,
    /// What the meter of one's choice reads.
    pub(in crate::cli) metered: Option<Metered>,
}

impl Measured {
    pub(super) fn of(args: &LevelsArgs, plan: &Plan) -> Result<Self, Failure> {
        build_pad(plan)?;
        let search = args.file.is_some() || args.html.is_some() || args.csv.is_some();
        let found = search.then(|| distortion_ceilings(plan, &AtomicBool::new(false)));
        let found = found.transpose()?.flatten();
        let diagrams = diagrams(plan, found.as_ref())?;
        let level = Dbfs(args.level_dbfs.unwrap_or_default());
        let mut measured = match &args.file {
            Some(file) => of_file(file, plan, args.oversampling, diagrams, args.meter)?,
            None => of_tone(level, plan, args.oversampling, diagrams, args.meter)?,
        };
        measured.searched = found.is_some();
        let left = measured.points;
        for (n, diagram) in measured.diagrams.iter_mut().enumerate() {
            diagram.add_programme(measured.sides[n].as_ref().unwrap_or(&left));
            if let Some(metered) = &measured.metered {
                metered.add_side_to(n, diagram);
            }
        }
        Ok(measured)
    }

    /// Whether left and right do the same, or there is but one.
    pub(in crate::cli) fn sides_are_alike(&self) -> bool {
        let [Some(left), Some(right)] = &self.sides else {
            return true;
        };
        self.sides_differ_by(left, right) <= ALIKE_DB
    }

    /// The largest difference of a peak or an RMS in decibels.
    fn sides_differ_by(&self, left: &[PointLevel; 8], right: &[PointLevel; 8]) -> f64 {
        let off = |one: f64, other: f64| {
            if one == other {
                0.0
            } else {
                (one - other).abs()
            }
        };
        let pairs = left.iter().zip(right);
        let each = pairs.map(|(a, b)| {
            let peak = off(a.peak_dbu().0, b.peak_dbu().0);
            peak.max(off(a.dbu().0, b.dbu().0))
        });
        each.fold(0.0, f64::max)
    }

    /// What is to be drawn: both channels as one, or left and right where that can be seen.
    pub(in crate::cli) fn picture(&self) -> LevelDiagram {
        const SEEN_DB: f64 = 1.0;
        let mut picture = self.diagrams[0].clone();
        picture.add_programme(&self.points);
        if let Some(metered) = &self.metered {
            metered.add_to(&mut picture);
        }
        if let [Some(left), Some(right)] = &self.sides
            && self.sides_differ_by(left, right) >= SEEN_DB
        {
            picture.add_channels([left, right]);
        }
        picture
    }
}

/// Of left and right, without a programme.
pub(super) fn diagrams(
    plan: &Plan,
    found: Option<&DistortionCeilings>,
) -> Result<[LevelDiagram; 2], Failure> {
    let of = |side: usize| {
        let mut diagram = LevelDiagram::of_plan(&plan.of_channel(side))?;
        // Converters of other full scale drive and read the same circuit.
        if let Some(found) = found {
            diagram.add_ceilings(found);
        }
        Ok::<_, Failure>(diagram)
    };
    Ok([of(0)?, of(1)?])
}

/// Of a sine in both channels; over both are the left one's levels.
fn of_tone(
    level: Dbfs,
    plan: &Plan,
    oversampling: Oversampling,
    diagrams: [LevelDiagram; 2],
    meter: Option<MeterKind>,
) -> Result<Measured, Failure> {
    let of = |side| measure_tone(&plan.of_channel(side), level, oversampling);
    let points = of(0)?.points;
    let right = if plan.rig.channels_are_alike() {
        points
    } else {
        of(1)?.points
    };
    Ok(Measured {
        points,
        sides: [Some(points), Some(right)],
        diagrams,
        searched: false,
        statistics: None,
        seconds: None,
        metered: meter
            .map(|kind| Metered::of_tone(kind, plan, level, oversampling))
            .transpose()?,
    })
}

/// Only the meters listen.
struct Unheard;

impl Sink for Unheard {
    fn source(&mut self, _: Planar) -> Result<(), Failure> {
        Ok(())
    }

    fn result(&mut self, _: Planar) -> Result<(), Failure> {
        Ok(())
    }
}

/// One pass over a recording, of which levels and statistics come.
pub(super) fn of_file(
    file: &Path,
    plan: &Plan,
    oversampling: Oversampling,
    diagrams: [LevelDiagram; 2],
    meter: Option<MeterKind>,
) -> Result<Measured, Failure> {
    let mut reader = Reader::open(file)?;
    let rate = pass::rate_of(&reader)?;
    let channels = reader.format().channels;
    let limits = [diagrams[0].limits(), diagrams[1].limits()];
    let factor = oversampling.factor(rate);
    let along = |kind| MetersAlong::prepare(kind, rate, factor, channels);
    let mut meters = (
        PointMeter::prepare(plan, factor),
        (
            StatisticsMeter::prepare(plan, rate, channels, oversampling, &limits),
            meter.map(along),
        ),
    );
    let progress = pass::bar(&MultiProgress::new(), file, reader.format().frames);
    let done = pass::pass(
        &mut reader,
        plan,
        oversampling,
        &mut meters,
        &mut Unheard,
        &progress,
    )?;
    progress.finish_and_clear();
    let (levels, (statistics, along)) = meters;
    let silent = done.latency_frames as u64;
    Ok(Measured {
        points: levels.levels(silent * channels as u64),
        sides: [0, 1].map(|side| levels.levels_of(side, silent)),
        diagrams,
        searched: false,
        statistics: Some(statistics.read()),
        seconds: Some(done.frames as f64 / rate.hz()),
        metered: along.map(|along| Metered::of_file(along, plan)),
    })
}
