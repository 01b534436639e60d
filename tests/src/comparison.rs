//! Asking the program for a comparison.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::check::{at, keys, list, number, text};
use crate::run::json_in;

/// The answer of `penstock compare --json` for one source.
#[derive(Debug)]
pub struct Comparison {
    /// Path of the report.
    pub report: PathBuf,
    /// One for each setting.
    pub settings: Vec<Setting>,
}

/// One setting of a [`Comparison`].
#[derive(Debug)]
pub struct Setting {
    /// The whole object.
    pub json: Value,
    /// Path of its full render.
    pub file: PathBuf,
    /// What of the plan it sets, as JSON text.
    pub set: String,
}

impl Comparison {
    /// Runs `penstock compare` with `args` in `dir`.
    ///
    /// # Panics
    /// When it fails, a key is missing or of another type, or a file it names is not there.
    #[track_caller]
    #[must_use]
    pub fn run(dir: &Path, args: &[&str]) -> Self {
        let answer = json_in(dir, &[&["compare"], args].concat());
        keys(&answer, "report source settings");
        let report = dir.join(text(&answer, "report"));
        assert!(report.is_file(), "no report at {}", report.display());
        let folder = report.parent().expect("a file lies in a folder");
        let settings = list(&answer, "settings").iter();
        let settings: Vec<Setting> = settings.map(|s| Setting::read(dir, folder, s)).collect();
        let mut ids: Vec<String> = settings.iter().map(|s| s.json["id"].to_string()).collect();
        let mut files: Vec<&PathBuf> = settings.iter().map(|setting| &setting.file).collect();
        ids.sort();
        ids.dedup();
        files.sort();
        files.dedup();
        assert_eq!(ids.len(), settings.len(), "two settings with one id");
        assert_eq!(files.len(), settings.len(), "two settings with one file");
        Self { report, settings }
    }

    /// Runs it, each of `plan` being a `KEY=VALUE` for the whole comparison.
    #[track_caller]
    #[must_use]
    pub fn with_plan(dir: &Path, args: &[&str], plan: &[&str]) -> Self {
        let sets = plan.iter().flat_map(|set| ["--set", *set]);
        let args: Vec<&str> = args.iter().copied().chain(sets).collect();
        Self::run(dir, &args)
    }

    /// The text of the report.
    ///
    /// # Panics
    /// When it is not UTF-8.
    #[must_use]
    pub fn html(&self) -> String {
        std::fs::read_to_string(&self.report).expect("the report is text")
    }
}

impl Setting {
    #[track_caller]
    fn read(dir: &Path, folder: &Path, json: &Value) -> Self {
        keys(
            json,
            "id set file lufs trim_db peak_dbfs thd_percent h2_db h3_db h4_db h5_db",
        );
        for key in [
            "trim_db",
            "peak_dbfs",
            "thd_percent",
            "h2_db",
            "h3_db",
            "h4_db",
            "h5_db",
        ] {
            let value = at(json, key);
            assert!(value.is_number() || value.is_null(), "{key}: {value}");
        }
        let name = text(json, "file");
        // A path may be meant from where the program ran or from the report beside it.
        let file = [dir, folder]
            .map(|base| base.join(name))
            .into_iter()
            .find(|p| p.is_file());
        let file = file.unwrap_or_else(|| panic!("no file {name} of setting {json}"));
        Self {
            json: json.clone(),
            file,
            set: at(json, "set").to_string(),
        }
    }

    /// A number of it.
    #[track_caller]
    #[must_use]
    pub fn number(&self, key: &str) -> f64 {
        number(&self.json, key)
    }

    /// Path of its render as the text of an argument.
    ///
    /// # Panics
    /// When it is not UTF-8.
    #[must_use]
    pub fn path(&self) -> String {
        self.file
            .to_str()
            .expect("renders have names in UTF-8")
            .to_owned()
    }
}
