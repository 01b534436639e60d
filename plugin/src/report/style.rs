//! The style sheet and the small script of a report.
//!
//! The script only adds comfort: one player sounds at a time, a switch between players at the
//! same position, and plans opened for printing. Everything is readable without it.

/// Style sheet: light and dark on screen, black and white on paper.
pub const CSS: &str = include_str!("page.css");
/// Script.
pub const SCRIPT: &str = include_str!("page.js");

#[cfg(test)]
mod tests {
    use super::*;

    /// Colours of the theme that begins after `from` in the style sheet.
    fn theme(from: &str) -> impl Fn(&str) -> [f64; 3] {
        let block = CSS.split(from).nth(1).unwrap_or_default();
        let block = block.split('}').next().unwrap_or_default().to_string();
        move |name| {
            let value = block
                .split(&format!("--{name}: #"))
                .nth(1)
                .expect("a colour of the theme");
            let hex = value.split(';').next().expect("an end of the colour");
            let full: String = if hex.len() == 3 {
                hex.chars().flat_map(|c| [c, c]).collect()
            } else {
                hex.into()
            };
            [0, 2, 4].map(|i| {
                f64::from(u8::from_str_radix(&full[i..i + 2], 16).expect("hexadecimal")) / 255.0
            })
        }
    }

    /// Contrast ratio by WCAG 2.2 ("relative luminance", "contrast ratio").
    fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
        let luminance = |c: [f64; 3]| {
            let lin = |v: f64| {
                if v <= 0.04045 {
                    v / 12.92
                } else {
                    ((v + 0.055) / 1.055).powf(2.4)
                }
            };
            0.2126 * lin(c[0]) + 0.7152 * lin(c[1]) + 0.0722 * lin(c[2])
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for lines that carry meaning (1.4.11).
    #[test]
    fn contrast_is_wcag_aa() {
        assert!((contrast([0.0; 3], [1.0; 3]) - 21.0).abs() < 1e-9);
        for from in [
            ":root {",
            "prefers-color-scheme: dark) {\n  :root {",
            "print {\n  :root {",
        ] {
            let of = theme(from);
            for text in ["ink", "muted", "link", "warn"] {
                for ground in ["paper", "panel", "warnpaper", "heard"] {
                    if ground == "panel" || ground == "paper" || text != "link" {
                        let ratio = contrast(of(text), of(ground));
                        assert!(ratio >= 4.5, "{from} {text} on {ground}: {ratio:.2}");
                    }
                }
            }
            for line in ["s0", "s1", "s2", "s3", "s4", "src", "rule"] {
                // Rules only part areas; they need not be seen to understand a picture.
                let least = if line == "rule" { 2.5 } else { 3.0 };
                let ratio = contrast(of(line), of("panel"));
                assert!(ratio >= least, "{from} {line} on panel: {ratio:.2}");
            }
        }
    }

    #[test]
    fn nothing_is_fetched() {
        for text in [CSS, SCRIPT] {
            for word in ["http:", "https:", "url(", "@import", "fetch(", "XMLHttp"] {
                assert!(!text.contains(word), "{word}");
            }
        }
    }

    #[test]
    fn nothing_ends_its_own_element() {
        assert!(!CSS.contains('<') && !SCRIPT.contains("</"));
    }
}
