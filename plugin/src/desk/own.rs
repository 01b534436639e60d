//! An own preamplifier on the window: which controls have a place, its steps as lists and as stops, and its levels
//! in place of our circuit's.

use crate::bridge::Reading;
use crate::editor::Stops;
use crate::params::{ParamKind, PlanParams, Role, Row, RowKind, format_steps, parse_steps};
use nice_plug::prelude::Param;
use penstock_dsp::chain::{OwnGains, Point};
use penstock_dsp::plan::Plan;

/// Steps of each list.
const GAINS: usize = 16;
const ATTENUATORS: usize = 4;

/// The place in a list of the parameter of this role, and the list's length.
pub(super) fn of_list(role: Role) -> Option<(usize, usize)> {
    match role {
        Role::GainStep(place) => Some((place, GAINS)),
        Role::AttenuatorStep(place) => Some((place, ATTENUATORS)),
        _ => None,
    }
}

/// What a list is called.
pub(super) fn list_name(role: Role) -> Option<&'static str> {
    match role {
        Role::GainStep(_) => Some("preamp gain steps"),
        Role::AttenuatorStep(_) => Some("preamp attenuator steps"),
        _ => None,
    }
}

/// Whether a parameter is of the preamplifier that is not there.
pub(super) fn is_absent(params: &PlanParams, row: &Row) -> bool {
    match (row.id, row.role) {
        ("preamp.gain_db" | "preamp.attenuator_db", _) => params.is_own(),
        (_, Role::OwnGain) => !params.is_own(),
        // Without stated steps it has no attenuator.
        (_, Role::OwnAttenuator) => !params.is_own() || steps(params, row.role).is_empty(),
        ("rig.preamp.kind", _) => false,
        (id, _) => id.starts_with("rig.preamp.") && !params.is_own(),
    }
}

/// The steps that a choice on an own preamplifier has, in their order.
fn steps(params: &PlanParams, role: Role) -> Vec<f64> {
    let is_step = |other: Role| match role {
        Role::OwnGain | Role::GainStep(_) => matches!(other, Role::GainStep(_)),
        _ => matches!(other, Role::AttenuatorStep(_)),
    };
    let all = params
        .all
        .iter()
        .filter(|parameter| is_step(parameter.row.role));
    all.filter_map(crate::params::Parameter::stated).collect()
}

/// The stops of a choice on an own preamplifier, whose texts are as typed.
pub(super) fn stops(params: &PlanParams, i: usize, text: impl Fn(f32) -> String) -> Option<Stops> {
    let parameter = params.all.get(i)?;
    let (Role::OwnGain | Role::OwnAttenuator, ParamKind::Float(param)) =
        (parameter.row.role, &parameter.value)
    else {
        return None;
    };
    let mut steps = steps(params, parameter.row.role);
    steps.sort_by(f64::total_cmp);
    steps.dedup();
    let at: Vec<f32> = steps
        .into_iter()
        .map(|step| param.preview_normalized(step as f32))
        .collect();
    let texts = at.iter().map(|at| text(*at)).collect();
    (!at.is_empty()).then_some(Stops { texts, at })
}

/// What a list holds, as text.
pub(super) fn list_text(params: &PlanParams, i: usize) -> String {
    let role = params.all.get(i).map(|parameter| parameter.row.role);
    role.map_or_else(String::new, |role| format_steps(&steps(params, role)))
}

/// Where the parameters of the list that begins with `i` stand for a typed text.
pub(super) fn parse_list(
    params: &PlanParams,
    i: usize,
    text: &str,
) -> Result<Vec<(usize, f32)>, String> {
    let none = || "no list stands here".to_owned();
    let row = params.all.get(i).ok_or_else(none)?.row;
    let (Some((_, most)), RowKind::Number { min, max, .. }) = (of_list(row.role), &row.kind) else {
        return Err(none());
    };
    let steps = parse_steps(text, most, min + 1.0, *max)?;
    let position = |k: usize| match &params.all.get(i + k)?.value {
        ParamKind::Float(param) => {
            let value = steps.get(k).unwrap_or(min);
            Some((i + k, param.preview_normalized(*value as f32)))
        }
        ParamKind::Int(_) | ParamKind::Bool(_) => None,
    };
    Ok((0..most).filter_map(position).collect())
}

/// What is heard with an own preamplifier in our circuit's place, as its levels: what stands at the line output,
/// times the gains to each point. Inside our circuit nothing stands.
pub(super) fn instead(plan: &Plan, gains: &OwnGains, heard: Reading) -> Reading {
    let line = Point::LineOut as usize;
    let rig = &plan.rig;
    let mut own = heard;
    for point in Point::ALL.into_iter().skip(1) {
        let n = point as usize;
        let is_back = point == Point::Return;
        // The return counts in full scale.
        let scale = if is_back {
            rig.return_full_scale.peak().0
        } else {
            1.0
        };
        let gain = (gains.over_heard_line(point).unwrap_or(0.0) / scale) as f32;
        let most = if is_back && rig.converters_clip {
            plan.back.trim.ratio() as f32
        } else {
            f32::INFINITY
        };
        own.rms[n] = heard.rms[line] * gain;
        own.peak[n] = (heard.peak[line] * gain).min(most);
        own.sine[n] = heard.sine[line] * gain;
        own.held[n] = heard.held[line] * gain;
        own.dc[n] = heard.dc[line] * gain;
    }
    own
}

#[cfg(test)]
mod tests {
    use super::*;
    use penstock_dsp::analysis::measure_tone;
    use penstock_dsp::oversample::Oversampling;
    use penstock_dsp::units::{Db, Dbfs};

    fn own() -> Plan {
        let mut plan = Plan::default();
        for set in [
            "rig.preamp.kind=own",
            "rig.preamp.in_ohms=2400",
            "rig.preamp.gain_steps_db=20,35,50",
            "rig.return.full_scale_dbu=18",
            "preamp.gain_db=35",
            "return.trim_db=-4",
        ] {
            plan.assign(set).expect("a plan");
        }
        plan
    }

    /// The program's own sum of the same tone: what stands at each point of the live window is that.
    #[test]
    fn live_levels_are_those_of_the_program() {
        let plan = own();
        let tone = measure_tone(&plan, Dbfs(-20.0), Oversampling::Four).expect("a pad");
        let ours = penstock_dsp::chain::heard_plan(&plan);
        let heard_tone = measure_tone(&ours, Dbfs(-20.0), Oversampling::Four).expect("a pad");
        let mut heard = Reading::default();
        for (n, level) in heard_tone.points.iter().enumerate() {
            let scale = match level.point {
                Point::Bus => plan.rig.send_full_scale.peak().0,
                Point::Return => plan.rig.return_full_scale.peak().0,
                _ => 1.0,
            };
            heard.rms[n] = (level.volts.0 / scale) as f32;
        }
        let gains = OwnGains::of(&plan).expect("an own unit");
        let shown = instead(&plan, &gains, heard);
        for point in [
            Point::Bus,
            Point::LineOut,
            Point::MicIn,
            Point::PreampOut,
            Point::Return,
        ] {
            let n = point as usize;
            let scale = match point {
                Point::Bus => plan.rig.send_full_scale.peak().0,
                Point::Return => plan.rig.return_full_scale.peak().0,
                _ => 1.0,
            };
            let off = Db::from_ratio(f64::from(shown.rms[n]) * scale / tone.points[n].volts.0);
            assert!(off.0.abs() < 0.001, "{point:?}: {off:?}");
        }
        assert_eq!(shown.rms[Point::Grid1 as usize], 0.0);
        assert_eq!(OwnGains::of(&Plan::default()), None);
    }
}
