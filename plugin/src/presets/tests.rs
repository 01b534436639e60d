//! Every preset loads, leaves the rig alone and can be built. That each sounds different from every
//! other is held by the tests of the program (`presets.rs`).

use super::*;
use penstock_dsp::chain::build_nearest;
use penstock_dsp::plan::KEYS;
use std::collections::BTreeSet;
use std::path::Path;

#[test]
fn each_loads_and_names_only_choices() {
    for preset in FACTORY {
        let plan = Plan::from_toml(preset.toml).unwrap_or_else(|error| {
            panic!("{}: {error}", preset.id);
        });
        assert_eq!(plan, preset.plan());
        assert_eq!(plan.rig, Plan::default().rig, "{}", preset.id);
        let table = keys(preset.toml);
        for key in &table {
            let known = KEYS.iter().find(|known| known.name == key);
            let known = known.unwrap_or_else(|| panic!("{}: {key}", preset.id));
            assert!(!known.is_of_the_rig(), "{}: {key}", preset.id);
        }
        assert!(!table.is_empty(), "{}", preset.id);
        let (_, error) = build_nearest(&plan);
        assert!(error.is_none(), "{}: {error:?}", preset.id);
    }
}

/// The keys a file names, read by hand: the plan's own reader would hide one that changes nothing.
fn keys(text: &str) -> Vec<String> {
    let mut section = String::new();
    let mut keys = Vec::new();
    for line in text.lines().map(str::trim) {
        if let Some(name) = line.strip_prefix('[').and_then(|l| l.strip_suffix(']')) {
            section = format!("{name}.");
        } else if let Some((name, _)) = line.split_once('=').filter(|_| !line.starts_with('#')) {
            keys.push(format!("{section}{}", name.trim()));
        }
    }
    keys
}

#[test]
fn each_has_a_name_of_its_own_and_says_what_it_does() {
    let names: BTreeSet<String> = FACTORY.iter().map(|p| p.name().to_lowercase()).collect();
    let ids: BTreeSet<&str> = FACTORY.iter().map(|preset| preset.id).collect();
    assert_eq!((names.len(), ids.len()), (FACTORY.len(), FACTORY.len()));
    for preset in FACTORY {
        assert!(preset.name().len() <= 32, "{}", preset.name());
        assert!(preset.about().ends_with('.'), "{}", preset.id);
        assert!(preset.about().len() > 60, "{}", preset.about());
        assert_eq!(find(preset.id), Some(preset));
        assert_eq!(find(&preset.name().to_uppercase()), Some(preset));
    }
    assert_eq!(find("no such"), None);
}

/// No file lies there unlisted.
#[test]
fn every_file_is_listed() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/presets");
    let files = std::fs::read_dir(folder).unwrap();
    let files: BTreeSet<String> = files
        .map(|file| file.unwrap().file_name().to_string_lossy().into_owned())
        .filter_map(|name| name.strip_suffix(".toml").map(str::to_owned))
        .collect();
    let listed: BTreeSet<String> = FACTORY.iter().map(|p| p.id.to_owned()).collect();
    assert_eq!(files, listed);
}
