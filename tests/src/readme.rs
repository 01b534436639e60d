//! Tables of the README and other pages that tests make.

use crate::tools::workspace_dir;
use std::fs;

/// Cuts a table into its words; numbers among them are compared by value.
fn words(table: &str) -> Vec<String> {
    table.split_whitespace().map(str::to_owned).collect()
}

/// Whether two words are equal, or numbers of as many decimals that differ by one in the last (on
/// another processor a value on the border of two roundings may fall to the other side).
fn alike(one: &str, other: &str) -> bool {
    let decimals = |word: &str| word.split_once('.').map(|(_, digits)| digits.len());
    match (
        one.parse::<f64>(),
        other.parse::<f64>(),
        decimals(one),
        decimals(other),
    ) {
        (Ok(a), Ok(b), Some(c), Some(d)) if c == d => (a - b).abs() < 1.5 * 0.1f64.powi(c as i32),
        _ => one == other,
    }
}

/// Asserts that the README shows `table` between `<!-- name -->` and `<!-- /name -->`.
///
/// # Panics
/// When it does not; the message holds the table to paste.
#[track_caller]
pub fn assert_block(name: &str, table: &str) {
    assert_block_in("README.md", name, table);
}

/// The same of another page, by its path in the workspace.
///
/// # Panics
/// When it does not show the table; the message holds the table to paste.
#[track_caller]
pub fn assert_block_in(page: &str, name: &str, table: &str) {
    let (opening, closing) = (format!("<!-- {name} -->"), format!("<!-- /{name} -->"));
    let text = fs::read_to_string(workspace_dir().join(page)).unwrap_or_default();
    let shown = text
        .split_once(&opening)
        .and_then(|(_, rest)| rest.split_once(&closing))
        .map_or(String::new(), |(block, _)| block.trim().to_owned());
    let (shown, wanted) = (words(&shown), words(table));
    let same = shown.len() == wanted.len() && shown.iter().zip(&wanted).all(|(a, b)| alike(a, b));
    let right = format!("{opening}\n\n{}\n\n{closing}", table.trim_end());
    assert!(
        same,
        "{page} does not show what the test found; it should hold:\n\n{right}\n"
    );
}
