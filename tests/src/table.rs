//! Tables of check values, kept as text with their source in the first lines.

use std::fs;
use std::path::Path;

/// A table of the folder `data`: comment lines (`#`, with the source), column names, rows.
#[derive(Debug)]
pub struct Table {
    rows: Vec<Row>,
}

/// One row; values stay the printed text, since its digits say how precise they are.
#[derive(Clone, Debug)]
pub struct Row {
    cells: Vec<(String, String)>,
}

impl Table {
    /// Reads the table `name`.
    ///
    /// # Panics
    /// When it is missing, has no source, no rows, or a row of another length.
    #[must_use]
    pub fn load(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("data")
            .join(name);
        let text = fs::read_to_string(&path)
            .unwrap_or_else(|error| panic!("cannot read {}: {error}", path.display()));
        assert!(
            text.contains("# Source:"),
            "{name} does not name its source"
        );
        let mut lines = text.lines().filter(|line| !line.starts_with('#'));
        let names: Vec<&str> = lines
            .next()
            .unwrap_or_default()
            .split_whitespace()
            .collect();
        let rows: Vec<Row> = lines.map(|line| Row::parse(&names, line)).collect();
        assert!(!rows.is_empty(), "{name} has no rows");
        Self { rows }
    }

    /// Its rows.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }
}

impl Row {
    fn parse(names: &[&str], line: &str) -> Self {
        let cells: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(names.len(), cells.len(), "a row of another length: {line}");
        let cells = names
            .iter()
            .zip(cells)
            .map(|(n, c)| ((*n).to_owned(), c.to_owned()));
        Self {
            cells: cells.collect(),
        }
    }

    /// The printed text in column `name`.
    ///
    /// # Panics
    /// When there is no such column.
    #[track_caller]
    #[must_use]
    pub fn text(&self, name: &str) -> &str {
        let cell = self.cells.iter().find(|(column, _)| column == name);
        &cell.unwrap_or_else(|| panic!("no column `{name}`")).1
    }

    /// The number in column `name`.
    ///
    /// # Panics
    /// When there is none.
    #[track_caller]
    #[must_use]
    pub fn number(&self, name: &str) -> f64 {
        let text = self.text(name);
        text.parse()
            .unwrap_or_else(|_| panic!("`{name}` is no number: {text}"))
    }

    /// Half a unit of the last printed digit in column `name`: how far a value may be from what
    /// is printed. The little on top is for a value that lies on the border of two roundings.
    #[track_caller]
    #[must_use]
    pub fn half_digit(&self, name: &str) -> f64 {
        let decimals = self
            .text(name)
            .split_once('.')
            .map_or(0, |(_, digits)| digits.len());
        0.501 * 10f64.powi(-(decimals as i32))
    }

    /// The row as one line, for messages.
    #[must_use]
    pub fn label(&self) -> String {
        let cells: Vec<String> = self.cells.iter().map(|(n, c)| format!("{n}={c}")).collect();
        cells.join(" ")
    }
}

/// The values of one decade of the series `name` (`E12`, `E24`, `E96`) from IEC 60063.
///
/// # Panics
/// When the table is missing.
#[must_use]
pub fn preferred(name: &str) -> Vec<f64> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/e_series.txt");
    let text = fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("cannot read {}: {error}", path.display()));
    let lines = text
        .lines()
        .filter_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    let values = lines.flat_map(str::split_whitespace);
    values
        .map(|value| value.parse().expect("the table holds numbers"))
        .collect()
}
