//! `penstock pad`: a design, ideal and as built.

use super::args::PadArgs;
use super::error::Failure;
use super::{json, text};
use penstock_dsp::chain::PadBuild;
use penstock_dsp::circuit;
use penstock_dsp::pad::{LossKind, Network, Pad, Request, design};
use penstock_dsp::plan::{Plan, Value, find};
use penstock_dsp::units::{Db, Ohms};
use serde_json::json;

/// Designs one pad, or one for each loss of a comma list.
pub(super) fn run(args: &PadArgs) -> Result<u8, Failure> {
    let plan = plan(args)?;
    let load = match args.load_ohms {
        Some(ohms) => Ohms(ohms),
        None => circuit::in_ohms(plan.preamp.attenuator.0 > 0.0),
    };
    let losses = losses(args, &plan)?;
    let builds = losses
        .iter()
        .map(|loss| build(&plan, load, *loss))
        .collect::<Result<Vec<PadBuild>, Failure>>()?;
    let source = plan.rig.source;
    if !args.common.json {
        for (index, build) in builds.iter().enumerate() {
            if index > 0 {
                println!();
            }
            print!("{}", describe(&plan, build, source));
        }
    } else if let ([build], false) = (builds.as_slice(), is_list(args)) {
        json::print(&json::build(build, source));
    } else {
        let rows: Vec<_> = builds
            .iter()
            .map(|build| json::build(build, source))
            .collect();
        json::print(&json!({ "rows": rows }));
    }
    Ok(0)
}

fn is_list(args: &PadArgs) -> bool {
    args.loss_db.as_ref().is_some_and(|text| text.contains(','))
}

/// The plan with the options laid over it. An owned load is not a key, the rest is; the options
/// may go beyond the plan's limits, as long as the numbers make sense.
fn plan(args: &PadArgs) -> Result<Plan, Failure> {
    use penstock_dsp::pad::Input;
    let mut plan = args.common.plan()?;
    for (key, word) in [
        ("pad.loss_kind", &args.loss_kind),
        ("pad.network", &args.network),
        ("pad.series", &args.series),
    ] {
        if let (Some(word), Some(key)) = (word, find(key)) {
            plan.set(key, &Value::Word(word.clone()))?;
        }
    }
    if let Some(ohms) = args.source_ohms {
        plan.rig.source = Ohms(ohms);
    }
    if let Some(ohms) = args.in_ohms {
        plan.pad.input = Input::Exact(Ohms(ohms));
    }
    if let Some(ohms) = args.in_ohms_min {
        plan.pad.input = Input::AtLeast(Ohms(ohms));
    }
    if let Some(ohms) = args.out_ohms {
        plan.pad.out = Ohms(ohms);
    }
    Ok(plan)
}

/// The losses asked for, each within what the plan's key takes.
fn losses(args: &PadArgs, plan: &Plan) -> Result<Vec<Db>, Failure> {
    let Some(list) = &args.loss_db else {
        return Ok(vec![plan.pad.loss]);
    };
    list.split(',')
        .map(|item| {
            let mut asked = *plan;
            asked.assign(&format!("pad.loss_db={item}"))?;
            Ok(asked.pad.loss)
        })
        .collect()
}

fn build(plan: &Plan, load: Ohms, loss: Db) -> Result<PadBuild, Failure> {
    let ideal = design(&Request {
        network: plan.pad.network,
        source: plan.rig.source,
        input: plan.pad.input,
        output: plan.pad.out,
        load,
        loss,
        kind: plan.pad.loss_kind,
    })?;
    Ok(PadBuild {
        ideal,
        as_built: ideal.rounded(plan.pad.series),
        load,
    })
}

/// The pad in words: what to solder, what it does.
fn describe(plan: &Plan, build: &PadBuild, source: Ohms) -> String {
    let (ideal, built) = (&build.ideal, &build.as_built);
    let network = built.network();
    if network == Network::None {
        return "No pad: straight in.\n".to_owned();
    }
    let each = if network.is_balanced() {
        "each leg, 2 off"
    } else {
        "1 off"
    };
    let series = plan.pad.series.name();
    let mut rows = vec![vec![
        String::new(),
        "ideal".into(),
        series.into(),
        String::new(),
    ]];
    let mut row = |name: &str, value: &dyn Fn(&Pad) -> String, note: &str| {
        rows.push(vec![name.into(), value(ideal), value(built), note.into()]);
    };
    row(
        "series, input side",
        &|pad| text::ohms(pad.arm_in().0),
        each,
    );
    row("shunt", &|pad| text::ohms(pad.r3().0), "1 off");
    if network.has_output_arms() {
        row(
            "series, output side",
            &|pad| text::ohms(pad.arm_out().0),
            each,
        );
    }
    row(
        "input, loaded",
        &|pad| text::ohms(pad.in_ohms(build.load).0),
        "",
    );
    row(
        "output, driven",
        &|pad| text::ohms(pad.out_ohms(source).0),
        "",
    );
    for (name, kind) in [
        ("loss, loaded (V in / V out)", LossKind::Loaded),
        ("loss, unloaded", LossKind::Unloaded),
        ("loss, matched power", LossKind::MatchedPower),
        ("loss, open circuit", LossKind::OpenCircuit),
    ] {
        row(
            name,
            &|pad| format!("{:.3} dB", pad.loss(kind, source, build.load).0),
            "",
        );
    }
    format!(
        "{} pad from {} into {}\n{}Phantom power off before a line output meets a microphone input.\n",
        network.name(),
        text::ohms(source.0),
        text::ohms(build.load.0),
        text::table(&rows)
    )
}
