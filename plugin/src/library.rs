//! The presets of the window: those that come with the program, and the user's own, plan files in the
//! settings folder. Only choices are taken from a file, never its rig.

use crate::folder::{self, Replace};
use crate::presets::{self, FACTORY};
use penstock_dsp::plan::Plan;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The folder of the user's own presets inside the settings folder.
pub const FOLDER: &str = "presets";
/// A plan is some kilobytes; what is larger is something else.
const MOST_BYTES: u64 = 256 * 1024;
/// Characters of a name.
const LONGEST: usize = 60;
/// Presets of one's own that are shown.
const MOST: usize = 2000;

/// One preset.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// For people; of one's own it is the file's name without ending.
    pub name: String,
    /// What it does; may be empty.
    pub about: String,
    /// Its choices over the default rig, or why the file cannot be read.
    pub plan: Result<Plan, String>,
    /// Whether it comes with the program, and so stays as it is.
    pub factory: bool,
}

impl Entry {
    /// Whether every word of a search is in it, capitals aside.
    #[must_use]
    pub fn matches(&self, search: &str) -> bool {
        let text = format!("{} {}", self.name, self.about).to_lowercase();
        let search = search.to_lowercase();
        search.split_whitespace().all(|word| text.contains(word))
    }
}

/// Why something was not done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// Something of that name is there: only the user may say that it goes.
    Taken(String),
    /// In words.
    Words(String),
}

impl From<String> for Trouble {
    fn from(words: String) -> Self {
        Self::Words(words)
    }
}

impl Trouble {
    /// For people.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Taken(what) => format!("{what} is there already."),
            Self::Words(words) => words.clone(),
        }
    }
}

/// All presets.
#[derive(Clone, Debug, Default)]
pub struct Library {
    folder: Option<PathBuf>,
    entries: Vec<Entry>,
}

impl Library {
    /// Of a settings folder, without which only those of the program are there.
    #[must_use]
    pub fn new(settings: Option<&Path>) -> Self {
        let mut library = Self {
            folder: settings.map(|settings| settings.join(FOLDER)),
            entries: Vec::new(),
        };
        library.refresh();
        library
    }

    /// Those of the program first, then one's own by name.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Where one's own are.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// Looks at the folder anew.
    pub fn refresh(&mut self) {
        self.entries = FACTORY
            .iter()
            .map(|preset| Entry {
                name: preset.name().to_owned(),
                about: preset.about(),
                plan: Ok(preset.plan()),
                factory: true,
            })
            .collect();
        let Some(Ok(files)) = self.folder.as_ref().map(fs::read_dir) else {
            return;
        };
        let paths = files.flatten().map(|file| file.path());
        let mut own: Vec<Entry> = paths
            .filter_map(|path| own_entry(&path))
            .take(MOST)
            .collect();
        own.sort_by_cached_key(|entry| (entry.name.to_lowercase(), entry.name.clone()));
        self.entries.append(&mut own);
    }

    /// Saves a plan's choices under a name.
    ///
    /// # Errors
    /// A name that no file can have, one that is taken, or what the system says.
    pub fn save(&mut self, name: &str, plan: &Plan, replace: Replace) -> Result<String, Trouble> {
        let name = checked(name)?;
        if let Some(there) = self.named(&name) {
            if there.factory {
                let words =
                    format!("\u{201c}{name}\u{201d} comes with the program: choose another name.");
                return Err(words.into());
            }
            // Capitals aside the same, so on some systems the same file.
            if replace == Replace::Never || there.name != name {
                return Err(Trouble::Taken(quoted(&there.name)));
            }
        }
        write(
            &self.file(&name)?,
            &plan.choices_to_toml(),
            replace,
            &quoted(&name),
        )?;
        self.refresh();
        Ok(name)
    }

    /// Gives one of the user's own another name.
    ///
    /// # Errors
    /// As [`Library::save`].
    pub fn rename(&mut self, from: &str, to: &str) -> Result<String, Trouble> {
        let to = checked(to)?;
        if from == to {
            return Ok(to);
        }
        let only_capitals = from.to_lowercase() == to.to_lowercase();
        if let Some(there) = self.named(&to).filter(|_| !only_capitals) {
            return Err(Trouble::Taken(quoted(&there.name)));
        }
        let (old, new) = (self.file(from)?, self.file(&to)?);
        // One may have been put there since the folder was looked at.
        if !only_capitals && fs::symlink_metadata(&new).is_ok() {
            return Err(Trouble::Taken(quoted(&to)));
        }
        fs::rename(&old, &new).map_err(|error| failed(&old, "renamed", &error))?;
        self.refresh();
        Ok(to)
    }

    /// Deletes one of the user's own, who was asked.
    ///
    /// # Errors
    /// What the system says.
    pub fn delete(&mut self, name: &str) -> Result<(), Trouble> {
        let path = self.file(name)?;
        fs::remove_file(&path).map_err(|error| failed(&path, "deleted", &error))?;
        self.refresh();
        Ok(())
    }

    /// Takes the choices of a plan file as a preset of one's own, under the file's name.
    ///
    /// # Errors
    /// A path that leads to no plan, or as [`Library::save`].
    pub fn import(&mut self, typed: &str, replace: Replace) -> Result<String, Trouble> {
        let path = path_of(typed)?;
        let plan = read(&path)?;
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        self.save(&name, &plan, replace)
    }

    /// Writes a whole plan, rig included, for the program. Returns where.
    ///
    /// # Errors
    /// A path that is none, one that is taken, or what the system says.
    pub fn export(&self, typed: &str, plan: &Plan, replace: Replace) -> Result<PathBuf, Trouble> {
        let mut path = path_of(typed)?;
        if !is_plan_file(&path) {
            let mut name = path.file_name().unwrap_or_default().to_owned();
            name.push(".toml");
            path.set_file_name(name);
        }
        // A whole new tree of folders is rather a slip of the keys.
        if let Some(folder) = path.parent().filter(|folder| !folder.is_dir()) {
            return Err(format!("There is no folder {}.", folder.display()).into());
        }
        write(&path, &plan.to_toml(), replace, &path.display().to_string())?;
        Ok(path)
    }

    fn named(&self, name: &str) -> Option<&Entry> {
        let name = name.to_lowercase();
        let mut entries = self.entries.iter();
        entries.find(|entry| entry.name.to_lowercase() == name)
    }

    fn file(&self, name: &str) -> Result<PathBuf, Trouble> {
        let folder = self
            .folder
            .as_ref()
            .ok_or_else(|| "No folder for settings is known here: HOME is not set.".to_owned())?;
        Ok(folder.join(format!("{name}.toml")))
    }
}

fn own_entry(path: &Path) -> Option<Entry> {
    let name = path.file_stem()?.to_string_lossy().into_owned();
    if !is_plan_file(path) || name.starts_with('.') || path.is_dir() {
        return None;
    }
    let read = read_text(path);
    let about = read.as_deref().map_or_else(
        |_| String::new(),
        |text| presets::comments(text).collect::<Vec<_>>().join(" "),
    );
    let plan = read.and_then(|text| parsed(path, &text));
    Some(Entry {
        name,
        about,
        plan: plan.map_err(|trouble| trouble.words()),
        factory: false,
    })
}

fn is_plan_file(path: &Path) -> bool {
    let ending = path.extension();
    ending.is_some_and(|ending| ending.eq_ignore_ascii_case("toml"))
}

/// A plan's choices over the default rig.
fn read(path: &Path) -> Result<Plan, Trouble> {
    parsed(path, &read_text(path)?)
}

fn parsed(path: &Path, text: &str) -> Result<Plan, Trouble> {
    let plan =
        Plan::from_toml(text).map_err(|error| format!("{} is no plan: {error}", path.display()))?;
    Ok(Plan::default().with_choices_of(&plan))
}

fn read_text(path: &Path) -> Result<String, Trouble> {
    let unread = |error| failed(path, "read", &error);
    let about = fs::metadata(path).map_err(unread)?;
    if !about.is_file() || about.len() > MOST_BYTES {
        return Err(format!("{} is no plan file.", path.display()).into());
    }
    fs::read_to_string(path).map_err(unread)
}

fn write(path: &Path, text: &str, replace: Replace, what: &str) -> Result<(), Trouble> {
    folder::write(path, text, replace).map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists if replace == Replace::Never => Trouble::Taken(what.to_owned()),
        _ => failed(path, "written", &error),
    })
}

fn failed(path: &Path, verb: &str, error: &std::io::Error) -> Trouble {
    Trouble::Words(format!("{} was not {verb}: {error}", path.display()))
}

fn quoted(name: &str) -> String {
    format!("\u{201c}{name}\u{201d}")
}

/// A name that every file system takes.
fn checked(name: &str) -> Result<String, Trouble> {
    let name = name.trim();
    let count = name.chars().count();
    let refuse = |words: &str| Err(Trouble::Words(words.to_owned()));
    if count == 0 {
        return refuse("Give it a name.");
    }
    if count > LONGEST {
        return Err(format!("A name has at most {LONGEST} characters; this has {count}.").into());
    }
    let bad = |c: char| c.is_control() || "/\\:*?\"<>|".contains(c);
    if let Some(c) = name.chars().find(|c| bad(*c)) {
        return Err(format!("A name cannot hold {c:?}, for it is a file's name too.").into());
    }
    if name.starts_with('.') || name.ends_with('.') {
        return refuse("A name cannot begin or end with a dot, for it is a file's name too.");
    }
    if is_device(name) {
        let words = format!(
            "{} is a device on Windows: choose another name.",
            quoted(name)
        );
        return Err(words.into());
    }
    Ok(name.to_owned())
}

/// Names of devices, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default();
    let stem = stem.trim().to_lowercase();
    let port = stem.strip_prefix("com").or(stem.strip_prefix("lpt"));
    let numbered = port.is_some_and(|n| n.len() == 1 && n.chars().all(|c| c.is_ascii_digit()));
    numbered || matches!(stem.as_str(), "con" | "prn" | "aux" | "nul")
}

/// A typed path: whole, or from the home folder with `~`.
fn path_of(typed: &str) -> Result<PathBuf, Trouble> {
    let typed = typed.trim().trim_matches('"');
    let path = match typed.strip_prefix("~/").or(typed.strip_prefix("~\\")) {
        Some(rest) => folder::home_folder().map(|home| home.join(rest)),
        None => Some(PathBuf::from(typed)),
    };
    match path.filter(|path| path.has_root() && path.file_name().is_some()) {
        Some(path) => Ok(path),
        None => Err(Trouble::Words(
            "Type the whole path of the file, or one that begins with ~/ for your home folder."
                .to_owned(),
        )),
    }
}

#[cfg(test)]
mod tests;
