//! The notices of what is linked into a library: which part, under which licence, with whose text.

use std::collections::HashMap;

/// A package, or the standard library.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Part {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// The expression by which its makers license it.
    pub licence: String,
    /// Its makers, as they name themselves; empty when they do not.
    pub by: String,
    /// Where its makers keep it; may be empty.
    pub home: String,
    /// The font files it holds, relative to its folder.
    pub fonts: Vec<String>,
    /// Name and content of each text of licence it comes with.
    pub texts: Vec<(String, String)>,
}

/// Texts of licences that leave only the holder's name open, for parts that come without.
const STANDARD: [(&str, &str); 3] = [
    ("MIT", include_str!("texts/MIT.txt")),
    ("ISC", include_str!("texts/ISC.txt")),
    ("BSL-1.0", include_str!("texts/BSL-1.0.txt")),
];

impl Part {
    /// Adds standard texts for what the part's own texts do not cover; an error when there is none.
    pub fn complete(&mut self) -> Result<(), String> {
        if self.texts.iter().any(|(name, _)| is_at_the_top(name)) {
            return Ok(());
        }
        for term in self.licence.split(" AND ") {
            let term = term
                .trim_matches(|c| "() ".contains(c))
                .replace('/', " OR ");
            let mut choices = term.split(" OR ").map(str::trim);
            let standard = choices.find_map(|choice| STANDARD.iter().find(|one| one.0 == choice));
            match standard {
                Some((name, text)) => {
                    let name = format!("{name} (standard text)");
                    self.texts.push((name, (*text).to_owned()));
                }
                // A term beside others may be met by a text of its own, as those of fonts are.
                None if !self.texts.is_empty() => {}
                None => {
                    return Err(format!(
                        "{} {} comes without a text of its licence, {}",
                        self.name, self.version, self.licence
                    ));
                }
            }
        }
        Ok(())
    }
}

/// Whether a text stands for the whole package and not for something in one of its folders.
fn is_at_the_top(name: &str) -> bool {
    !name.contains('/')
}

/// The whole file: the parts, then every text once.
pub fn file(title: &str, parts: &[Part]) -> String {
    let mut sorted: Vec<&Part> = parts.iter().collect();
    sorted.sort_by_key(|part| (&part.name, &part.version));
    let mut numbers: HashMap<String, usize> = HashMap::new();
    let mut texts: Vec<String> = Vec::new();
    let mut out = format!("{title}\n\n{INTRODUCTION}");
    for part in sorted {
        out.push_str(&format!("\n{} {}\n", part.name, part.version));
        let mut line = |word: &str, value: &str| {
            if !value.is_empty() {
                out.push_str(&format!("    {word:9}{value}\n"));
            }
        };
        line("licence", &part.licence);
        line("by", &part.by);
        line("home", &part.home);
        line("fonts", &part.fonts.join(", "));
        let named: Vec<String> = part
            .texts
            .iter()
            .map(|(name, text)| {
                let text = plain(text);
                let number = *numbers.entry(text.clone()).or_insert_with(|| {
                    texts.push(text);
                    texts.len()
                });
                format!("[{number}] {name}")
            })
            .collect();
        line("texts", &named.join(", "));
    }
    for (index, text) in texts.iter().enumerate() {
        out.push_str(&format!(
            "\n{}\n[{}]\n\n{text}\n",
            "=".repeat(80),
            index + 1
        ));
    }
    out
}

const INTRODUCTION: &str = "\
These are the parts of others that the library holds, with their licences. A licence that offers a
choice (OR) is offered on by us in the same way. The numbers point to the texts below; identical
texts stand there once. Where it says \"standard text\", the package comes without a text of its own.
What only runs while the library is built (build scripts, procedural macros) is not in it and not
listed.
";

/// The text without what only differs between editors: line ends, trailing blanks, empty edges.
fn plain(text: &str) -> String {
    let lines: Vec<&str> = text.trim_start_matches('\u{feff}').lines().collect();
    let lines: Vec<&str> = lines.iter().map(|line| line.trim_end()).collect();
    lines.join("\n").trim_matches('\n').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(name: &str, licence: &str, texts: &[(&str, &str)]) -> Part {
        Part {
            name: name.to_owned(),
            version: "1.0.0".to_owned(),
            licence: licence.to_owned(),
            texts: texts
                .iter()
                .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
                .collect(),
            ..Part::default()
        }
    }

    #[test]
    fn parts_are_sorted_and_texts_stand_once() {
        let parts = [
            part("zeta", "MIT", &[("LICENSE", "a grant\r\n")]),
            part(
                "alpha",
                "ISC",
                &[("COPYING", "other"), ("LICENSE", "a grant  \n\n")],
            ),
        ];
        let out = file("Title", &parts);
        let turned = [parts[1].clone(), parts[0].clone()];
        assert_eq!(out, file("Title", &turned));
        assert!(
            out.find("\nalpha 1.0.0\n") < out.find("\nzeta 1.0.0\n"),
            "{out}"
        );
        assert_eq!(out.matches("a grant").count(), 1, "{out}");
        assert!(out.contains("texts    [1] COPYING, [2] LICENSE\n"), "{out}");
        assert!(out.contains("texts    [2] LICENSE\n"), "{out}");
        assert!(
            !out.contains("    by ") && !out.contains("    fonts"),
            "{out}"
        );
    }

    #[test]
    fn a_part_without_a_text_gets_the_standard_one_or_is_refused() {
        let complete = |licence: &str, texts: &[(&str, &str)]| {
            let mut part = part("p", licence, texts);
            part.complete().map(|()| part.texts.len())
        };
        assert_eq!(complete("MIT OR Apache-2.0", &[]), Ok(1));
        assert_eq!(complete("Apache-2.0/MIT", &[]), Ok(1));
        assert_eq!(complete("ISC AND BSL-1.0", &[]), Ok(2));
        assert_eq!(complete("Apache-2.0", &[("LICENSE", "x")]), Ok(1));
        let fonts = "(MIT OR Apache-2.0) AND OFL-1.1";
        assert_eq!(complete(fonts, &[("fonts/OFL.txt", "x")]), Ok(2));
        let error = complete("Apache-2.0", &[]).expect_err("no text");
        assert!(
            error.contains("p 1.0.0") && error.contains("Apache-2.0"),
            "{error}"
        );
    }
}
