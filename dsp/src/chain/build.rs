//! What a plan comes to in ohms and volts: the pad that is built, and the ceilings it leaves.

use super::Point;
use crate::circuit::{self, Preamp, Settings};
use crate::pad::{Pad, PadError, Request, design};
use crate::plan::Plan;
use crate::units::{Db, Dbu, Ohms, VoltsPeak};

/// The pad of a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PadBuild {
    /// As calculated.
    pub ideal: Pad,
    /// With resistors one can buy; levels and sound use this one.
    pub as_built: Pad,
    /// What it was designed for: the preamp's input impedance at 1 kHz.
    pub load: Ohms,
}

/// Designs the plan's pad into the preamp's input impedance at 1 kHz.
///
/// # Errors
/// When no positive resistors meet the plan.
pub fn build_pad(plan: &Plan) -> Result<PadBuild, PadError> {
    let load = circuit::in_ohms(plan.preamp.attenuator.0 > 0.0);
    let choice = &plan.pad;
    let ideal = design(&Request {
        network: choice.network,
        source: plan.rig.source,
        input: choice.input,
        output: choice.out,
        load,
        loss: choice.loss,
        kind: choice.loss_kind,
    })?;
    Ok(PadBuild {
        ideal,
        as_built: ideal.rounded(choice.series),
        load,
    })
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
    let load = circuit::in_ohms(plan.preamp.attenuator.0 > 0.0);
    let straight = PadBuild {
        ideal: Pad::STRAIGHT,
        as_built: Pad::STRAIGHT,
        load,
    };
    (straight, Some(error))
}

/// The level above which a point no longer passes the signal on as it is, counting only what lies
/// before that point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ceiling {
    /// Where.
    pub point: Point,
    /// The sine that just reaches it.
    pub level: Dbu,
    /// What happens there, in words.
    pub reason: &'static str,
}

/// Ceilings by the plan's converters and by the tubes' bias at rest.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn ceilings(plan: &Plan) -> Result<Vec<Ceiling>, PadError> {
    let build = build_pad(plan)?;
    let pad = build.as_built;
    let settings = Settings {
        source: pad.out_ohms(plan.rig.source),
        attenuator: plan.preamp.attenuator.0 > 0.0,
        gain: plan.preamp.gain,
        load: plan.rig.return_in,
        noise: plan.preamp.noise,
    };
    let [one, two] = Preamp::prepare(&settings, 48_000.0).operating_points();
    let conducts = |grid_volts: f64| Dbu::of_sine_peak(VoltsPeak(grid_volts.abs()));
    let mut ceilings = vec![
        Ceiling {
            point: Point::Grid1,
            level: conducts(one.grid_volts),
            reason: GRID,
        },
        Ceiling {
            point: Point::Grid2,
            level: conducts(two.grid_volts),
            reason: GRID,
        },
    ];
    if plan.rig.converters_clip {
        let in_ohms = pad.in_ohms(build.load).0;
        let loading = Db::from_ratio(in_ohms / (in_ohms + plan.rig.source.0));
        let level = plan.rig.send_full_scale.0 + loading;
        ceilings.push(Ceiling {
            point: Point::LineOut,
            level,
            reason: "send converter clips",
        });
        let level = plan.rig.return_full_scale.0;
        ceilings.push(Ceiling {
            point: Point::PreampOut,
            level,
            reason: "return converter clips",
        });
    }
    ceilings.sort_by_key(|ceiling| ceiling.point);
    Ok(ceilings)
}

/// Why a grid is a ceiling: beyond its bias it conducts.
const GRID: &str = "grid starts to conduct";
