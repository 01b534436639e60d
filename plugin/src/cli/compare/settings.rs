//! Which settings are compared: every combination of what is varied, or three routes of equal
//! total gain.

use crate::cli::error::Failure;
use penstock_dsp::chain::build_pad;
use penstock_dsp::plan::{Key, Plan, PlanError, Value, find};
use penstock_dsp::units::Db;

/// More than this in one comparison is a mistake.
const MOST_SETTINGS: usize = 64;

/// A plan to compare, and how it differs from the one all start from.
pub(super) struct Setting {
    pub(super) id: usize,
    pub(super) name: String,
    pub(super) changes: Vec<(&'static Key, Value)>,
    pub(super) plan: Plan,
}

/// The settings of a plan for a list of `KEY=A,B,C`, or the default routes.
pub(super) fn settings(plan: &Plan, vary: &[String]) -> Result<Vec<Setting>, Failure> {
    let combinations = if vary.is_empty() {
        // Routes are variations of a plan that can itself be built.
        build_pad(plan)?;
        routes(plan)
    } else {
        combinations(vary)?
    };
    let mut settings = Vec::new();
    for (index, changes) in combinations.into_iter().enumerate() {
        let mut changed = *plan;
        for (key, value) in &changes {
            changed.set(key, value)?;
        }
        let name = name(&changes);
        build_pad(&changed).map_err(|error| Failure::from(error).of(&name))?;
        settings.push(Setting {
            id: index + 1,
            name,
            changes,
            plan: changed,
        });
    }
    Ok(settings)
}

/// Every combination, the last key varying fastest.
fn combinations(vary: &[String]) -> Result<Vec<Vec<(&'static Key, Value)>>, Failure> {
    let mut all: Vec<Vec<(&'static Key, Value)>> = vec![Vec::new()];
    for text in vary {
        let (name, list) = text
            .split_once('=')
            .ok_or_else(|| PlanError::NotAnAssignment {
                given: text.clone(),
            })?;
        // An unknown key gets its sentence from the plan itself.
        let Some(key) = find(name.trim()) else {
            Plan::default().assign(&format!("{name}=0"))?;
            continue;
        };
        if all[0].iter().any(|(other, _)| other.name == key.name) {
            let twice = format!(
                "`{}` is varied twice; give all its values in one list",
                key.name
            );
            return Err(Failure::usage(twice));
        }
        let values: Vec<Value> = list.split(',').map(Value::from_text).collect();
        all = all
            .iter()
            .flat_map(|changes| {
                values.iter().map(move |value| {
                    let mut longer = changes.clone();
                    longer.push((key, value.clone()));
                    longer
                })
            })
            .collect();
        if all.len() > MOST_SETTINGS {
            return Err(Failure::usage(format!(
                "these lists make {} settings or more; at most {MOST_SETTINGS} are compared",
                all.len()
            )));
        }
    }
    Ok(all)
}

/// Up to three routes with the plan's total gain: the plan's own, less pad with less gain (the
/// first tube works harder), and the attenuator with more gain (the second tube works harder).
fn routes(plan: &Plan) -> Vec<Vec<(&'static Key, Value)>> {
    let total = plan.preamp.gain - plan.pad.loss - plan.preamp.attenuator;
    let own = (plan.preamp.attenuator, plan.preamp.gain);
    let candidates = [
        (Db(0.0), own.1 - own.0 - Db(6.0)),
        own,
        (Db(20.0), own.1 - own.0 + Db(18.0)),
        (Db(0.0), own.1 - own.0 + Db(6.0)),
        (Db(0.0), own.1 - own.0 - Db(12.0)),
        (Db(0.0), own.1 - own.0 + Db(12.0)),
        (own.0, own.1 + Db(6.0)),
        (own.0, own.1 - Db(6.0)),
    ];
    let mut routes = Vec::new();
    for (attenuator, gain) in candidates {
        let loss = gain - attenuator - total;
        let mut changed = *plan;
        let changes: Option<Vec<(&'static Key, Value)>> = [
            ("pad.loss_db", loss),
            ("preamp.attenuator_db", attenuator),
            ("preamp.gain_db", gain),
        ]
        .into_iter()
        .map(|(name, value)| {
            let (key, value) = (find(name)?, Value::Number(value.0));
            changed.set(key, &value).ok()?;
            Some((key, value))
        })
        .collect();
        if let Some(changes) = changes
            && build_pad(&changed).is_ok()
            && !routes.contains_changes(&changes)
            && routes.len() < 3
        {
            routes.push(changes);
        }
    }
    routes
}

/// Whether a list of changes is already there.
trait ContainsChanges {
    fn contains_changes(&self, changes: &[(&'static Key, Value)]) -> bool;
}

impl ContainsChanges for Vec<Vec<(&'static Key, Value)>> {
    fn contains_changes(&self, changes: &[(&'static Key, Value)]) -> bool {
        self.iter().any(|known| {
            known.len() == changes.len()
                && known
                    .iter()
                    .zip(changes)
                    .all(|(a, b)| a.0.name == b.0.name && a.1 == b.1)
        })
    }
}

/// "pad loss 34 dB, gain 34 dB": the changes as a person says them.
fn name(changes: &[(&'static Key, Value)]) -> String {
    let words: Vec<String> = changes
        .iter()
        .map(|(key, value)| {
            let (section, last) = key.name.rsplit_once('.').unwrap_or(("", key.name));
            let section = section.rsplit('.').next().unwrap_or_default();
            let (what, unit) = match last.rsplit_once('_') {
                Some((what, "db")) => (what, " dB"),
                Some((what, "dbu")) => (what, " dBu"),
                Some((what, "ohms")) => (what, " ohm"),
                _ => (last, ""),
            };
            let what = what.replace('_', " ");
            match (key.name, what.as_str()) {
                ("pad.loss_db", _) => format!("pad {value}{unit}"),
                ("preamp.gain_db" | "preamp.attenuator_db", what) => {
                    format!("{what} {value}{unit}")
                }
                _ => format!("{section} {what} {value}{unit}"),
            }
        })
        .collect();
    if words.is_empty() {
        "as planned".to_owned()
    } else {
        words.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_lists_three_routes_have_the_same_total_gain() {
        let plan = Plan::default();
        let found = settings(&plan, &[]).expect("the default routes");
        assert_eq!(found.len(), 3);
        for setting in &found {
            let plan = &setting.plan;
            let total = plan.preamp.gain - plan.pad.loss - plan.preamp.attenuator;
            assert_eq!(total, Db(0.0), "{}", setting.name);
        }
        assert_eq!(found[0].name, "pad 34 dB, attenuator 0 dB, gain 34 dB");
    }

    #[test]
    fn the_ends_of_the_gain_range_still_give_routes() {
        for gain in penstock_dsp::circuit::GAIN_STEPS_DB {
            for attenuator in [0.0, 20.0] {
                let mut plan = Plan::default();
                plan.preamp.gain = Db(gain);
                plan.preamp.attenuator = Db(attenuator);
                let found = settings(&plan, &[]).expect("routes");
                assert!(found.len() >= 2, "{gain} {attenuator}: {}", found.len());
                assert!(found.iter().any(|setting| setting.plan == plan));
            }
        }
    }

    #[test]
    fn lists_are_combined_and_checked() {
        let vary = |lists: &[&str]| {
            let lists: Vec<String> = lists.iter().map(|list| (*list).to_owned()).collect();
            settings(&Plan::default(), &lists)
        };
        let found = vary(&["pad.loss_db=30,40", "preamp.gain_db=28,34,40"]).expect("settings");
        assert_eq!(found.len(), 6);
        assert_eq!(found[5].name, "pad 40 dB, gain 40 dB");
        assert!(vary(&["pad.loss_db"]).is_err());
        assert!(vary(&["pad.lose_db=1"]).is_err());
        assert!(vary(&["pad.loss_db=30,x"]).is_err());
        assert!(vary(&["pad.loss_db=30", "pad.loss_db=40"]).is_err());
    }
}
