//! From a plan to where the parameters stand for it: the other way is [`PlanParams::plan`].

use super::{Group, ParamKind, Parameter, PlanParams, Role, RowKind};
use nice_plug::prelude::Param;
use penstock_dsp::pad::{Input, Network};
use penstock_dsp::plan::{Plan, Readings, Rig, Value};

impl PlanParams {
    /// Where every choice stands in a plan, by its place in `all`, normalised. The rig, bypass and
    /// oversampling are no choices; what a plan says nothing of is left out.
    #[must_use]
    pub fn choices(&self, plan: &Plan) -> Vec<(usize, f32)> {
        self.positions(plan, |group| !matches!(group, Group::Rig | Group::Plugin))
    }

    /// The same for the facts of the studio; what follows from a reading stands there as its number.
    #[must_use]
    pub fn rig(&self, rig: Rig) -> Vec<(usize, f32)> {
        let plan = Plan {
            rig: Rig {
                readings: Readings::default(),
                ..rig
            },
            ..Plan::default()
        };
        self.positions(&plan, |group| group == Group::Rig)
    }

    /// The rig as the parameters stand now; what only plan files hold, the converters' noise, is that of a rig
    /// given.
    #[must_use]
    pub fn rig_over(&self, rig: Rig) -> Plan {
        let now = self.plan().0;
        Plan {
            rig: Rig {
                send_noise: rig.send_noise,
                return_noise: rig.return_noise,
                ..now.rig
            },
            ..Plan::default()
        }
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
        let number = match self.row.role {
            Role::Exact => f64::from(u8::from(matches!(plan.pad.input, Input::Exact(_)))),
            Role::Network => Network::ALL
                .iter()
                .position(|network| *network == plan.pad.network)?
                as f64,
            Role::Resistor(place) => plan.pad.owned.list().get(place).copied().unwrap_or(0.0),
            Role::GainStep(place) => self.or_none(plan.rig.unit.gains.list().get(place))?,
            Role::AttenuatorStep(place) => {
                self.or_none(plan.rig.unit.attenuators.list().get(place))?
            }
            Role::OwnGain => plan.preamp.gain.0,
            Role::OwnAttenuator => plan.preamp.attenuator.0,
            Role::Key | Role::InOhms | Role::InOhmsMin => self.key_in(plan)?,
            Role::Oversampling | Role::Bypass => return None,
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

    /// A number that a plan may leave out: there is a place for that too.
    fn or_none(&self, number: Option<&f64>) -> Option<f64> {
        match self.row.kind {
            RowKind::Number {
                min, none: Some(_), ..
            } => Some(number.copied().unwrap_or(min)),
            _ => number.copied(),
        }
    }

    /// The value of its key in a plan, as a plain number.
    fn key_in(&self, plan: &Plan) -> Option<f64> {
        let value = (self.row.key?.get)(plan);
        match (&self.row.kind, &value) {
            (RowKind::Number { .. }, value) => {
                self.or_none(value.as_ref().and_then(Value::number).as_ref())
            }
            (RowKind::Flag { .. }, Some(Value::Flag(on))) => Some(f64::from(u8::from(*on))),
            // Of an own preamplifier's gain the nearest of our steps.
            (RowKind::Choice { values, .. }, Some(Value::Number(number))) => {
                let away = |value: &Value| value.number().map_or(f64::MAX, |n| (n - number).abs());
                let places = values.iter().enumerate();
                let nearest = places.min_by(|(_, a), (_, b)| away(a).total_cmp(&away(b)));
                nearest.map(|(place, _)| place as f64)
            }
            (RowKind::Choice { values, .. }, Some(value)) => {
                let place = values.iter().position(|known| known == value)?;
                Some(place as f64)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use penstock_dsp::alignment::FullScale;
    use penstock_dsp::units::Dbu;

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

    const UNIT: [&str; 7] = [
        "rig.preamp.kind=own",
        "rig.preamp.in_ohms=2400",
        "rig.preamp.gain_steps_db=-6,20.5,35,50,65",
        "rig.preamp.attenuator_db=0,15",
        "rig.preamp.max_in_dbu=-8",
        "rig.preamp.max_out_dbu=21",
        "rig.preamp.ein_dbu=-127.5",
    ];

    #[test]
    fn an_own_preamplifier_comes_back_with_its_steps() {
        let mut studio = plan(&UNIT);
        let params = PlanParams::default();
        params.start_from(studio.rig);
        assert_eq!(params.plan().0.rig, studio.rig);
        for set in [
            "preamp.gain_db=20.5",
            "preamp.attenuator_db=15",
            "pad.loss_db=33",
        ] {
            studio.assign(set).unwrap();
        }
        put(&params, &params.choices(&studio));
        assert_eq!(params.plan().0, studio);
        // A preset made for our circuit: the nearest of its steps, and the unit stays.
        let bus = plan(&["preamp.gain_db=58", "preamp.attenuator_db=20"]);
        put(&params, &params.choices(&bus));
        let now = params.plan().0;
        assert_eq!((now.preamp.gain.0, now.preamp.attenuator.0), (65.0, 15.0));
        assert_eq!(now.rig, studio.rig);
        // A unit without a complete sheet takes nothing over from one that had it.
        let bare = plan(&["rig.preamp.kind=own"]);
        put(&params, &params.rig(bare.rig));
        assert_eq!(params.plan().0.rig, bare.rig);
        put(&params, &params.choices(&plan(&["preamp.gain_db=46"])));
        assert_eq!(params.plan().0.preamp.gain.0, 46.0);
        // Back to our circuit: what was chosen last that it has.
        put(&params, &params.rig(Rig::default()));
        assert_eq!(params.plan().0, plan(&["preamp.gain_db=46"]));
    }

    #[test]
    fn a_choice_made_for_another_unit_is_the_nearest_of_ours() {
        let mut own = plan(&UNIT);
        own.assign("preamp.gain_db=35").unwrap();
        let params = PlanParams::default();
        put(&params, &params.choices(&own));
        assert_eq!(params.plan().0.preamp.gain.0, 34.0);
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
        // What no parameter holds stays: the converters' noise, which only plan files have.
        let noisy = plan(&["rig.send.noise_dbfs=-110", "rig.send.full_scale_dbu=15"]);
        let kept = params.rig_over(noisy.rig).rig;
        assert_eq!(
            (kept.send_noise, kept.send_full_scale),
            (noisy.rig.send_noise, studio.rig.send_full_scale)
        );
        // A rig as measured: its numbers.
        let measured = plan(&["rig.send.reading=-20 reads +4 dBu"]);
        params.start_from(measured.rig);
        assert_eq!(params.plan().0.rig.send_full_scale, FullScale(Dbu(24.0)));
        // A control's default is the same in every studio.
        let float = params.find("rig.send.full_scale_dbu").map(|p| &p.value);
        let Some(ParamKind::Float(param)) = float else {
            panic!("a number");
        };
        assert_eq!(param.default_plain_value(), 22.0);
    }
}
