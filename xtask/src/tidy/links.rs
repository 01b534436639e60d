//! Links and pictures in the documents lead somewhere: to files of the project, to headings there.

use super::tree::{File, Tree};
use super::{Finding, line_of};

/// Checks every local link of one Markdown document.
pub fn check(tree: &Tree, document: &File) -> Vec<Finding> {
    let text = without_code(&document.text);
    targets(&text)
        .into_iter()
        .filter_map(|(at, target)| {
            let what = broken(tree, &document.path, target)?;
            Some(Finding::new(&document.path, line_of(&text, at), what))
        })
        .collect()
}

/// What is wrong with a link's target; None when nothing is, or when it leads out of the project.
fn broken(tree: &Tree, document: &str, target: &str) -> Option<String> {
    if target.contains("://") || target.starts_with("mailto:") {
        return None;
    }
    let (path, anchor) = target.split_once('#').unwrap_or((target, ""));
    let path = path.replace("%20", " ");
    if path.starts_with('/') {
        return Some(format!(
            "the link '{target}' is absolute; link from the document's folder"
        ));
    }
    let path = if path.is_empty() {
        Some(document.to_owned())
    } else {
        joined(document, &path)
    };
    let Some(path) = path.filter(|path| tree.holds(path)) else {
        return Some(format!(
            "the link '{target}' leads to no file of the project"
        ));
    };
    if anchor.is_empty() || !path.ends_with(".md") {
        return None;
    }
    let headings = anchors(tree.text(&path).unwrap_or_default());
    (!headings.iter().any(|heading| heading == anchor))
        .then(|| format!("the link '{target}' leads to no heading of {path}"))
}

/// The path from the root of what a document names relative to itself; None above the root.
fn joined(document: &str, relative: &str) -> Option<String> {
    let folder = document.rsplit_once('/').map_or("", |(folder, _)| folder);
    let mut parts: Vec<&str> = folder.split('/').filter(|part| !part.is_empty()).collect();
    for part in relative.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            name => parts.push(name),
        }
    }
    Some(parts.join("/"))
}

/// Every link's target with its place: `](target)`, `[label]: target`, `src="target"`, `href="…"`.
fn targets(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    for (opening, closing) in [("](", ')'), ("src=\"", '"'), ("href=\"", '"')] {
        for (at, _) in text.match_indices(opening) {
            let rest = &text[at + opening.len()..];
            let inside = &rest[..rest.find(closing).unwrap_or(rest.len())];
            found.push((at, target(inside)));
        }
    }
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.starts_with('[')
            && let Some((_, rest)) = line.split_once("]: ")
        {
            found.push((at, target(rest)));
        }
        at += line.len();
    }
    found
}

/// A target without its title and angle brackets.
fn target(inside: &str) -> &str {
    let inside = inside.trim();
    match inside
        .strip_prefix('<')
        .and_then(|rest| rest.split_once('>'))
    {
        Some((target, _)) => target,
        None => inside.split_whitespace().next().unwrap_or(""),
    }
}

/// The text with code blanked, fenced or in the line, places kept.
fn without_code(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut fenced = false;
    for line in text.split_inclusive('\n') {
        let is_fence = ["```", "~~~"]
            .iter()
            .any(|fence| line.trim_start().starts_with(fence));
        fenced ^= is_fence;
        let mut code = fenced || is_fence;
        for c in line.chars() {
            if c == '`' && !fenced && !is_fence {
                code = !code;
            }
            match c {
                '\n' => out.push('\n'),
                _ if code => out.push_str(&" ".repeat(c.len_utf8())),
                _ => out.push(c),
            }
        }
    }
    out
}

/// The anchors that the headings of a document get: lower case, blanks to hyphens, punctuation
/// dropped, a number after the second of the same name.
fn anchors(text: &str) -> Vec<String> {
    let mut anchors: Vec<String> = Vec::new();
    let mut fenced = false;
    for line in text.lines() {
        fenced ^= line.trim_start().starts_with("```");
        let words = line.trim_start_matches('#');
        if fenced || words.len() == line.len() || !words.starts_with(' ') {
            continue;
        }
        let keep = |c: &char| c.is_alphanumeric() || " -_".contains(*c);
        let words = words.trim().to_lowercase();
        let plain: String = words
            .chars()
            .filter(keep)
            .map(|c| if c == ' ' { '-' } else { c })
            .collect();
        let numbered = (1..).map(|n| format!("{plain}-{n}"));
        let free = std::iter::once(plain.clone())
            .chain(numbered)
            .find(|anchor| !anchors.contains(anchor));
        anchors.extend(free);
    }
    anchors
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tree() -> Tree {
        let file = |path: &str, text: &str| File {
            path: path.to_owned(),
            text: text.to_owned(),
        };
        let files = vec![
            file(
                "README.md",
                "# Top\n## What's new?\n## What's new?\n```\n# no heading\n```\n",
            ),
            file("dsp/src/lib.rs", "//! Sample.\n"),
            file("bundles/README.md", "# Bundles\n"),
        ];
        let mut paths: std::collections::BTreeSet<String> =
            files.iter().map(|file| file.path.clone()).collect();
        paths.insert(".pictures/report.png".to_owned());
        Tree { paths, files }
    }

    fn lines(path: &str, text: &str) -> Vec<usize> {
        let document = File {
            path: path.to_owned(),
            text: text.to_owned(),
        };
        check(&tree(), &document)
            .iter()
            .map(|finding| finding.line)
            .collect()
    }

    #[test]
    fn good_links_pass() {
        let text = "[a](dsp/src/lib.rs) [b](dsp) [c](README.md#whats-new) ![d](.pictures/report.png)\n\
            [e](https://example.org/x) [f](<dsp/src/> \"title\") [g](README.md#whats-new-1)\n\
            <img src=\"./.pictures/report.png\"> `[h](no.md)`\n\
            ```\n[i](no.md)\n```\n[j]: README.md\n[k](README.md#top)\n";
        assert!(lines("README.md", text).is_empty());
        let from_below = lines("bundles/README.md", "[up](../README.md) [x](../dsp/)\n");
        assert!(from_below.is_empty());
    }

    #[test]
    fn broken_links_are_caught() {
        for text in [
            "[a](no.md)",
            "![a](report.png)",
            "[a](/README.md)",
            "[a](../README.md)",
            "[a](README.md#no-heading)",
            "[a](#nowhere)",
            "<img src=\"no.png\">",
            "<a href=\"no.md\">",
            "[a]: no.md",
            "`code` [a](no.md \"title\")",
        ] {
            assert_eq!(
                lines("README.md", &format!("# Title\n\n{text}\n")),
                [3],
                "{text} passed"
            );
        }
    }
}
