//! Remarks on the pad: what the send drives, what the preamplifier sees, whether it is balanced and cool.

use super::{Remark, Step};
use penstock_dsp::chain::{PadBuild, build_nearest, build_pad};
use penstock_dsp::pad::truth::{load, rating_watts};
use penstock_dsp::pad::{Input, Network};
use penstock_dsp::plan::{Plan, Value, find};

/// A send that drives less than this many times its own impedance is loaded heavily: bridging in audio
/// practice begins at ten (common practice, no source).
const BRIDGING: f64 = 10.0;
/// What microphone inputs are made for (common practice, no source; microphones are rated 150 to 200 ohm,
/// IEC 61938).
const SOURCES_OHMS: std::ops::RangeInclusive<f64> = 100.0..=300.0;
/// What every resistor of a quarter of a watt bears with room to spare.
const COOL_WATTS: f64 = 0.125;

/// Remarks on what the send drives and what the preamplifier sees.
#[must_use]
pub fn pad_remarks(plan: &Plan) -> Vec<Remark> {
    let (build, error) = build_nearest(plan);
    let mut remarks: Vec<Remark> = Vec::new();
    if let Some(error) = error {
        remarks.push(Remark::caution(format!("{error}; the nearest is used.")));
    }
    let network = build.as_built.network();
    if network == Network::None {
        let text = "No pad: line level straight into a microphone input. It overdrives the first tube, \
                    and phantom power reaches the line output unhindered.";
        let step = mended(plan, &[("pad.network", "U".to_owned())], |_, build| {
            build.as_built.network() != Network::None
        });
        remarks.push(Remark::caution(text).with(step));
    } else if !network.is_balanced() {
        let balanced = network.balanced().name();
        let text = format!(
            "A {} pad is unbalanced: it rejects no hum. {balanced} is its balanced form.",
            network.name()
        );
        let step = mended(plan, &[("pad.network", balanced.to_owned())], |_, build| {
            build.as_built.network().is_balanced()
        });
        remarks.push(Remark::caution(text).with(step));
    }
    remarks.extend(heat(plan, &build));
    remarks.extend(heavy(plan, &build));
    remarks.extend(seen(plan, &build));
    remarks
}

/// Resistors that get warm.
fn heat(plan: &Plan, build: &PadBuild) -> Option<Remark> {
    let emf = plan.rig.send_full_scale.volts();
    let hottest = load(&build.as_built, emf, plan.rig.source, build.load)
        .heat
        .into_iter()
        .fold(0.0, f64::max);
    (hottest > COOL_WATTS).then(|| {
        Remark::caution(format!(
            "Full scale heats a resistor of the pad with {:.0} mW: buy {} or more.",
            hottest * 1e3,
            rating_watts(hottest).map_or("more than 5 W".to_owned(), |watts| format!("{watts} W"))
        ))
    })
}

/// A send that is loaded heavily.
fn heavy(plan: &Plan, build: &PadBuild) -> Option<Remark> {
    let source_ohms = plan.rig.source.0;
    let light = |build: &PadBuild| build.as_built.in_ohms(build.load).0 >= BRIDGING * source_ohms;
    if light(build) {
        return None;
    }
    let text = format!(
        "The send drives {:.0} ohm from {source_ohms} ohm: less than ten times its own impedance.",
        build.as_built.in_ohms(build.load).0,
    );
    let key = match plan.pad.input {
        Input::AtLeast(_) => "pad.in_ohms_min",
        Input::Exact(_) => "pad.in_ohms",
    };
    // A little more, which buying may take back.
    let wanted = [10.0, 11.0, 12.5].map(|times| (key, format!("{:.0}", times * source_ohms)));
    let step = mended(plan, &wanted, |_, build| light(build));
    Some(Remark::caution(text).with(step))
}

/// A source that no microphone is.
fn seen(plan: &Plan, build: &PadBuild) -> Option<Remark> {
    let usual = |plan: &Plan, build: &PadBuild| {
        SOURCES_OHMS.contains(&build.as_built.out_ohms(plan.rig.source).0)
    };
    if usual(plan, build) {
        return None;
    }
    let text = format!(
        "The preamp sees {:.0} ohm; microphones are 150 to 200 ohm.",
        build.as_built.out_ohms(plan.rig.source).0
    );
    let tries = [
        ("pad.out_ohms", "150".to_owned()),
        ("pad.out_ohms", "200".to_owned()),
        ("pad.network", "U".to_owned()),
        ("pad.network", "H".to_owned()),
    ];
    let step = mended(plan, &tries, |plan, build| {
        usual(plan, build) && build.as_built.network() != Network::None
    });
    Some(Remark::caution(text).with(step))
}

/// The first of some moves after which a pad can be built that is as it should be. An owned pad has none: its
/// resistors are a fact.
fn mended(
    plan: &Plan,
    tries: &[(&'static str, String)],
    good: impl Fn(&Plan, &PadBuild) -> bool,
) -> Option<Step> {
    if !plan.pad.owned.list().is_empty() {
        return None;
    }
    let works = |(key, value): &&(&'static str, String)| {
        let mut tried = *plan;
        let key = find(key).filter(|key| tried.set(key, &Value::from_text(value)).is_ok());
        key.is_some() && build_pad(&tried).is_ok_and(|build| good(&tried, &build))
    };
    let (key, value) = tries.iter().find(works)?;
    Some(Step {
        key,
        value: value.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(assignments: &[&str]) -> Plan {
        let mut plan = Plan::default();
        for assignment in assignments {
            plan.assign(assignment).expect("a value of the key");
        }
        plan
    }

    /// Each move, made, takes its remark away: the plan is asked again, not the code that proposed it.
    #[test]
    fn a_suggested_move_mends_what_it_stands_beside() {
        let plans = [
            with(&["pad.network=none"]),
            with(&["pad.network=T"]),
            with(&["pad.network=pi"]),
            with(&[
                "pad.network=H",
                "pad.in_ohms_min=600",
                "rig.send.source_ohms=100",
            ]),
            with(&[
                "pad.network=H",
                "pad.in_ohms=600",
                "rig.send.source_ohms=100",
            ]),
            with(&["pad.out_ohms=600"]),
            with(&["pad.out_ohms=40"]),
        ];
        for plan in plans {
            let remarks = pad_remarks(&plan);
            let steps: Vec<&Remark> = remarks.iter().filter(|r| r.step.is_some()).collect();
            assert!(!steps.is_empty(), "{:?}: {remarks:?}", plan.pad);
            for remark in steps {
                let step = remark.step.as_ref().expect("a step");
                let mended = {
                    let mut mended = plan;
                    let set = mended.assign(&format!("{}={}", step.key, step.value));
                    set.expect("a value of the key");
                    mended
                };
                let after = pad_remarks(&mended);
                let start = |text: &str| text.chars().take(12).collect::<String>();
                assert!(
                    after.iter().all(|r| start(&r.text) != start(&remark.text)),
                    "{step:?}: {after:?}"
                );
            }
        }
    }

    #[test]
    fn the_default_plan_is_wise() {
        assert_eq!(pad_remarks(&Plan::default()), Vec::new());
    }
}
