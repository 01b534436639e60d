//! Plans from and to TOML, and one key at a time.

use super::{KEYS, Key, Kind, Later, Plan, PlanError, PreampKind, Steps, Value, find};
use crate::alignment::Reading;
use crate::circuit::GAIN_STEPS_DB;
use crate::pad::Parts;
use crate::units::Db;

/// Largest gain of an own unit whose steps are not stated, in dB.
const MOST_OWN_GAIN_DB: f64 = 90.0;

impl Plan {
    /// Reads a plan; keys left out keep their defaults.
    ///
    /// # Errors
    /// Broken TOML, unknown keys, values that a key does not take.
    pub fn from_toml(text: &str) -> Result<Self, PlanError> {
        let table: toml::Table =
            text.parse()
                .map_err(|error: toml::de::Error| PlanError::Syntax {
                    message: one_line(&error),
                })?;
        let mut plan = Self::default();
        // A plan that this program wrote before there was a choice of parts keeps its sound.
        let has_parts = table
            .get("pad")
            .is_some_and(|pad| pad.get("parts").is_some());
        if table.contains_key("model_version") && !has_parts {
            plan.pad.parts = Parts::Nearest;
        }
        plan.take_table("", &table)?;
        Ok(plan)
    }

    fn take_table(&mut self, prefix: &str, table: &toml::Table) -> Result<(), PlanError> {
        // The rig first: which steps a preamplifier has is said there.
        let rig_last = |(name, _): &(&String, &toml::Value)| name.as_str() != "rig";
        let mut entries: Vec<_> = table.iter().collect();
        entries.sort_by_key(rig_last);
        for (name, value) in entries {
            let full = if prefix.is_empty() {
                name.clone()
            } else {
                format!("{prefix}.{name}")
            };
            match value {
                toml::Value::Table(inner) => self.take_table(&full, inner)?,
                _ => {
                    let key = known(&full)?;
                    match Value::from_toml(value) {
                        Some(value) => self.set(key, &value)?,
                        None => return Err(key.refuse(&value.to_string())),
                    }
                }
            }
        }
        Ok(())
    }

    /// The whole plan as TOML, in the order of the key table.
    #[must_use]
    pub fn to_toml(&self) -> String {
        self.toml_of(|_| true)
    }

    /// Only the facts of the studio, as TOML: a plan file too.
    #[must_use]
    pub fn rig_to_toml(&self) -> String {
        self.toml_of(Key::is_of_the_rig)
    }

    /// All but the facts of the studio, as TOML: what is handed on without its owner's converters. With an
    /// own preamplifier its data sheet is in it, for gain and attenuator are steps of that unit.
    #[must_use]
    pub fn choices_to_toml(&self) -> String {
        let is_own = self.rig.preamp == PreampKind::Own;
        let of_unit = |key: &Key| is_own && key.name.starts_with("rig.preamp.");
        self.toml_of(|key| !key.is_of_the_rig() || of_unit(key))
    }

    /// The same facts of the studio with another plan's choices, as they are: what was chosen for another
    /// preamplifier is put on this one's steps by [`Plan::take_unit_steps`].
    #[must_use]
    pub fn with_choices_of(&self, other: &Self) -> Self {
        Self {
            rig: self.rig,
            ..*other
        }
    }

    fn toml_of(&self, wanted: impl Fn(&Key) -> bool) -> String {
        let mut text = String::new();
        let mut section = "";
        for key in KEYS.iter().filter(|key| wanted(key)) {
            let Some(value) = (key.get)(self) else {
                continue;
            };
            let (table, name) = key.name.rsplit_once('.').unwrap_or(("", key.name));
            if table != section {
                section = table;
                text.push_str(&format!("\n[{table}]\n"));
            }
            text.push_str(&format!("{name} = {}\n", value.to_toml()));
        }
        text
    }

    /// Changes one key by the text `KEY=VALUE`.
    ///
    /// # Errors
    /// No `=`, an unknown key, a value that the key does not take.
    pub fn assign(&mut self, assignment: &str) -> Result<(), PlanError> {
        let (name, value) =
            assignment
                .split_once('=')
                .ok_or_else(|| PlanError::NotAnAssignment {
                    given: assignment.to_owned(),
                })?;
        self.set(known(name.trim())?, &Value::from_text(value))
    }

    /// Changes one key.
    ///
    /// # Errors
    /// A value that the key does not take, or that is not built yet.
    pub fn set(&mut self, key: &'static Key, value: &Value) -> Result<(), PlanError> {
        let later = match (key.later, value) {
            (Later::Key, _) => true,
            (Later::Words(words), Value::Word(word)) => words.contains(&word.as_str()),
            (Later::AllBut(only), Value::Number(number)) => {
                *number != only && key.kind.takes(value)
            }
            _ => false,
        };
        if later {
            return Err(PlanError::Later {
                key: key.name,
                given: value.to_string(),
            });
        }
        if let Some(kind) = self.own_steps(key) {
            self.take_own(key, &kind, value)?;
        } else if !key.kind.takes(value) {
            return Err(PlanError::BadValue {
                key: key.name,
                given: value.to_string(),
                allowed: key.kind.allowed(),
                nearest: key.kind.nearest(value),
            });
        }
        let before = *self;
        (key.set)(self, value);
        if let Some(beyond) = self.rig.beyond() {
            *self = before;
            return Err(PlanError::Alignment {
                key: key.name,
                given: value.to_string(),
                beyond,
            });
        }
        Ok(())
    }

    /// What a key takes of an own unit instead of our circuit's steps: these, or when there are none what
    /// the number allows.
    fn own_steps(&self, key: &Key) -> Option<(Vec<f64>, Kind)> {
        let unit = &self.rig.unit;
        let number = |max| Kind::Number { min: 0.0, max };
        match (self.rig.preamp, key.name) {
            (PreampKind::Own, "preamp.gain_db") => {
                Some((unit.gains.list().to_vec(), number(MOST_OWN_GAIN_DB)))
            }
            (PreampKind::Own, "preamp.attenuator_db") => {
                Some((unit.attenuators.list().to_vec(), number(0.0)))
            }
            _ => None,
        }
    }

    fn take_own(
        &self,
        key: &'static Key,
        (steps, kind): &(Vec<f64>, Kind),
        value: &Value,
    ) -> Result<(), PlanError> {
        let fits = match value {
            Value::Number(number) if !steps.is_empty() => steps.contains(number),
            value => steps.is_empty() && kind.takes(value),
        };
        if fits {
            return Ok(());
        }
        let list: Vec<String> = steps.iter().map(f64::to_string).collect();
        let nearest = value.number().map(|number| {
            let away = |step: &&f64| (**step - number).abs();
            let step = steps.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
            step.map(f64::to_string)
                .or_else(|| kind.nearest(value))
                .unwrap_or_default()
        });
        Err(PlanError::BadValue {
            key: key.name,
            given: value.to_string(),
            allowed: if steps.is_empty() {
                kind.allowed()
            } else {
                format!("the own unit's steps {}", list.join(", "))
            },
            nearest,
        })
    }

    /// Puts gain and attenuator on steps that the preamplifier has: the nearest ones. Never allocates.
    pub fn take_unit_steps(&mut self) {
        let (gain, attenuator) = (self.preamp.gain.0, self.preamp.attenuator.0);
        let (gain, attenuator) = match self.rig.preamp {
            PreampKind::Own => {
                let unit = &self.rig.unit;
                let any = |steps: &[f64]| !steps.is_empty();
                (
                    if any(unit.gains.list()) {
                        unit.gains.nearest(gain)
                    } else {
                        gain.clamp(0.0, MOST_OWN_GAIN_DB)
                    },
                    if any(unit.attenuators.list()) {
                        unit.attenuators.nearest(attenuator)
                    } else {
                        0.0
                    },
                )
            }
            PreampKind::Model => (
                Steps::<7>::from_list(&GAIN_STEPS_DB).nearest(gain),
                Steps::<2>::from_list(&[0.0, 20.0]).nearest(attenuator),
            ),
        };
        (self.preamp.gain, self.preamp.attenuator) = (Db(gain), Db(attenuator));
    }

    /// Reads one key; `None` when another key holds instead.
    #[must_use]
    pub fn get(&self, key: &Key) -> Option<Value> {
        (key.get)(self)
    }
}

impl Key {
    /// Whether it is a fact of the studio, which no preset changes.
    #[must_use]
    pub fn is_of_the_rig(&self) -> bool {
        self.name.starts_with("rig.")
    }

    /// An error for a value of a kind that no key takes.
    fn refuse(&'static self, given: &str) -> PlanError {
        match self.later {
            Later::Key => PlanError::Later {
                key: self.name,
                given: given.to_owned(),
            },
            _ => PlanError::BadValue {
                key: self.name,
                given: given.to_owned(),
                allowed: self.kind.allowed(),
                nearest: None,
            },
        }
    }
}

impl Kind {
    fn takes(self, value: &Value) -> bool {
        match (self, value) {
            (Self::Number { min, max }, Value::Number(number)) => (min..=max).contains(number),
            (Self::Steps(steps), Value::Number(number)) => steps.contains(number),
            (Self::Words(words), Value::Word(word)) => words.contains(&word.as_str()),
            (Self::Flag, Value::Flag(_)) => true,
            (Self::List { most, min, max }, Value::Numbers(numbers)) => {
                numbers.len() <= most && numbers.iter().all(|n| (min..=max).contains(n))
            }
            // A list of one needs no brackets.
            (Self::List { min, max, .. }, Value::Number(number)) => (min..=max).contains(number),
            (Self::Reading(converter), Value::Word(text)) => Reading::parse(text, converter)
                .is_some_and(|reading| reading.within_range() == reading),
            _ => false,
        }
    }

    fn nearest(self, value: &Value) -> Option<String> {
        match (self, value) {
            (Self::Number { min, max }, Value::Number(number)) => {
                Some(number.clamp(min, max).to_string())
            }
            (Self::Steps(steps), Value::Number(number)) => steps
                .iter()
                .min_by(|a, b| (*a - number).abs().total_cmp(&(*b - number).abs()))
                .map(f64::to_string),
            (Self::List { most, min, max }, Value::Numbers(numbers)) => {
                let near = numbers.iter().take(most).map(|n| n.clamp(min, max));
                Some(Value::Numbers(near.collect()).to_string())
            }
            (Self::Words(words), value) => {
                closest(&value.to_string(), words.iter().copied()).map(str::to_owned)
            }
            (Self::Reading(converter), Value::Word(text)) => Reading::parse(text, converter)
                .map(|reading| reading.within_range().text(converter)),
            _ => None,
        }
    }
}

fn known(name: &str) -> Result<&'static Key, PlanError> {
    find(name).ok_or_else(|| PlanError::UnknownKey {
        key: name.to_owned(),
        nearest: closest(name, KEYS.iter().map(|key| key.name)).unwrap_or_default(),
    })
}

/// The candidate with the fewest letter edits, capitals aside.
fn closest<'a>(given: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let given = given.to_lowercase();
    candidates.min_by_key(|candidate| edits(&given, &candidate.to_lowercase()))
}

/// Levenshtein distance.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut diagonal = std::mem::replace(&mut row[0], i + 1);
        for (j, to) in b.iter().enumerate() {
            let kept = diagonal + usize::from(from != *to);
            diagonal = row[j + 1];
            row[j + 1] = kept.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

/// A parser's message on one line.
fn one_line(error: &toml::de::Error) -> String {
    let place = error
        .span()
        .map_or_else(String::new, |span| format!(" at byte {}", span.start));
    format!(
        "{}{place}",
        error
            .message()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alignment::Converter;

    #[test]
    fn every_default_is_a_value_its_key_takes_and_toml_round_trips() {
        let plan = Plan::default();
        for key in KEYS {
            if let Some(value) = plan.get(key) {
                assert!(key.kind.takes(&value), "{}: {value}", key.name);
                assert!(!key.help.is_empty());
            }
        }
        assert_eq!(Plan::from_toml(&plan.to_toml()), Ok(plan));
    }

    #[test]
    fn a_plan_is_its_rig_and_its_choices() {
        let mut plan = Plan::default();
        for set in [
            "rig.send.full_scale_dbu=18",
            "pad.loss_db=31",
            "pad.network=H",
        ] {
            plan.assign(set).unwrap();
        }
        let choices = Plan::from_toml(&plan.choices_to_toml()).unwrap();
        assert_eq!(choices.rig, Plan::default().rig);
        assert_eq!(choices.pad, plan.pad);
        let rig = Plan::from_toml(&plan.rig_to_toml()).unwrap();
        assert_eq!(rig.rig, plan.rig);
        assert_eq!(rig.pad.network, Plan::default().pad.network);
        assert_eq!(rig.with_choices_of(&choices), plan);
        let lines = |text: String| text.lines().filter(|line| line.contains('=')).count();
        let whole = lines(plan.to_toml());
        assert_eq!(
            lines(plan.rig_to_toml()) + lines(plan.choices_to_toml()),
            whole
        );
    }

    #[test]
    fn every_key_writes_what_it_reads() {
        for key in KEYS.iter().filter(|key| key.later == Later::Nothing) {
            let candidates: Vec<Value> = match key.kind {
                Kind::Number { min, max } => [min, max].map(Value::Number).into(),
                Kind::Steps(steps) => steps.iter().map(|step| Value::Number(*step)).collect(),
                Kind::Words(words) => words
                    .iter()
                    .map(|word| Value::Word((*word).to_owned()))
                    .collect(),
                Kind::Flag => vec![Value::Flag(false), Value::Flag(true)],
                Kind::List { min, max, .. } => vec![Value::Numbers(vec![min, max])],
                Kind::Reading(Converter::Send) => {
                    ["-18 reads +4 dBu into 600", "-20 reads 1.228 V"]
                        .map(|text| Value::Word(text.to_owned()))
                        .into()
                }
                Kind::Reading(Converter::Return) => ["0 reads +24 dBu", "-9 reads -3 dBV from 50"]
                    .map(|text| Value::Word(text.to_owned()))
                    .into(),
                Kind::Numbers => vec![],
            };
            assert!(!candidates.is_empty(), "{}", key.name);
            for value in candidates {
                let mut plan = Plan::default();
                assert_eq!(plan.set(key, &value), Ok(()));
                assert_eq!(plan.get(key), Some(value), "{}", key.name);
            }
        }
    }

    #[test]
    fn a_plan_from_before_there_was_a_choice_of_parts_keeps_its_pad() {
        let parts = |text: &str| Plan::from_toml(text).map(|plan| plan.pad.parts);
        assert_eq!(parts("model_version = 2\n"), Ok(Parts::Nearest));
        assert_eq!(parts("[pad]\nloss_db = 30\n"), Ok(Parts::Single));
        let now = Plan::default().to_toml();
        assert_eq!(parts(&now), Ok(Parts::Single));
    }

    #[test]
    fn names_are_unique() {
        for (index, key) in KEYS.iter().enumerate() {
            assert!(KEYS[..index].iter().all(|other| other.name != key.name));
        }
    }

    #[test]
    fn exact_and_minimum_input_clear_each_other() {
        let mut plan = Plan::default();
        plan.assign("pad.in_ohms=600").expect("a valid assignment");
        assert_eq!(plan.get(find("pad.in_ohms_min").expect("a key")), None);
        plan.assign("pad.in_ohms_min=5000")
            .expect("a valid assignment");
        assert_eq!(plan.get(find("pad.in_ohms").expect("a key")), None);
    }

    #[test]
    fn errors_name_the_nearest() {
        let error = |text: &str| {
            Plan::default()
                .assign(text)
                .expect_err("an invalid assignment")
                .to_string()
        };
        assert!(error("preamp.gain=40").contains("`preamp.gain_db`"));
        assert!(error("preamp.gain_db=44").contains("the nearest is 46"));
        assert!(error("pad.loss_db=99").contains("the nearest is 80"));
        assert!(error("pad.series=e24").contains("the nearest is E24"));
        assert!(error("pad.loss_db=nan").contains("cannot be nan"));
        assert!(error("pad.loss_db").contains("KEY=VALUE"));
        assert!(error("pad.resistors_ohms=1,2,3,4").contains("the nearest is [1, 2, 3]"));
        assert!(error("pad.resistors_ohms=[0, 5]").contains("the nearest is [0.001, 5]"));
        assert!(error("pad.resistors_ohms=five").contains("up to 3 numbers"));
        assert!(error("return.pad_db=41").contains("the nearest is 40"));
        assert!(error("rig.preamp.in_ohms=50").contains("the nearest is 100"));
    }

    #[test]
    fn an_own_unit_has_its_own_steps_wherever_they_stand_in_a_file() {
        let text = "[preamp]\ngain_db = 38\nattenuator_db = 12\n[rig.preamp]\nkind = \"own\"\n\
                    gain_steps_db = [25, 38, 49]\nattenuator_db = [0, 12]\n";
        let mut plan = Plan::from_toml(text).expect("a plan");
        assert_eq!(
            (plan.preamp.gain, plan.preamp.attenuator),
            (Db(38.0), Db(12.0))
        );
        assert_eq!(Plan::from_toml(&plan.to_toml()), Ok(plan));
        let error = plan.assign("preamp.gain_db=40").expect_err("no step of it");
        let error = error.to_string();
        assert!(
            error.contains("25, 38, 49") && error.contains("the nearest is 38"),
            "{error}"
        );
        plan.assign("rig.preamp.kind=model").expect("a kind");
        // The nearest of ours.
        assert_eq!(
            (plan.preamp.gain, plan.preamp.attenuator),
            (Db(40.0), Db(20.0))
        );
        let mut plan = Plan::default();
        for set in ["rig.preamp.kind=own", "preamp.gain_db=63.5"] {
            plan.assign(set).expect("any gain");
        }
        let choices = Plan::from_toml(&plan.choices_to_toml()).expect("a plan by itself");
        assert_eq!(choices.preamp, plan.preamp);
        // Ours with the same choices has the nearest step.
        let mut ours = Plan::default().with_choices_of(&choices);
        ours.take_unit_steps();
        assert_eq!(ours.preamp.gain, Db(64.0));
        assert!(plan.assign("preamp.attenuator_db=20").is_err());
        assert!(plan.assign("preamp.gain_db=91").is_err());
    }
}
