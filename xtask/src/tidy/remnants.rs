//! Nothing left over: unfinished code, debugging output, notes to mend something later.

use super::masked::Masked;
use super::{Finding, line_of};

/// Macros that mark unfinished or debugging code, with what to say of each.
const MACROS: &[(&str, &str)] = &[
    ("todo!", "code that was never written"),
    ("unimplemented!", "code that was never written"),
    ("dbg!", "debugging output"),
];
/// Words in comments that put work off. Taken apart, lest the reader's own search finds this line.
const NOTES: &[&str] = &[concat!("FIX", "ME")];

/// Finds what was left over in a Rust file.
pub fn check(path: &str, masked: &Masked) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (name, meaning) in MACROS {
        for (at, _) in masked.code.match_indices(name) {
            if !masked.code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_') {
                let what = format!("'{name}' is left over: {meaning}");
                findings.push(Finding::new(path, line_of(&masked.code, at), what));
            }
        }
    }
    for note in NOTES {
        for (at, _) in masked.comments.match_indices(note) {
            let what = format!("'{note}' puts work off; do it, or file it where work is filed");
            findings.push(Finding::new(path, line_of(&masked.comments, at), what));
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<usize> {
        check("a.rs", &Masked::new(text))
            .iter()
            .map(|finding| finding.line)
            .collect()
    }

    #[test]
    fn what_is_left_over_is_caught() {
        assert_eq!(lines("fn f() {\n    todo!()\n}\n"), [2]);
        assert_eq!(lines("fn f() { unimplemented!(\"later\") }\n"), [1]);
        assert_eq!(lines("fn f() {\n    let x = std::dbg!(1);\n}\n"), [2]);
        assert_eq!(lines(concat!("fn f() {} // FIX", "ME: wrong\n")), [1]);
        assert_eq!(lines(concat!("/* a\n   FIX", "ME */\n")), [2]);
    }

    #[test]
    fn words_about_it_are_not() {
        let text = "// todo! is not used here\nlet s = \"dbg!(x)\";\nmy_todo!();\n";
        assert!(lines(text).is_empty());
    }
}
