//! The rooms of the project: which there are, and which may know of which.

use std::collections::BTreeSet;

use serde_json::Value;

use super::masked::Masked;
use super::{Finding, line_of};

/// All that the top level holds, beside dot-files.
const TOP_LEVEL: &[&str] = &[
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "bundles",
    "dsp",
    "plugin",
    "tests",
    "xtask",
];
/// What the signal code may stand on: nothing that opens files, windows, devices or connections. A
/// newcomer to this list is argued for in the change that adds it.
const DSP_MAY_USE: &[&str] = &["ebur128", "realfft", "serde", "serde_json", "toml"];
/// The same for xtask, which everyone waits for before anything else happens.
const XTASK_MAY_USE: &[&str] = &["libloading", "serde_json"];
/// Modules of the standard library that are closed to the signal code.
const CLOSED_TO_DSP: &[&str] = &["fs", "net", "process"];

/// Checks that the top level holds the agreed rooms, all of them and nothing else.
pub fn top_level(paths: &BTreeSet<String>) -> Vec<Finding> {
    let entries: BTreeSet<&str> = paths
        .iter()
        .filter_map(|path| path.split('/').next())
        .collect();
    let strangers = entries
        .iter()
        .filter(|entry| !entry.starts_with('.') && !TOP_LEVEL.contains(entry))
        .map(|entry| Finding::new(entry, 1, "is no agreed part of the top level"));
    let absent = TOP_LEVEL
        .iter()
        .filter(|entry| !entries.contains(*entry))
        .map(|entry| Finding::new(entry, 1, "is missing from the top level"));
    strangers.chain(absent).collect()
}

/// Checks what the closed rooms depend on, as `cargo metadata` lists the packages.
pub fn dependencies(packages: &[Value]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (package, room, allowed) in [
        ("penstock-dsp", "dsp", DSP_MAY_USE),
        ("xtask", "xtask", XTASK_MAY_USE),
    ] {
        let manifest = format!("{room}/Cargo.toml");
        let Some(found) = packages
            .iter()
            .find(|candidate| candidate["name"] == package)
        else {
            findings.push(Finding::new(
                &manifest,
                1,
                format!("holds no package '{package}'"),
            ));
            continue;
        };
        // What only tests use ("dev") never reaches a user.
        let used = found["dependencies"].as_array().into_iter().flatten();
        let used = used.filter(|dependency| dependency["kind"] != "dev");
        for name in used.filter_map(|dependency| dependency["name"].as_str()) {
            if !allowed.contains(&name) {
                let list = allowed.join(", ");
                let what = format!("{room} may not depend on '{name}', only on {list}");
                findings.push(Finding::new(&manifest, 1, what));
            }
        }
    }
    findings
}

/// Checks that signal code does not reach for the modules closed to it.
pub fn closed_modules(path: &str, masked: &Masked) -> Vec<Finding> {
    if !path.starts_with("dsp/src/") {
        return Vec::new();
    }
    let code = &masked.code;
    let mut findings = Vec::new();
    for (at, prefix) in code.match_indices("std::") {
        for name in first_names(&code[at + prefix.len()..]) {
            if CLOSED_TO_DSP.contains(&name) {
                let what = format!("signal code may not use std::{name}");
                findings.push(Finding::new(path, line_of(code, at), what));
            }
        }
    }
    findings
}

/// The names that directly follow `std::`: one, or the first of each branch of a group in braces.
fn first_names(rest: &str) -> Vec<&str> {
    let rest = rest.trim_start();
    let Some(group) = rest.strip_prefix('{') else {
        return vec![word(rest)];
    };
    let mut names = vec![word(group)];
    let mut depth = 1;
    for (at, byte) in group.bytes().enumerate() {
        match byte {
            b'{' => depth += 1,
            b'}' => depth -= 1,
            b',' if depth == 1 => names.push(word(&group[at + 1..])),
            _ => {}
        }
        if depth == 0 {
            break;
        }
    }
    names
}

/// The identifier at the start.
fn word(text: &str) -> &str {
    let text = text.trim_start();
    let end = text.find(|c: char| !(c.is_alphanumeric() || c == '_'));
    &text[..end.unwrap_or(text.len())]
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn strangers_and_gaps_at_the_top_are_caught() {
        let whole = || {
            TOP_LEVEL
                .iter()
                .map(|entry| (*entry).to_owned())
                .collect::<BTreeSet<_>>()
        };
        let mut paths = whole();
        paths.extend([
            ".gitignore".to_owned(),
            ".ci/run".to_owned(),
            "dsp/src/lib.rs".to_owned(),
        ]);
        assert_eq!(top_level(&paths), []);
        paths.insert("scripts/x.py".to_owned());
        assert_eq!(top_level(&paths)[0].path, "scripts");
        let mut paths = whole();
        paths.remove("LICENSE");
        assert_eq!(top_level(&paths)[0].path, "LICENSE");
    }

    #[test]
    fn a_dependency_that_is_not_allowed_is_caught() {
        let package = |name: &str, used: Value| json!({ "name": name, "dependencies": used });
        let with = |used: Value| {
            let packages = [package("penstock-dsp", used), package("xtask", json!([]))];
            dependencies(&packages).len()
        };
        assert_eq!(with(json!([{ "name": "realfft", "kind": null }])), 0);
        assert_eq!(with(json!([{ "name": "hound", "kind": "dev" }])), 0);
        assert_eq!(with(json!([{ "name": "hound", "kind": null }])), 1);
        assert_eq!(with(json!([{ "name": "cc", "kind": "build" }])), 1);
        assert_eq!(with(json!([{ "name": "penstock", "kind": null }])), 1);
        assert_eq!(dependencies(&[]).len(), 2);
    }

    #[test]
    fn closed_modules_are_caught_in_signal_code_only() {
        let count = |path: &str, text: &str| closed_modules(path, &Masked::new(text)).len();
        for text in [
            "use std::fs;\n",
            "use std::fs::File;\n",
            "use std::{f64::consts::PI, fs::{self, File}};\n",
            "use std::{\n    net,\n    sync,\n};\n",
            "fn f() { ::std::net::TcpStream::connect(a); }\n",
        ] {
            assert_eq!(count("dsp/src/a.rs", text), 1, "{text:?} passed");
            assert_eq!(count("plugin/src/a.rs", text), 0);
        }
        for text in [
            "use std::f64::consts::PI;\n",
            "use std::{fmt, sync::{fs, Arc}};\n",
            "// std::fs is closed\nlet s = \"std::fs\";\n",
        ] {
            assert_eq!(count("dsp/src/a.rs", text), 0, "{text:?} was caught");
        }
    }
}
