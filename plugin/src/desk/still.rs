//! What a plan says by itself, found once for all pictures of it.

use crate::advice::{Path, Remark, alignment_remarks, own_remarks, pad_remarks};
use penstock_dsp::chain::{OwnGains, build_nearest};
use penstock_dsp::pad::{LossKind, Network, Pad};
use penstock_dsp::plan::Plan;

/// A plan's words.
#[derive(Debug)]
pub(super) struct Still {
    pub(super) plan: Plan,
    /// The pad asked for, and as built.
    pub(super) requested: String,
    pub(super) built: String,
    pub(super) remarks: Vec<Remark>,
    pub(super) path: Option<Path>,
    /// Of an own preamplifier.
    pub(super) own: Option<OwnGains>,
}

impl Still {
    pub(super) fn of(plan: &Plan) -> Self {
        let (build, _) = build_nearest(plan);
        let mut remarks = pad_remarks(plan);
        let said = alignment_remarks(plan).into_iter().chain(own_remarks(plan));
        remarks.extend(said.map(Remark::hint));
        Self {
            plan: *plan,
            requested: requested(plan),
            built: built(plan, &build.as_built, build.load),
            remarks,
            path: Path::of(plan),
            own: OwnGains::of(plan),
        }
    }
}

fn requested(plan: &Plan) -> String {
    let pad = &plan.pad;
    match pad.network {
        Network::None => String::new(),
        network if !pad.owned.list().is_empty() => format!("{}, your own", network.name()),
        network => format!(
            "{} {} dB {}",
            network.name(),
            pad.loss.0,
            pad.loss_kind.name()
        ),
    }
}

fn built(plan: &Plan, pad: &Pad, load: penstock_dsp::units::Ohms) -> String {
    let network = pad.network();
    if network == Network::None {
        return "straight in".to_owned();
    }
    let resistor = |(position, ohms): (usize, &f64)| {
        let ohms = if ohms.is_finite() {
            format!("{} ohm", rounded(*ohms))
        } else {
            "open".to_owned()
        };
        match (network.count(position), network.position_name(position)) {
            (2, _) => format!("2 x {ohms}"),
            (_, name) if name.starts_with("shunt") => format!("shunt {ohms}"),
            _ => ohms,
        }
    };
    let resistors: Vec<String> = pad.values().iter().enumerate().map(resistor).collect();
    format!(
        "{}: {:.2} dB loaded, the send sees {:.0} ohm, the preamp {:.0} ohm",
        resistors.join(", "),
        pad.loss(LossKind::Loaded, plan.rig.source, load).0,
        pad.in_ohms(load).0,
        pad.out_ohms(plan.rig.source).0
    )
}

/// A resistor's value with at most two decimals.
fn rounded(ohms: f64) -> f64 {
    (ohms * 100.0).round() / 100.0
}
