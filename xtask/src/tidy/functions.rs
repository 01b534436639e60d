//! No function longer than a screen.

use super::masked::Masked;
use super::{Finding, line_of};

/// From the line of `fn` to the line of the closing brace.
const MOST_LINES: usize = 70;

/// Finds the functions that are too long.
pub fn check(path: &str, masked: &Masked) -> Vec<Finding> {
    spans(&masked.code)
        .filter(|span| span.lines > MOST_LINES)
        .map(|span| {
            let what = format!(
                "the function '{}' has {} lines; at most {MOST_LINES}",
                span.name, span.lines
            );
            Finding::new(path, span.line, what)
        })
        .collect()
}

/// A function with a body.
struct Span<'a> {
    name: &'a str,
    line: usize,
    lines: usize,
}

/// Every function with a body, nested ones too.
fn spans(code: &str) -> impl Iterator<Item = Span<'_>> {
    code.match_indices("fn ").filter_map(|(at, _)| {
        let name = name(code, at)?;
        let open = body(code, at)?;
        let close = matching_brace(code, open);
        let line = line_of(code, at);
        Some(Span {
            name,
            line,
            lines: line_of(code, close) - line + 1,
        })
    })
}

/// The name after `fn`; None where `fn` is the tail of a word, a pointer's type or a macro's pattern.
fn name(code: &str, at: usize) -> Option<&str> {
    if code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_') {
        return None;
    }
    let rest = code[at + 3..].trim_start();
    let length = rest.find(|c: char| !(c.is_alphanumeric() || c == '_' || c == '#'))?;
    (length > 0).then(|| &rest[..length])
}

/// Where the body opens; None for a declaration without one.
fn body(code: &str, at: usize) -> Option<usize> {
    let mut depth = 0_i32;
    for (offset, byte) in code.bytes().enumerate().skip(at) {
        match byte {
            b'(' | b'[' => depth += 1,
            b')' | b']' => depth -= 1,
            // `[f64; 3]` in the signature ends nothing.
            b';' if depth == 0 => return None,
            b'{' if depth == 0 => return Some(offset),
            _ => {}
        }
    }
    None
}

/// Where the brace opened here closes; the end of the text when it does not.
fn matching_brace(code: &str, open: usize) -> usize {
    let mut depth = 0_i32;
    for (offset, byte) in code.bytes().enumerate().skip(open) {
        match byte {
            b'{' => depth += 1,
            b'}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return offset;
        }
    }
    code.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A function of exactly this many lines, its body full of traps.
    fn function(head: &str, lines: usize) -> String {
        let body = "    let s = \"}\"; // }\n".repeat(lines - 2);
        format!("{head} {{\n{body}}}\n")
    }

    fn found(text: &str) -> Vec<Finding> {
        check("sample.rs", &Masked::new(text))
    }

    #[test]
    fn seventy_lines_pass_and_one_more_does_not() {
        assert_eq!(found(&function("fn f()", 70)), []);
        let findings = found(&format!(
            "//! Sample.\n\n{}",
            function("pub fn g<'a>()", 71)
        ));
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].line, 3);
        assert!(
            findings[0].what.contains("'g' has 71 lines"),
            "{}",
            findings[0]
        );
    }

    #[test]
    fn methods_and_nested_functions_are_seen() {
        let method = function(
            "fn inner(&self, x: [f64; 3]) -> [f64; 2] where Self: Sized",
            80,
        );
        let findings = found(&format!("impl A {{\n{method}}}\nfn after() {{}}\n"));
        assert_eq!(findings.len(), 1, "{findings:?}");
        let nested = format!("fn outer() {{\n{}}}\n", function("fn inner()", 71));
        assert_eq!(found(&nested).len(), 2);
    }

    #[test]
    fn what_is_no_function_is_not_counted() {
        let filler = "// line\n".repeat(100);
        assert_eq!(found(&format!("trait T {{ fn f(&self); {filler} }}\n")), []);
        assert_eq!(
            found(&format!(
                "type F = fn (f64) -> f64;\nmod m {{\n{filler}}}\n"
            )),
            []
        );
        assert_eq!(found(&format!("// fn f() {{\n{filler}")), []);
    }
}
