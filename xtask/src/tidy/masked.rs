//! Rust text taken apart: code without comments and strings, comments without code.

/// A Rust file's text twice, each part of the same length and lines as the original, so that a place
/// in one is the same place in the other.
pub struct Masked {
    /// The code; comments and the insides of strings and characters are blank.
    pub code: String,
    /// The comments; all else is blank.
    pub comments: String,
}

/// What a stretch of text is.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Code,
    Literal,
    Comment,
}

impl Masked {
    /// Takes a file's text apart. Good for text that compiles; other text is read as far as it makes
    /// sense.
    pub fn new(text: &str) -> Self {
        let mut masked = Self {
            code: String::new(),
            comments: String::new(),
        };
        let mut at = 0;
        while at < text.len() {
            let (kind, length) = next(text, at);
            let stretch = &text[at..at + length];
            let (code, comment) = (kind == Kind::Code, kind == Kind::Comment);
            masked.code.push_str(&if code {
                stretch.to_owned()
            } else {
                blank(stretch)
            });
            masked.comments.push_str(&if comment {
                stretch.to_owned()
            } else {
                blank(stretch)
            });
            at += length;
        }
        masked
    }
}

/// Blanks of the same length in bytes, line feeds kept.
fn blank(stretch: &str) -> String {
    stretch
        .bytes()
        .map(|byte| if byte == b'\n' { '\n' } else { ' ' })
        .collect()
}

/// The kind and length in bytes of what starts here: a whole comment or literal, or one character of
/// code.
fn next(text: &str, at: usize) -> (Kind, usize) {
    let rest = &text[at..];
    let first = rest.chars().next().map_or(1, char::len_utf8);
    if rest.starts_with("//") {
        return (Kind::Comment, rest.find('\n').unwrap_or(rest.len()));
    }
    if rest.starts_with("/*") {
        return (Kind::Comment, block_comment(rest));
    }
    if rest.starts_with('"') {
        return (Kind::Literal, escaped(rest, b'"'));
    }
    if rest.starts_with('\'') {
        return character(rest).map_or((Kind::Code, 1), |length| (Kind::Literal, length));
    }
    let inside_word = text[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_');
    if rest.starts_with('r') && (!inside_word || is_prefix(text, at)) {
        return raw_string(rest).map_or((Kind::Code, 1), |length| (Kind::Literal, length));
    }
    (Kind::Code, first)
}

/// Whether the letter before is the b or c of `br"` or `cr"`, and a word of its own.
fn is_prefix(text: &str, at: usize) -> bool {
    let before = &text[..at];
    before
        .strip_suffix(['b', 'c'])
        .is_some_and(|earlier| !earlier.ends_with(|c: char| c.is_alphanumeric() || c == '_'))
}

/// The length of a block comment, which may hold others.
fn block_comment(rest: &str) -> usize {
    let (mut depth, mut at) = (0_usize, 0);
    let bytes = rest.as_bytes();
    while at + 1 < bytes.len() {
        match &bytes[at..at + 2] {
            b"/*" => (depth, at) = (depth + 1, at + 2),
            b"*/" => (depth, at) = (depth - 1, at + 2),
            _ => at += 1,
        }
        if depth == 0 {
            return at;
        }
    }
    rest.len()
}

/// The length of a literal that ends at the first quote not behind a backslash.
fn escaped(rest: &str, quote: u8) -> usize {
    let bytes = rest.as_bytes();
    let mut at = 1;
    while at < bytes.len() {
        match bytes[at] {
            b'\\' => at += 2,
            byte if byte == quote => return at + 1,
            _ => at += 1,
        }
    }
    rest.len()
}

/// The length of a character literal; None for a lifetime or a loop's label.
fn character(rest: &str) -> Option<usize> {
    let inside = rest[1..].chars().next()?;
    if inside == '\\' {
        return Some(escaped(rest, b'\''));
    }
    let length = 1 + inside.len_utf8();
    rest[length..].starts_with('\'').then_some(length + 1)
}

/// The length of a raw string; None for a raw identifier or a word that starts with r.
fn raw_string(rest: &str) -> Option<usize> {
    let hashes = rest[1..].bytes().take_while(|&byte| byte == b'#').count();
    let inside = rest[1 + hashes..].strip_prefix('"')?;
    let end = format!("\"{}", "#".repeat(hashes));
    Some(
        inside
            .find(&end)
            .map_or(rest.len(), |found| 2 + hashes + found + end.len()),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code(text: &str) -> String {
        Masked::new(text).code
    }

    #[test]
    fn both_parts_keep_every_place() {
        let text = "let a = \"µ // no\"; // yes: Ω\nlet b = 'é'; /* two\n lines */ fn c() {}\n";
        let masked = Masked::new(text);
        assert_eq!(masked.code.len(), text.len());
        assert_eq!(masked.comments.len(), text.len());
        assert_eq!(masked.code.find("fn c"), text.find("fn c"));
        assert_eq!(masked.comments.find("yes: Ω"), text.find("yes: Ω"));
        assert!(!masked.comments.contains("no"));
        assert!(!masked.code.contains("lines"));
    }

    #[test]
    fn strings_of_every_kind_are_blank() {
        for text in [
            r#"f("in { side \" still");"#,
            r##"f(r#"in " side {"#);"##,
            r#"f(r"in side \");"#,
            r#"f(b"in side {");"#,
            r#"f(br"in side {");"#,
            r##"f(cr#"in " side {"#);"##,
        ] {
            let code = code(text);
            assert!(
                !code.contains("side") && !code.contains('{'),
                "{text} left {code}"
            );
            assert!(code.ends_with(");"), "{text} swallowed its end: {code}");
        }
    }

    #[test]
    fn characters_are_blank_and_lifetimes_are_not() {
        assert_eq!(code("f('{', '\\'', b'}', 'µ')"), "f(   ,     , b   ,     )");
        assert_eq!(code("fn f<'a>(x: &'a str) {}"), "fn f<'a>(x: &'a str) {}");
        assert_eq!(
            code("'outer: loop { break 'outer; }"),
            "'outer: loop { break 'outer; }"
        );
    }

    #[test]
    fn words_with_r_and_raw_names_are_code() {
        assert_eq!(code("for r in r#fn { var }"), "for r in r#fn { var }");
    }

    #[test]
    fn comments_nest() {
        assert_eq!(
            code("a /* b /* c */ d */ e")
                .split_whitespace()
                .collect::<String>(),
            "ae"
        );
    }
}
