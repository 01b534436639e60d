//! Gathers what is linked into a library, from cargo's own tree and the packages' unpacked source.

use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use super::build::{self, Order};
use super::notices::Part;
use super::place;
use crate::workspace::Workspace;

/// How the names of texts of licences start, in capitals.
const TEXTS: &[&str] = &[
    "LICENSE",
    "LICENCE",
    "COPYING",
    "COPYRIGHT",
    "NOTICE",
    "UNLICENSE",
];
/// Endings of files that are no such text even if they are called so.
const NO_TEXTS: &[&str] = &[
    "rs", "toml", "json", "yml", "yaml", "html", "py", "sh", "c", "h",
];
/// Endings of font files.
const FONTS: &[&str] = &["ttf", "otf", "ttc", "woff", "woff2"];
/// Folders of a package that its users do not build.
const UNUSED: &[&str] = &["tests", "benches", "examples"];

/// Every package that the library of this order holds, ours left out, and the standard library.
pub fn linked(workspace: &Workspace, order: &Order, triple: &str) -> Result<Vec<Part>, String> {
    let tree = linked_names(workspace, order, triple)?;
    let described = described(workspace, triple)?;
    let mut parts = vec![standard_library()?];
    for (name, version) in tree {
        let package = described
            .iter()
            .find(|package| package["name"] == *name && package["version"] == *version)
            .ok_or_else(|| format!("cargo metadata does not describe {name} {version}"))?;
        // Only our own packages come from nowhere.
        if !package["source"].is_null() {
            parts.push(part(package)?);
        }
    }
    for part in &mut parts {
        part.complete()?;
    }
    Ok(parts)
}

/// Name and version of each package that is linked.
fn linked_names(
    workspace: &Workspace,
    order: &Order,
    triple: &str,
) -> Result<Vec<(String, String)>, String> {
    let mut tree = workspace.cargo(["tree", "--package", "penstock", "--target", triple]);
    tree.args(["--no-default-features", "--features", order.features()])
        .args(["--edges", "normal,no-proc-macro"])
        .args(["--prefix", "none", "--format", "{p}"]);
    let text = answer(&mut tree)?;
    let mut names: Vec<(String, String)> = text
        .lines()
        .filter_map(|line| {
            let mut words = line.split_whitespace();
            let (name, version) = (words.next()?, words.next()?);
            Some((name.to_owned(), version.trim_start_matches('v').to_owned()))
        })
        .collect();
    names.sort();
    names.dedup();
    Ok(names)
}

/// All packages of the workspace and of what it stands on, for one target.
fn described(workspace: &Workspace, triple: &str) -> Result<Vec<Value>, String> {
    let mut metadata = workspace.cargo(["metadata", "--format-version", "1"]);
    // Features only decide how many are described; which of them are linked, the tree says.
    metadata.args(["--all-features", "--filter-platform", triple]);
    let metadata: Value = serde_json::from_str(&answer(&mut metadata)?)
        .map_err(|error| format!("cargo metadata answered no JSON: {error}"))?;
    Ok(metadata["packages"].as_array().cloned().unwrap_or_default())
}

fn answer(command: &mut Command) -> Result<String, String> {
    let line = crate::tools::command_line(command);
    let output = command
        .output()
        .map_err(|error| format!("'{line}' could not be started: {error}"))?;
    if !output.status.success() {
        let words = String::from_utf8_lossy(&output.stderr);
        return Err(format!("'{line}' failed: {}", words.trim()));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

fn part(package: &Value) -> Result<Part, String> {
    let word = |key: &str| package[key].as_str().unwrap_or_default().to_owned();
    let manifest = word("manifest_path");
    let folder = Path::new(&manifest).parent().unwrap_or(Path::new(""));
    let mut part = Part {
        name: word("name"),
        version: word("version"),
        licence: word("license"),
        home: word("repository"),
        ..Part::default()
    };
    let authors = package["authors"].as_array().into_iter().flatten();
    let authors: Vec<&str> = authors.filter_map(Value::as_str).collect();
    part.by = authors.join(", ");
    let own_text = word("license_file");
    for path in place::files(folder)? {
        let inside = path.strip_prefix(folder).unwrap_or(&path);
        let name = inside.to_string_lossy().replace('\\', "/");
        if inside
            .iter()
            .any(|part| UNUSED.iter().any(|unused| part == *unused))
        {
            continue;
        }
        if ends_with(inside, FONTS) {
            part.fonts.push(name);
        } else if (is_text(inside) || name == own_text || is_beside_a_font(&path))
            && let Ok(text) = fs::read_to_string(&path)
        {
            part.texts.push((name, text));
        }
    }
    if part.licence.is_empty() {
        part.licence = format!("as its file says: {own_text}");
    }
    Ok(part)
}

fn ends_with(path: &Path, endings: &[&str]) -> bool {
    path.extension()
        .is_some_and(|end| endings.iter().any(|known| end.eq_ignore_ascii_case(known)))
}

fn is_text(path: &Path) -> bool {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .to_uppercase();
    TEXTS.iter().any(|start| name.starts_with(start)) && !ends_with(path, NO_TEXTS)
}

/// Fonts keep their licences beside them, by names of their own.
fn is_beside_a_font(path: &Path) -> bool {
    let folder = path.parent().and_then(|folder| fs::read_dir(folder).ok());
    ends_with(path, &["txt"])
        && folder
            .into_iter()
            .flatten()
            .flatten()
            .any(|entry| ends_with(&entry.path(), FONTS))
}

/// The standard library, with the notices that come with the compiler, when they do.
fn standard_library() -> Result<Part, String> {
    let mut sysroot = build::rustc();
    let sysroot = answer(sysroot.args(["--print", "sysroot"]))?;
    let notices = Path::new(sysroot.trim()).join("share/doc/rust/COPYRIGHT-library.html");
    let texts = fs::read_to_string(notices).map_or_else(
        |_| Vec::new(),
        |page| vec![("COPYRIGHT-library".to_owned(), without_tags(&page))],
    );
    Ok(Part {
        name: "Rust standard library".to_owned(),
        version: build::rustc_says("release: ")?,
        licence: "MIT OR Apache-2.0".to_owned(),
        by: "The Rust Project Developers".to_owned(),
        home: "https://github.com/rust-lang/rust".to_owned(),
        fonts: Vec::new(),
        texts,
    })
}

/// A page's words: no tags, no leading blanks, at most one empty line in a row.
fn without_tags(page: &str) -> String {
    let mut words = String::with_capacity(page.len());
    let mut rest = page;
    while let Some((before, after)) = rest.split_once('<') {
        words.push_str(before);
        rest = after.split_once('>').map_or("", |(_, rest)| rest);
    }
    words.push_str(rest);
    for (entity, character) in [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#34;", "\""),
        ("&#39;", "'"),
        ("&#x27;", "'"),
        ("&#x2f;", "/"),
        // Last, lest it make entities of what is none.
        ("&amp;", "&"),
    ] {
        words = words.replace(entity, character);
    }
    let mut out = String::with_capacity(words.len());
    for line in words.lines().map(str::trim) {
        if !(line.is_empty() && (out.is_empty() || out.ends_with("\n\n"))) {
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bundle::notices;

    #[test]
    fn a_page_becomes_its_words() {
        let page = "<html>\n\n\n<p class=\"a\">One &lt;b&gt; &amp;lt;</p>\n\n\n\n  two\n</html>";
        assert_eq!(without_tags(page), "One <b> &lt;\n\ntwo\n");
        assert_eq!(without_tags("a < b"), "a\n");
    }

    #[test]
    fn texts_are_told_from_code_by_their_names() {
        for name in [
            "LICENSE",
            "license-mit.md",
            "COPYING.txt",
            "NOTICE",
            "LICENSE-APACHE-2.0",
        ] {
            assert!(is_text(Path::new(name)), "{name}");
        }
        for name in ["license.rs", "README.md", "Cargo.toml", "notice.html"] {
            assert!(!is_text(Path::new(name)), "{name}");
        }
    }

    /// The real list, as it goes into the bundle: every font is named, every text of a font is whole,
    /// no part is without a text.
    #[test]
    fn the_window_brings_fonts_and_each_is_named_with_its_text() {
        let workspace = Workspace::find().expect("a workspace");
        let order = Order::default();
        let host = build::Target::of(&order).expect("a known host");
        let parts = linked(&workspace, &order, &host.triple).expect("parts");
        let file = notices::file("Title", &parts);
        assert!(parts.len() > 50, "{} parts only", parts.len());
        for part in &parts {
            assert!(!part.texts.is_empty(), "{} has no text", part.name);
            assert!(file.contains(&format!("\n{} {}\n", part.name, part.version)));
        }
        let packages = described(&workspace, &host.triple).expect("packages");
        let fonts = packages
            .iter()
            .find(|package| package["name"] == "epaint_default_fonts")
            .and_then(|package| package["manifest_path"].as_str())
            .expect("the fonts' package");
        let folder = Path::new(fonts).with_file_name("fonts");
        let (mut named, mut whole) = (0, 0);
        for path in place::files(&folder).expect("readable") {
            let name = path
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned();
            if ends_with(&path, FONTS) {
                assert!(
                    file.contains(&format!("fonts/{name}")),
                    "{name} is not named"
                );
                named += 1;
            } else {
                let text = fs::read_to_string(&path).expect("a text");
                for line in text.lines() {
                    assert!(file.contains(line.trim_end()), "{name} lacks: {line}");
                }
                whole += 1;
            }
        }
        assert!(named >= 3 && whole >= 3, "{named} fonts, {whole} texts");
    }

    #[test]
    fn a_build_without_the_window_would_list_less() {
        let workspace = Workspace::find().expect("a workspace");
        let order = Order {
            trap: true,
            target: None,
        };
        let host = build::Target::of(&order).expect("a known host").triple;
        let names = linked_names(&workspace, &order, &host).expect("names");
        let has = |wanted: &str| names.iter().any(|(name, _)| name == wanted);
        // The trap's own allocator is linked, what the program alone needs is not.
        assert!(has("nice-assert-no-alloc") && has("egui"), "{names:?}");
        assert!(
            !has("clap") && !has("symphonia") && !has("syn"),
            "{names:?}"
        );
    }
}
