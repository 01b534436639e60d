//! The rig that new instances start from: a plan file of `[rig]` alone in the user's settings, so that
//! `penstock --plan` takes it too. A project's own state always wins over it.

use crate::folder::{self, Replace};
use penstock_dsp::plan::{Plan, Rig};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The file's name.
pub const NAME: &str = "rig.toml";

const HEAD: &str = "# The rig that new instances of Penstock start from. It is a plan file:\n\
                    # penstock levels --level-dbfs -18 --plan THIS_FILE\n";

/// What the file says.
#[derive(Clone, Debug, PartialEq)]
pub enum Remembered {
    /// There is none: nobody was asked yet.
    Nothing,
    /// These facts.
    Rig(Box<Rig>),
    /// It cannot be read; why, in words with its path.
    Damaged(String),
}

/// Reads the file of a settings folder.
#[must_use]
pub fn load(folder: Option<&Path>) -> Remembered {
    let Some(path) = folder.map(|folder| folder.join(NAME)) else {
        return Remembered::Nothing;
    };
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Remembered::Nothing,
        Err(error) => return Remembered::Damaged(format!("{}: {error}", path.display())),
    };
    match Plan::from_toml(&text) {
        Ok(plan) => Remembered::Rig(Box::new(plan.rig)),
        Err(error) => Remembered::Damaged(format!("{}: {error}", path.display())),
    }
}

/// Writes the file. One that could not be read is set aside first, never lost; where it is now is
/// returned.
///
/// # Errors
/// In words: no settings folder, or what the system says. The file is then as it was before.
pub fn save(folder: Option<&Path>, plan: &Plan) -> Result<Option<PathBuf>, String> {
    let folder = folder.ok_or("no folder for settings is known here: HOME is not set")?;
    let path = folder.join(NAME);
    let failed = |error| format!("{} was not written: {error}", path.display());
    let kept = match load(Some(folder)) {
        Remembered::Damaged(_) => Some(folder::set_aside(&path, "damaged").map_err(failed)?),
        Remembered::Nothing | Remembered::Rig(_) => None,
    };
    let text = format!("{HEAD}{}", plan.rig_to_toml());
    folder::write(&path, &text, Replace::Asked).map_err(failed)?;
    Ok(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::scratch::Scratch;

    fn plan(set: &str) -> Plan {
        let mut plan = Plan::default();
        plan.assign(set).unwrap();
        plan
    }

    #[test]
    fn what_is_saved_is_remembered_and_nothing_else() {
        let scratch = Scratch::new();
        let folder = Some(scratch.path());
        assert_eq!(load(folder), Remembered::Nothing);
        assert_eq!(load(None), Remembered::Nothing);
        let mut mine = plan("rig.send.full_scale_dbu=18");
        mine.assign("pad.loss_db=12").unwrap();
        assert_eq!(save(folder, &mine), Ok(None));
        assert_eq!(load(folder), Remembered::Rig(Box::new(mine.rig)));
        let text = fs::read_to_string(scratch.path().join(NAME)).unwrap();
        assert!(!text.contains("loss_db"), "{text}");
        // Again, over the first.
        let other = plan("rig.return.in_ohms=600");
        assert_eq!(save(folder, &other), Ok(None));
        assert_eq!(load(folder), Remembered::Rig(Box::new(other.rig)));
        assert_eq!(scratch.names(), [NAME]);
        assert!(save(None, &other).is_err());
    }

    #[test]
    fn a_damaged_file_is_said_and_kept() {
        for damaged in ["[rig", "[rig.send]\nfull_scale_dbu = 99\n", "tubes = 3\n"] {
            let scratch = Scratch::new();
            let folder = Some(scratch.path());
            let path = scratch.path().join(NAME);
            fs::write(&path, damaged).unwrap();
            let Remembered::Damaged(words) = load(folder) else {
                panic!("{damaged} was read");
            };
            assert!(words.contains("rig.toml"), "{words}");
            let kept = save(folder, &Plan::default()).unwrap().unwrap();
            assert_eq!(fs::read_to_string(kept).unwrap(), damaged);
            assert_eq!(load(folder), Remembered::Rig(Box::new(Plan::default().rig)));
            assert_eq!(scratch.names(), ["rig-damaged.toml", NAME]);
        }
    }
}
