//! From options to one pad: what is asked, and what is built.

use super::PadArgs;
use crate::cli::error::Failure;
use penstock_dsp::chain::{PadBuild, build_for, pad_request, return_request};
use penstock_dsp::pad::{
    Input, Nearest, Network, Pad, PadError, Parts, Proposal, Request, Stock, Weights, buy, design,
    propose,
};
use penstock_dsp::plan::{Plan, PreampKind, Resistors, Value, find};
use penstock_dsp::units::{Db, Ohms};

/// What every pad of one run shares.
pub(super) struct Job {
    pub(super) plan: Plan,
    pub(super) request: Request,
    pub(super) weights: Weights,
    /// Values of a drawer, when that is where resistors come from.
    pub(super) drawer: Option<Vec<f64>>,
    /// Whether the load is our circuit's, over frequency.
    pub(super) own_load: bool,
    pub(super) losses: Vec<Db>,
    pub(super) is_list: bool,
    /// Nobody named a network.
    proposes: bool,
    /// Nor what the source shall see.
    may_load: bool,
}

/// One pad of the run.
pub(super) struct Built {
    pub(super) request: Request,
    pub(super) build: PadBuild,
    /// Why this network, when nobody named one.
    pub(super) why: Option<String>,
    /// What of the plan gave way to it.
    pub(super) gave_way: Option<String>,
    /// Whether it is owned and not designed.
    pub(super) owned: bool,
}

impl Job {
    pub(super) fn new(args: &PadArgs) -> Result<Self, Failure> {
        let plan = plan(args)?;
        let mut request = if args.of_return {
            return_request(&plan)
        } else {
            pad_request(&plan)
        };
        let asked = [
            (args.source_ohms, &mut request.source),
            (args.out_ohms, &mut request.output),
            (args.load_ohms, &mut request.load),
        ];
        for (given, place) in asked {
            if let Some(ohms) = given {
                *place = Ohms(ohms);
            }
        }
        if let Some(ohms) = args.in_ohms {
            request.input = Input::Exact(Ohms(ohms));
        }
        if let Some(ohms) = args.in_ohms_min {
            request.input = Input::AtLeast(Ohms(ohms));
        }
        let named = args.network.is_some() || args.common.names("pad.network");
        let weights = weights(args)?;
        let drawer = args.drawer.as_deref().map(drawer).transpose()?;
        let losses = losses(args, &plan, &request)?;
        Ok(Self {
            own_load: args.load_ohms.is_none()
                && !args.of_return
                && plan.rig.preamp == PreampKind::Model,
            proposes: !named && !args.of_return && plan.pad.owned.list().is_empty(),
            is_list: losses.len() > 1 || args.loss_db.as_ref().is_some_and(|t| t.contains(',')),
            may_load: args.in_ohms.is_none()
                && args.in_ohms_min.is_none()
                && !args.common.names("pad.in_ohms_min")
                && !args.common.names("pad.in_ohms"),
            plan,
            request,
            weights,
            drawer,
            losses,
        })
    }

    /// The pad of one loss.
    pub(super) fn build(&self, loss: Db) -> Result<Built, Failure> {
        let mut request = Request {
            loss,
            ..self.request
        };
        let (mut why, mut gave_way) = (None, None);
        if self.proposes {
            let (asked, proposal, way) = self.proposal(&request)?;
            (request, gave_way) = (asked, way);
            request.network = proposal.pad.network();
            why = Some(proposal.why);
        }
        let owned = !self.plan.pad.owned.list().is_empty() && request.network != Network::None;
        let build = if owned {
            design_checks(&request)?;
            build_for(&self.plan, &request)?
        } else {
            let ideal = design(&request)?;
            self.purchase(&request, &ideal, self.plan.pad.parts)?
        };
        Ok(Built {
            request,
            build,
            why,
            gave_way,
            owned,
        })
    }

    /// What to build when nobody named a network. The plan's own least load on the source gives way, down
    /// to ten times the source's impedance, when the loss cannot be had otherwise and nobody asked for it.
    fn proposal(&self, request: &Request) -> Result<(Request, Proposal, Option<String>), PadError> {
        let error = match propose(request) {
            Ok(proposal) => return Ok((*request, proposal, None)),
            Err(error) => error,
        };
        let PadError::TooLittleLoss {
            request: refused, ..
        } = error
        else {
            return Err(error);
        };
        let Some(most) = Nearest::of(&refused).in_ohms else {
            return Err(error);
        };
        // Rounded down, so that what is said can be asked for.
        let most = most.floor();
        let Input::AtLeast(least) = request.input else {
            return Err(error);
        };
        if !self.may_load || most < 10.0 * request.source.0 {
            return Err(error);
        }
        let lighter = Request {
            input: Input::AtLeast(Ohms(most)),
            ..*request
        };
        let proposal = propose(&lighter)?;
        let gave_way = format!(
            "{} dB cannot be had with the plan's least load of {} ohm; {most} ohm, which can, is still \
             ten times the source's impedance or more",
            request.loss.0, least.0
        );
        Ok((lighter, proposal, Some(gave_way)))
    }

    /// The same pad with its resistors chosen another way.
    pub(super) fn purchase(
        &self,
        request: &Request,
        ideal: &Pad,
        parts: Parts,
    ) -> Result<PadBuild, Failure> {
        let purchase = buy(request, ideal, self.stock(), parts, &self.weights)?;
        Ok(PadBuild {
            ideal: *ideal,
            as_built: purchase.pad,
            purchase,
            load: request.load,
        })
    }

    pub(super) fn stock(&self) -> Stock<'_> {
        match &self.drawer {
            Some(values) => Stock::Drawer(values),
            None => Stock::Series(self.plan.pad.series),
        }
    }

    /// Where resistors come from, in a word.
    pub(super) fn stock_name(&self) -> &'static str {
        match self.drawer {
            Some(_) => "drawer",
            None => self.plan.pad.series.name(),
        }
    }
}

/// An owned pad is not designed, but the numbers around it must make sense all the same.
fn design_checks(request: &Request) -> Result<(), Failure> {
    match design(request) {
        Err(error @ (PadError::NotPositive { .. } | PadError::OutOfRange { .. })) => {
            Err(error.into())
        }
        _ => Ok(()),
    }
}

/// The plan with the options laid over it that are keys.
fn plan(args: &PadArgs) -> Result<Plan, Failure> {
    let mut plan = args.common.plan()?;
    for (key, word) in [
        ("pad.loss_kind", &args.loss_kind),
        ("pad.network", &args.network),
        ("pad.series", &args.series),
        ("pad.parts", &args.parts),
    ] {
        if let (Some(word), Some(key)) = (word, find(key)) {
            plan.set(key, &Value::Word(word.clone()))?;
        }
    }
    if let Some(text) = &args.resistors_ohms {
        plan.pad.owned = owned(args, &plan, text)?;
    }
    if args.of_return {
        plan.pad.owned = Resistors::default();
    }
    Ok(plan)
}

/// The values of an owned pad, of one leg; a balanced network has to be told which they are.
fn owned(args: &PadArgs, plan: &Plan, text: &str) -> Result<Resistors, Failure> {
    let network = plan.pad.network;
    let mut values = list(text, "--resistors-ohms")?;
    if network.is_balanced() && !args.per_leg && !args.both_legs {
        return Err(Failure::usage(format!(
            "are the series values of this {} pad those of one leg (say --per-leg) or of both legs \
             together (say --both-legs)?",
            network.name()
        )));
    }
    if args.both_legs && network.is_balanced() {
        for (position, value) in values.iter_mut().enumerate() {
            if network.count(position) == 2 {
                *value /= 2.0;
            }
        }
    }
    Pad::owned(network, &values)?;
    Ok(Resistors::from_list(&values))
}

/// The losses asked for, each within what the plan's key takes.
fn losses(args: &PadArgs, plan: &Plan, request: &Request) -> Result<Vec<Db>, Failure> {
    if let (Some(from), Some(to)) = (args.from_dbu, args.to_dbu) {
        if from < to {
            return Err(Failure::usage(format!(
                "from {from} dBu to {to} dBu is a gain of {} dB; a pad only loses",
                to - from
            )));
        }
        let mut asked = *plan;
        asked.assign(&format!("pad.loss_db={}", from - to))?;
        return Ok(vec![asked.pad.loss]);
    }
    let Some(text) = &args.loss_db else {
        return Ok(vec![request.loss]);
    };
    text.split(',')
        .map(|item| {
            let mut asked = *plan;
            asked.assign(&format!("pad.loss_db={item}"))?;
            Ok(asked.pad.loss)
        })
        .collect()
}

fn weights(args: &PadArgs) -> Result<Weights, Failure> {
    let mut weights = Weights::default();
    for (name, given, place) in [
        (
            "--loss-weight-db",
            args.loss_weight_db,
            &mut weights.loss_db,
        ),
        ("--in-weight", args.in_weight, &mut weights.in_ln),
        ("--out-weight", args.out_weight, &mut weights.out_ln),
    ] {
        if let Some(value) = given {
            *place = positive(name, value)?;
        }
    }
    for (name, value) in [
        ("--tolerance-percent", args.tolerance_percent),
        ("--common-mode-ohms", args.common_mode_ohms),
    ] {
        positive(name, value)?;
    }
    if args.tolerance_percent >= 50.0 {
        return Err(Failure::usage(format!(
            "--tolerance-percent is {}; it must be below 50",
            args.tolerance_percent
        )));
    }
    for (name, value) in [
        ("--line-cable-pf", args.line_cable_pf),
        ("--mic-cable-pf", args.mic_cable_pf),
    ] {
        if !(0.0..=1e6).contains(&value) {
            return Err(Failure::usage(format!(
                "{name} is {value}; it must be from 0 to 1000000"
            )));
        }
    }
    Ok(weights)
}

fn positive(name: &str, value: f64) -> Result<f64, Failure> {
    if value > 0.0 {
        Ok(value)
    } else {
        Err(Failure::usage(format!(
            "{name} is {value}; it must be above 0"
        )))
    }
}

/// The values of a drawer, ascending, each once.
fn drawer(text: &str) -> Result<Vec<f64>, Failure> {
    let mut values = if text.trim().is_empty() {
        Vec::new()
    } else {
        list(text, "--drawer")?
    };
    values.sort_by(f64::total_cmp);
    values.dedup();
    let most = penstock_dsp::pad::DRAWER_VALUES;
    if values.len() > most {
        return Err(Failure::usage(format!(
            "--drawer holds {} different values; at most {most} are searched",
            values.len()
        )));
    }
    Ok(values)
}

/// A comma list of ohms; 4k7 and 4.7k are 4700, 1M is a million, 6R8 is 6.8.
fn list(text: &str, name: &str) -> Result<Vec<f64>, Failure> {
    let inner = text.trim().trim_start_matches('[').trim_end_matches(']');
    let item = |item: &str| {
        ohms(item.trim()).ok_or_else(|| {
            Failure::usage(format!(
                "{name}: {item:?} is no resistor; write ohms, as in 300,6.2,4k7"
            ))
        })
    };
    inner.split(',').map(item).collect()
}

fn ohms(text: &str) -> Option<f64> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|value| value.is_finite());
    for (mark, factor) in [('R', 1.0), ('r', 1.0), ('k', 1e3), ('K', 1e3), ('M', 1e6)] {
        if let Some((whole, part)) = text.split_once(mark) {
            let point = if part.is_empty() { "" } else { "." };
            return number(&format!("{whole}{point}{part}")).map(|value| value * factor);
        }
    }
    number(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ohms_read_as_the_trade_writes_them() {
        for (text, value) in [
            ("4k7", 4700.0),
            ("4.7k", 4700.0),
            ("6R8", 6.8),
            ("1M", 1e6),
            ("300", 300.0),
        ] {
            let found = ohms(text).unwrap_or_default();
            assert!((found - value).abs() < 1e-9 * value, "{text}: {found}");
        }
        assert_eq!(ohms("x"), None);
        assert_eq!(ohms("nan"), None);
    }
}
