//! Presets: saved choices for a scenario. What comes with the program are plan files beside this one,
//! written without a rig, since presets never change facts of the studio.

use penstock_dsp::plan::Plan;

/// A preset that comes with the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Factory {
    /// Its file's name without ending, by which the program takes it.
    pub id: &'static str,
    /// A plan file. Its first line, a comment, is the name for people; the comments after it say what it
    /// does.
    pub toml: &'static str,
}

macro_rules! factory {
    ($id:literal) => {
        Factory {
            id: $id,
            toml: include_str!(concat!($id, ".toml")),
        }
    };
}

/// All of them, in the order shown.
pub const FACTORY: &[Factory] = &[
    factory!("bus-light"),
    factory!("bus-medium"),
    factory!("bus-strong"),
    factory!("mono-transfer-light"),
    factory!("mono-transfer-medium"),
    factory!("mono-transfer-strong"),
    factory!("drums-rounded"),
    factory!("drums-weight"),
    factory!("speech-close"),
    factory!("parallel-send"),
];

impl Factory {
    /// The name for people.
    #[must_use]
    pub fn name(&self) -> &'static str {
        comments(self.toml).next().unwrap_or(self.id)
    }

    /// What it does.
    #[must_use]
    pub fn about(&self) -> String {
        let lines: Vec<&str> = comments(self.toml).skip(1).collect();
        lines.join(" ")
    }

    /// Its choices over the default rig. A test reads every one.
    #[must_use]
    pub fn plan(&self) -> Plan {
        Plan::from_toml(self.toml).unwrap_or_default()
    }
}

/// The comments before a plan's first key, without their sign.
pub fn comments(toml: &str) -> impl Iterator<Item = &str> {
    toml.lines()
        .map_while(|line| line.trim().strip_prefix('#'))
        .map(str::trim)
}

/// The preset of this id, or of this name.
#[must_use]
pub fn find(word: &str) -> Option<&'static Factory> {
    let word = word.trim();
    FACTORY.iter().find(|preset| {
        preset.id.eq_ignore_ascii_case(word) || preset.name().eq_ignore_ascii_case(word)
    })
}

/// Every id, for people.
#[must_use]
pub fn ids() -> String {
    let ids: Vec<&str> = FACTORY.iter().map(|preset| preset.id).collect();
    ids.join(", ")
}

/// The presets as a table for the README.
#[must_use]
pub fn markdown() -> String {
    let mut text = "| `--preset` | name | what it does |\n|---|---|---|\n".to_owned();
    for preset in FACTORY {
        let (id, name, about) = (preset.id, preset.name(), preset.about());
        text.push_str(&format!("| `{id}` | {name} | {about} |\n"));
    }
    text
}

#[cfg(test)]
mod tests;
