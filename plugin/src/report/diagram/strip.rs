//! The figures under the level diagram, each below its point.

use super::super::data::Scale;
use super::super::series::{Shown, marker};
use super::super::svg::{Anchor, Svg, num};
use super::super::text::{DASH, decimal, signed};
use super::{Column, ROW, Reading, WIDTH, ceiling_dbu, find, full_scale_dbu, place_dbu};

/// Figures under each point: name, unit, each setting's peak, then the ceiling.
pub fn draw(
    svg: &mut Svg,
    shown: &[Shown<'_>],
    columns: &[Column<'_>],
    notes: &[Vec<String>],
    top: f64,
) {
    let right = columns.last().map_or(WIDTH, |c| c.right);
    let first_row = top + 40.0;
    let ceiling_row = first_row + ROW * shown.len() as f64;
    svg.text("tm", Anchor::Start, 0.0, top + 16.0, "peak in");
    svg.text("tm", Anchor::Start, 0.0, ceiling_row + 3.0, "ceiling");
    for row in 0..=shown.len() {
        let at = first_row - 15.0 + ROW * row as f64;
        svg.line("grid", (0.0, at), (right, at));
    }
    for (c, notes) in columns.iter().zip(notes) {
        svg.text("t b", Anchor::Middle, c.middle(), top, c.label);
        let unit = if c.scale == Scale::Dbu { "dBu" } else { "dBFS" };
        svg.text("tm", Anchor::Middle, c.middle(), top + 16.0, unit);
        for (i, s) in shown.iter().enumerate() {
            let at = first_row + ROW * i as f64;
            let text = figure(place_dbu(s, c.name, Reading::Peak), s, c);
            svg.text("t", Anchor::Middle, c.middle(), at, &text);
        }
        for (i, note) in notes.iter().enumerate() {
            let at = ceiling_row + 3.0 + 14.0 * i as f64;
            svg.text("ts", Anchor::Middle, c.middle(), at, note);
        }
    }
    for (i, s) in shown.iter().enumerate() {
        let at = first_row - 4.0 + ROW * i as f64;
        svg.path(
            &format!("ln {}", s.series.class),
            s.series.dash,
            &format!("M0 {0}L62 {0}", num(at)),
        );
        marker(svg, s.series, &s.setting.id.to_string(), 31.0, at);
    }
}

/// A level in the first unit of its point.
pub fn figure(dbu: Option<f64>, shown: &Shown<'_>, column: &Column<'_>) -> String {
    match (dbu, column.scale) {
        (None, _) => DASH.to_string(),
        (Some(v), Scale::Dbu) => signed(v, 1),
        (Some(v), scale) => decimal(v - full_scale_dbu(shown, scale), 1),
    }
}

/// Lines for the ceiling of each column: one for all settings, or one per setting where it differs.
pub fn notes(shown: &[Shown<'_>], columns: &[Column<'_>]) -> Vec<Vec<String>> {
    let ceiling = |s: &Shown<'_>, c: &Column<'_>| figure(ceiling_dbu(s, c.name), s, c);
    columns
        .iter()
        .map(|c| {
            let mut lines = Vec::new();
            let figures: Vec<String> = shown.iter().map(|s| ceiling(s, c)).collect();
            if figures.iter().all(|f| *f == figures[0]) {
                lines.push(figures[0].clone());
            } else {
                for (s, f) in shown.iter().zip(&figures) {
                    lines.push(format!("{}: {f}", s.setting.id));
                }
            }
            let mut said: Vec<&str> = Vec::new();
            for s in shown {
                let note = find(s, c.name).filter(|p| p.ceiling_dbu.is_some());
                let note = note.map_or("", |p| p.ceiling_note.as_str());
                if !note.is_empty() && !said.contains(&note) {
                    said.push(note);
                    lines.extend(wrap(note, 16));
                }
            }
            lines
        })
        .collect()
}

/// Breaks a text between words into lines of about `most` characters.
fn wrap(text: &str, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_notes_wrap_between_words() {
        assert_eq!(
            wrap("send converter clips", 16),
            ["send converter", "clips"]
        );
        assert!(wrap("", 16).is_empty());
    }
}
