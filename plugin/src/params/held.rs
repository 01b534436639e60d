//! What several parameters say together, gathered in one pass: lists, and values of which one decides over
//! others.

use super::{Parameter, Role};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::pad::{Input, Network};
use penstock_dsp::plan::{Plan, PreampKind, Resistors, Steps};
use penstock_dsp::units::{Db, Ohms};

/// What has been gathered.
#[derive(Default)]
pub(super) struct Held {
    pub(super) oversampling: Oversampling,
    exact: bool,
    in_ohms: f64,
    in_ohms_min: f64,
    resistors_ohms: [f64; Resistors::MOST],
    gains: Steps<16>,
    attenuators: Steps<4>,
    own_gain_db: f64,
    own_attenuator_db: f64,
}

impl Held {
    /// Takes a parameter: what it says by itself into the plan, the rest for later. Never allocates.
    pub(super) fn take(&mut self, parameter: &Parameter, plan: &mut Plan) {
        let number = || parameter.number();
        match parameter.row.role {
            Role::Key => parameter.apply(plan),
            Role::Network => plan.pad.network = network(number() as usize),
            Role::Exact => self.exact = parameter.on(),
            Role::InOhms => self.in_ohms = number(),
            Role::InOhmsMin => self.in_ohms_min = number(),
            Role::Resistor(place) => self.resistors_ohms[place] = number(),
            Role::GainStep(_) => parameter
                .stated()
                .into_iter()
                .for_each(|db| self.gains.push(db)),
            Role::AttenuatorStep(_) => {
                let used = parameter.stated().into_iter();
                used.for_each(|db| self.attenuators.push(db));
            }
            Role::OwnGain => self.own_gain_db = number(),
            Role::OwnAttenuator => self.own_attenuator_db = number(),
            Role::Oversampling => {
                let setting = Oversampling::ALL.get(number() as usize);
                self.oversampling = setting.copied().unwrap_or_default();
            }
            Role::Bypass => {}
        }
    }

    /// Puts the rest into the plan.
    pub(super) fn put(&self, plan: &mut Plan) {
        plan.pad.input = if self.exact {
            Input::Exact(Ohms(self.in_ohms))
        } else {
            Input::AtLeast(Ohms(self.in_ohms_min))
        };
        // An owned pad is used when every position of the network has a resistor.
        let values = &self.resistors_ohms[..plan.pad.network.positions()];
        if values.iter().all(|ohms| *ohms > 0.0) {
            plan.pad.owned = Resistors::from_list(values);
        }
        plan.rig.unit.gains = self.gains;
        plan.rig.unit.attenuators = self.attenuators;
        if plan.rig.preamp == PreampKind::Own {
            plan.preamp.gain = Db(self.own_gain_db);
            plan.preamp.attenuator = Db(self.own_attenuator_db);
            plan.take_unit_steps();
        }
    }
}

/// The network at a place of the key's list of words.
fn network(index: usize) -> Network {
    Network::ALL.get(index).copied().unwrap_or(Network::U)
}
