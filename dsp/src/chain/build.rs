//! What a plan comes to in ohms and volts: the pad that is built, and the ceilings it leaves.

use super::{Point, preamp_in_ohms};
use crate::circuit::{self, OperatingPoint, Preamp, Settings};
use crate::pad::{
    Input, LossKind, Network, Pad, PadError, Purchase, Request, Stock, Weights, buy, design,
};
use crate::plan::{Plan, PreampKind};
use crate::units::{Db, Dbu, Ohms, VoltsPeak};

/// The pad of a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PadBuild {
    /// As calculated.
    pub ideal: Pad,
    /// With resistors one can buy; levels and sound use this one.
    pub as_built: Pad,
    /// What is soldered at each position, and what its deviations cost.
    pub purchase: Purchase,
    /// What it was designed for: the preamp's input impedance at 1 kHz.
    pub load: Ohms,
}

impl PadBuild {
    /// A pad that is not designed.
    #[must_use]
    pub fn of(pad: Pad, request: &Request) -> Self {
        Self {
            ideal: pad,
            as_built: pad,
            purchase: Purchase::of(pad, request, &Weights::default()),
            load: request.load,
        }
    }
}

/// What a plan asks of its pad, into the preamp's input impedance at 1 kHz.
#[must_use]
pub fn pad_request(plan: &Plan) -> Request {
    let choice = &plan.pad;
    Request {
        network: choice.network,
        source: plan.rig.source,
        input: choice.input,
        output: choice.out,
        load: preamp_in_ohms(plan),
        loss: choice.loss,
        kind: choice.loss_kind,
    }
}

/// Designs the plan's pad into the preamp's input impedance at 1 kHz, or takes the one that the plan
/// owns.
///
/// # Errors
/// When no positive resistors meet the plan, or an owned pad has other values than its network.
pub fn build_pad(plan: &Plan) -> Result<PadBuild, PadError> {
    build_for(plan, &pad_request(plan))
}

/// The plan's pad for a request of one's own; series, parts and an owned pad are the plan's.
///
/// # Errors
/// As [`build_pad`].
pub fn build_for(plan: &Plan, request: &Request) -> Result<PadBuild, PadError> {
    let owned = plan.pad.owned.list();
    if !owned.is_empty() && request.network != Network::None {
        return Pad::owned(request.network, owned).map(|pad| PadBuild::of(pad, request));
    }
    let ideal = design(request)?;
    let stock = Stock::Series(plan.pad.series);
    let purchase = buy(request, &ideal, stock, plan.pad.parts, &Weights::default())?;
    Ok(PadBuild {
        ideal,
        as_built: purchase.pad,
        purchase,
        load: request.load,
    })
}

/// What the plan asks of the line-level pad between preamplifier and return converter: a U that shows
/// the preamplifier what the converter would, but at most the 10 kohm its gain is stated for. The
/// output impedance is then a result.
#[must_use]
pub fn return_request(plan: &Plan) -> Request {
    let most = circuit::GAIN_LOAD_OHMS;
    Request {
        network: Network::U,
        source: circuit::out_ohms(plan.preamp.gain),
        input: Input::Exact(Ohms(plan.rig.return_in.0.min(most))),
        output: Ohms(150.0),
        load: plan.rig.return_in,
        loss: plan.back.pad,
        kind: LossKind::Loaded,
    }
}

/// The return pad as built; a straight connection where the plan has none. Never allocates.
#[must_use]
pub fn return_pad(plan: &Plan) -> Pad {
    if plan.back.pad.0 <= 0.0 {
        return Pad::STRAIGHT;
    }
    let mut own = *plan;
    own.pad.owned = crate::plan::Resistors::default();
    // What is asked for can always be built: the input is no larger than the load.
    build_for(&own, &return_request(plan)).map_or(Pad::STRAIGHT, |build| build.as_built)
}

/// What the preamplifier drives: the return converter, through its pad.
#[must_use]
pub fn return_load(plan: &Plan) -> Ohms {
    return_pad(plan).in_ohms(plan.rig.return_in)
}

/// As [`build_pad`], but what cannot be built is replaced by the nearest that can: the smallest
/// loss that serves, or else no pad. The error says what was wrong. Never allocates.
#[must_use]
pub fn build_nearest(plan: &Plan) -> (PadBuild, Option<PadError>) {
    let error = match build_pad(plan) {
        Ok(build) => return (build, None),
        Err(error) => error,
    };
    let mut nearest = *plan;
    if let PadError::WrongCount { .. } = error {
        // Designed instead.
        nearest.pad.owned = crate::plan::Resistors::default();
        return (build_nearest(&nearest).0, Some(error));
    }
    if let PadError::TooLittleLoss {
        smallest_db: Some(smallest_db),
        ..
    } = error
    {
        nearest.pad.loss = Db(smallest_db);
        if let Ok(build) = build_pad(&nearest) {
            return (build, Some(error));
        }
    }
    let straight = Request {
        network: Network::None,
        ..pad_request(plan)
    };
    (PadBuild::of(Pad::STRAIGHT, &straight), Some(error))
}

/// What surrounds the preamplifier in a plan with the pad that is built for it.
#[must_use]
pub fn analog_settings(plan: &Plan, build: &PadBuild) -> Settings {
    Settings {
        source: build.as_built.out_ohms(plan.rig.source),
        attenuator: plan.preamp.attenuator.0 > 0.0,
        gain: plan.preamp.gain,
        load: return_load(plan),
        noise: plan.preamp.noise,
    }
}

/// The level above which a point no longer passes the signal on as it is, counting only what lies
/// before that point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ceiling {
    /// Where.
    pub point: Point,
    /// The sine that just reaches it.
    pub level: Dbu,
    /// What kind it is.
    pub kind: CeilingKind,
    /// What happens there, in words.
    pub reason: &'static str,
}

/// What makes a ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CeilingKind {
    /// A converter.
    Clip,
    /// A tube's grid.
    Grid,
    /// An own unit's data sheet.
    DataSheet,
}

/// Ceilings by the plan's converters, and by the tubes' bias at rest or an own unit's data sheet.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn ceilings(plan: &Plan) -> Result<Vec<Ceiling>, PadError> {
    let build = build_pad(plan)?;
    let pad = build.as_built;
    let mut ceilings = match plan.rig.preamp {
        PreampKind::Model => grids(&analog_settings(plan, &build)),
        PreampKind::Own => data_sheet(plan),
    };
    if plan.rig.converters_clip {
        let in_ohms = pad.in_ohms(build.load).0;
        let loading = Db::from_ratio(in_ohms / (in_ohms + plan.rig.source.0));
        let level = plan.rig.send_full_scale.0 + loading;
        ceilings.push(Ceiling {
            point: Point::LineOut,
            level,
            kind: CeilingKind::Clip,
            reason: "send converter clips",
        });
        let back = return_pad(plan);
        let loss = back.loss(
            LossKind::Loaded,
            circuit::out_ohms(plan.preamp.gain),
            plan.rig.return_in,
        );
        let level = plan.rig.return_full_scale.0 + loss;
        ceilings.push(Ceiling {
            point: Point::PreampOut,
            level,
            kind: CeilingKind::Clip,
            reason: "return converter clips",
        });
    }
    // The lowest of a point first.
    ceilings.sort_by(|a, b| a.point.cmp(&b.point).then(a.level.0.total_cmp(&b.level.0)));
    Ok(ceilings)
}

/// Where the grids begin to conduct.
fn grids(settings: &Settings) -> Vec<Ceiling> {
    let tubes = Preamp::prepare(settings, 48_000.0).operating_points();
    let grid = |(point, tube): (Point, OperatingPoint)| Ceiling {
        point,
        level: Dbu::of_sine_peak(VoltsPeak(tube.grid_volts.abs())),
        kind: CeilingKind::Grid,
        reason: GRID,
    };
    [Point::Grid1, Point::Grid2]
        .into_iter()
        .zip(tubes)
        .map(grid)
        .collect()
}

/// What an own unit states. Its attenuator takes its loss before the largest input.
fn data_sheet(plan: &Plan) -> Vec<Ceiling> {
    let unit = &plan.rig.unit;
    let most_in = unit.most_in.map(|level| level + plan.preamp.attenuator);
    [
        (Point::MicIn, most_in, "data sheet: largest input"),
        (
            Point::PreampOut,
            unit.most_out,
            "data sheet: largest output",
        ),
    ]
    .into_iter()
    .filter_map(|(point, level, reason)| {
        level.map(|level| Ceiling {
            point,
            level,
            kind: CeilingKind::DataSheet,
            reason,
        })
    })
    .collect()
}

/// Why a grid is a ceiling: beyond its bias it conducts.
const GRID: &str = "grid starts to conduct";
