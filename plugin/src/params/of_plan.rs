//! From a plan to where the parameters stand for it: the other way is [`PlanParams::plan`].

use super::{Group, ParamKind, Parameter, PlanParams, RowKind};
use nice_plug::prelude::Param;
use penstock_dsp::pad::{Input, Network};
use penstock_dsp::plan::{Plan, Rig, Value};

impl PlanParams {
    /// Where every choice stands in a plan, by its place in `all`, normalised. The rig, bypass and
    /// oversampling are no choices; what a plan says nothing of is left out.
    #[must_use]
    pub fn choices(&self, plan: &Plan) -> Vec<(usize, f32)> {
        self.positions(plan, |group| !matches!(group, Group::Rig | Group::Plugin))
    }

    /// The same for the facts of the studio.
    #[must_use]
    pub fn rig(&self, rig: Rig) -> Vec<(usize, f32)> {
        let plan = Plan {
            rig,
            ..Plan::default()
        };
        self.positions(&plan, |group| group == Group::Rig)
    }

    /// A rig with the facts that are parameters as they stand now; the others, which only plan files hold,
    /// stay.
    #[must_use]
    pub fn rig_over(&self, rig: Rig) -> Plan {
        let now = self.plan().0;
        let mut plan = Plan {
            rig,
            ..Plan::default()
        };
        for parameter in &self.all {
            if let (Group::Rig, Some(key)) = (parameter.row.group, parameter.row.key)
                && let Some(value) = (key.get)(&now)
            {
                (key.set)(&mut plan, &value);
            }
        }
        plan
    }

    /// Puts a rig in, before any host has seen the parameters. Defaults stay what they are, and what is a
    /// default already keeps its very bits, which snapping to a step would not.
    pub fn start_from(&self, rig: Rig) {
        let positions = self.rig(rig).into_iter();
        for (i, position) in positions.filter(|(i, at)| *at != self.all[*i].default_position()) {
            // SAFETY: the pointer is into `self`; nobody else holds the parameters yet, and their
            // values are atomic.
            unsafe {
                self.all[i]
                    .pointer()
                    ._internal_set_normalized_value(position);
            }
        }
    }

    fn positions(&self, plan: &Plan, wanted: impl Fn(Group) -> bool) -> Vec<(usize, f32)> {
        let parameters = self.all.iter().enumerate();
        parameters
            .filter(|(_, parameter)| wanted(parameter.row.group))
            .filter_map(|(i, parameter)| Some((i, parameter.position_in(plan)?)))
            .collect()
    }
}

impl Parameter {
    /// Where it stands by default.
    fn default_position(&self) -> f32 {
        match &self.value {
            ParamKind::Float(param) => param.default_normalized_value(),
            ParamKind::Int(param) => param.default_normalized_value(),
            ParamKind::Bool(param) => param.default_normalized_value(),
        }
    }

    /// Where it stands in a plan.
    fn position_in(&self, plan: &Plan) -> Option<f32> {
        let owned = |place: usize| plan.pad.owned.list().get(place).copied().unwrap_or(0.0);
        let number = match self.row.id {
            "pad.in_exact" => f64::from(u8::from(matches!(plan.pad.input, Input::Exact(_)))),
            "pad.network" => Network::ALL
                .iter()
                .position(|network| *network == plan.pad.network)?
                as f64,
            "pad.resistor_1_ohms" => owned(0),
            "pad.resistor_2_ohms" => owned(1),
            "pad.resistor_3_ohms" => owned(2),
            _ => match (&self.row.kind, (self.row.key?.get)(plan)?) {
                (RowKind::Number { .. }, Value::Number(number)) => number,
                (RowKind::Flag { .. }, Value::Flag(on)) => f64::from(u8::from(on)),
                (RowKind::Choice { values, .. }, value) => {
                    values.iter().position(|known| *known == value)? as f64
                }
                _ => return None,
            },
        };
        Some(match &self.value {
            // Snapping to a step would move it by a bit.
            ParamKind::Float(param) if number as f32 == param.default_plain_value() => {
                param.default_normalized_value()
            }
            ParamKind::Float(param) => param.preview_normalized(number as f32),
            ParamKind::Int(param) => param.preview_normalized(number as i32),
            ParamKind::Bool(param) => param.preview_normalized(number != 0.0),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    impl Parameter {
        fn normalized(&self) -> f32 {
            match &self.value {
                ParamKind::Float(param) => param.unmodulated_normalized_value(),
                ParamKind::Int(param) => param.unmodulated_normalized_value(),
                ParamKind::Bool(param) => param.unmodulated_normalized_value(),
            }
        }
    }

    fn plan(assignments: &[&str]) -> Plan {
        let mut plan = Plan::default();
        for assignment in assignments {
            plan.assign(assignment).unwrap();
        }
        plan
    }

    /// As a host would.
    fn put(params: &PlanParams, positions: &[(usize, f32)]) {
        for (i, position) in positions {
            // SAFETY: the pointer is into `params`.
            unsafe {
                params.all[*i]
                    .pointer()
                    ._internal_set_normalized_value(*position);
            }
        }
    }

    #[test]
    fn a_rig_of_defaults_changes_no_bit() {
        let params = PlanParams::default();
        params.start_from(Rig::default());
        let mut positions = params.rig(Rig::default());
        positions.extend(params.choices(&Plan::default()));
        assert!(positions.len() > 20, "{}", positions.len());
        for (i, position) in positions {
            let parameter = &params.all[i];
            assert_eq!(
                position,
                parameter.default_position(),
                "{}",
                parameter.row.id
            );
        }
        for parameter in &params.all {
            let (now, default) = (parameter.normalized(), parameter.default_position());
            assert_eq!(now, default, "{}", parameter.row.id);
        }
    }

    #[test]
    fn a_plan_comes_back_from_its_positions() {
        for assignments in [
            &[][..],
            &["pad.loss_db=33.125", "send.trim_db=-7.5", "preamp.noise=on"],
            &["pad.network=O", "pad.in_ohms=600", "pad.series=E12"],
            &["pad.network=H", "pad.resistors_ohms=[300, 6.2, 75]"],
            &["preamp.gain_db=64", "preamp.attenuator_db=20"],
            &[
                "send.polarity=inverted",
                "return.pad_db=12.5",
                "return.trim_db=-3",
            ],
            &[
                "pad.loss_kind=unloaded",
                "pad.parts=pair",
                "pad.out_ohms=47.5",
            ],
        ] {
            let wanted = plan(assignments);
            let params = PlanParams::default();
            put(&params, &params.choices(&wanted));
            assert_eq!(params.plan().0, wanted, "{assignments:?}");
        }
    }

    #[test]
    fn choices_leave_the_rig_and_the_rig_leaves_the_choices() {
        let studio = plan(&[
            "rig.send.full_scale_dbu=18.5",
            "rig.send.right_db=0.25",
            "rig.send.source_ohms=120",
            "rig.return.in_ohms=600",
            "rig.converters_clip=false",
        ]);
        let params = PlanParams::default();
        params.start_from(studio.rig);
        assert_eq!(params.plan().0.rig, studio.rig);
        assert_eq!(params.plan().0.pad, Plan::default().pad);
        let other = plan(&["pad.loss_db=20", "rig.send.full_scale_dbu=24"]);
        put(&params, &params.choices(&other));
        assert_eq!(params.plan().0, studio.with_choices_of(&other));
        assert_eq!(params.rig_over(Plan::default().rig).rig, studio.rig);
        // What no parameter holds stays: an own preamp, which only plan files have.
        let own = plan(&["rig.preamp.kind=own", "rig.send.full_scale_dbu=15"]);
        let kept = params.rig_over(own.rig).rig;
        assert_eq!(
            (kept.preamp, kept.send_full_scale),
            (own.rig.preamp, studio.rig.send_full_scale)
        );
        // A control's default is the same in every studio.
        let float = params.find("rig.send.full_scale_dbu").map(|p| &p.value);
        let Some(ParamKind::Float(param)) = float else {
            panic!("a number");
        };
        assert_eq!(param.default_plain_value(), 22.0);
    }
}
