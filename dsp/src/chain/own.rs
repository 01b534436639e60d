//! An own preamplifier by its data sheet: its levels by arithmetic, and the circuit that is heard for it.
//!
//! Levels, headroom and noise are the unit's. Its sound nobody can know from a data sheet: what is heard is
//! our circuit at the nearest of its settings behind the same pad, and what is left of the gain is made up
//! before the return converter, which so clips where the unit would make it clip.

use super::Point;
use super::build::{build_nearest, return_pad};
use crate::circuit::{self, GAIN_STEPS_DB};
use crate::pad::{LossKind, Network};
use crate::plan::{Plan, PreampKind, Resistors};
use crate::units::{Db, Ohms};

/// The impedance at the preamplifier's terminals that the pad is designed for.
#[must_use]
pub fn preamp_in_ohms(plan: &Plan) -> Ohms {
    match plan.rig.preamp {
        PreampKind::Own => plan.rig.unit.input,
        PreampKind::Model => circuit::in_ohms(plan.preamp.attenuator.0 > 0.0),
    }
}

/// The plan as it sounds: our circuit in every place. Of a plan with our circuit, itself. Never allocates.
#[must_use]
pub fn heard_plan(plan: &Plan) -> Plan {
    if plan.rig.preamp == PreampKind::Model {
        return *plan;
    }
    let pad = build_nearest(plan).0.as_built;
    let mut heard = *plan;
    heard.rig.preamp = PreampKind::Model;
    if pad.network() != Network::None {
        // The same resistors, whatever they now work into.
        heard.pad.network = pad.network();
        heard.pad.owned = Resistors::from_list(pad.values());
    }
    let own = plan.preamp.gain - plan.preamp.attenuator;
    let attenuator = if plan.preamp.attenuator.0 >= 10.0 {
        20.0
    } else {
        0.0
    };
    let away = |step: &f64| (step - attenuator - own.0).abs();
    let nearest = GAIN_STEPS_DB
        .into_iter()
        .min_by(|a, b| away(a).total_cmp(&away(b)));
    heard.preamp.attenuator = Db(attenuator);
    heard.preamp.gain = Db(nearest.unwrap_or(GAIN_STEPS_DB[0]));
    let loaded = |plan: &Plan| {
        let load = preamp_in_ohms(plan).0;
        Db::from_ratio(load / (load + pad.out_ohms(plan.rig.source).0))
    };
    let ours = heard.preamp.gain - heard.preamp.attenuator + loaded(&heard);
    // As much more at the converter as its full scale is lower.
    let more = own + loaded(plan) - ours;
    heard.rig.return_full_scale.0 = plan.rig.return_full_scale.0 - more;
    heard
}

/// What is made up of an own preamplifier's gain, in [`heard_plan`]; nothing with our circuit.
#[must_use]
pub fn made_up(plan: &Plan) -> Db {
    plan.rig.return_full_scale.0 - heard_plan(plan).rig.return_full_scale.0
}

/// Gains of an own unit's path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnGains {
    /// What stands at the line output, over what our circuit would leave there.
    pub line_over_heard: f64,
    /// From the line output to the terminals.
    pub pad: f64,
    /// From the terminals to the output.
    pub preamp: f64,
    /// From the output to the return, trim included.
    pub back: f64,
}

impl OwnGains {
    /// Of a plan with an own unit; `None` of one with our circuit.
    #[must_use]
    pub fn of(plan: &Plan) -> Option<Self> {
        if plan.rig.preamp == PreampKind::Model {
            return None;
        }
        let pad = build_nearest(plan).0.as_built;
        let source = plan.rig.source;
        let line = |load: Ohms| {
            let ohms = pad.in_ohms(load).0;
            ohms / (ohms + source.0)
        };
        let own = plan.rig.unit.input;
        Some(Self {
            line_over_heard: line(own) / line(preamp_in_ohms(&heard_plan(plan))),
            pad: (-pad.loss(LossKind::Loaded, source, own)).ratio(),
            preamp: (plan.preamp.gain - plan.preamp.attenuator).ratio(),
            back: back_ratio(plan),
        })
    }

    /// From what our circuit leaves at the line output to a point of the path with this unit in it; `None`
    /// at the bus, which nothing changes, and inside our circuit, which is not there.
    #[must_use]
    pub fn over_heard_line(&self, point: Point) -> Option<f64> {
        let mic = self.line_over_heard * self.pad;
        match point {
            Point::LineOut => Some(self.line_over_heard),
            Point::MicIn => Some(mic),
            Point::PreampOut => Some(mic * self.preamp),
            Point::Return => Some(mic * self.preamp * self.back),
            Point::Bus | Point::TransformerIn | Point::Grid1 | Point::Grid2 => None,
        }
    }
}

/// The return converter behind an own unit, told what our circuit leaves at the line output.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnConverter {
    /// Full scales of the converter per volt there.
    per_volt: f64,
    /// Where it clips, of full scale.
    clip: f64,
    trim: f64,
}

impl OwnConverter {
    /// Of the left channel (0) or the right one (1); `None` with our circuit.
    #[must_use]
    pub fn of(plan: &Plan, channel: usize) -> Option<Self> {
        let trim = plan.back.trim.ratio();
        let back = OwnGains::of(plan)?.over_heard_line(Point::Return)?;
        let full_scale = plan.rig.return_full_scale_of(channel).peak();
        Some(Self {
            per_volt: back / trim / full_scale.0,
            clip: if plan.rig.converters_clip {
                1.0
            } else {
                f64::INFINITY
            },
            trim,
        })
    }

    /// What volts come to behind the trim, of full scale.
    #[inline]
    #[must_use]
    pub fn sample(&self, heard_line_volts: f64) -> f64 {
        (heard_line_volts * self.per_volt).clamp(-self.clip, self.clip) * self.trim
    }

    /// The largest magnitude that a sample can have, of full scale.
    #[must_use]
    pub fn most(&self) -> f64 {
        self.clip * self.trim
    }
}

/// From the preamplifier's output to the return in volts, trim included.
fn back_ratio(plan: &Plan) -> f64 {
    let port = return_pad(plan).two_port();
    plan.back.trim.ratio() / (port.a + port.b / plan.rig.return_in.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(sets: &[&str]) -> Plan {
        let mut plan = Plan::default();
        for set in sets {
            plan.assign(set).expect("a plan");
        }
        plan
    }

    #[test]
    fn what_is_heard_has_the_same_pad_and_the_same_level_in_all() {
        let plan = own(&[
            "rig.preamp.kind=own",
            "rig.preamp.in_ohms=2400",
            "rig.preamp.attenuator_db=0,12",
            "preamp.gain_db=47",
            "preamp.attenuator_db=12",
        ]);
        let heard = heard_plan(&plan);
        assert_eq!(heard.rig.preamp, PreampKind::Model);
        // 47 - 12 = 35 dB: with 20 dB of attenuator the nearest of ours is 52 - 20 = 32 or 58 - 20 = 38.
        assert!([52.0, 58.0].contains(&heard.preamp.gain.0), "{heard:?}");
        let values = |plan: &Plan| build_nearest(plan).0.as_built.values().to_vec();
        assert_eq!(values(&heard), values(&plan));
        let total = |plan: &Plan, load: f64| {
            let pad = build_nearest(plan).0.as_built;
            let into = load / (load + pad.out_ohms(plan.rig.source).0);
            let up = plan.preamp.gain - plan.preamp.attenuator + Db::from_ratio(into);
            up.0 - plan.rig.return_full_scale.0.0
        };
        let ours = total(&heard, circuit::in_ohms(true).0);
        assert!((ours - total(&plan, 2_400.0)).abs() < 1e-9);
        assert_eq!(
            made_up(&plan),
            plan.rig.return_full_scale.0 - heard.rig.return_full_scale.0
        );
        assert_eq!(heard_plan(&Plan::default()), Plan::default());
        assert_eq!(made_up(&Plan::default()), Db(0.0));
    }
}
