//! The build sheet of a pad: two sides of paper that a technician can solder from.
//!
//! [`page`] takes the finished figures of [`Sheet`] and returns one HTML page: on the first side the
//! schematic, the bill of materials, what the pad does and the cautions; on the second the wiring and the
//! tests with their expected readings. Nothing is fetched, nothing is computed here.

mod schematic;
mod words;

use super::text::{esc, typeset};
pub use schematic::{Drawing, Drawn};

/// Style sheet, beside that of the report.
const CSS: &str = include_str!("sheet.css");

/// What the sheet shows.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// For instance "U pad, 40 dB".
    pub title: String,
    /// What it is for, one sentence.
    pub purpose: String,
    /// Title block: name and value.
    pub block: Vec<(String, String)>,
    /// The network.
    pub drawing: Drawing,
    /// Bill of materials.
    pub materials: Vec<Material>,
    /// What it does: name, value, note.
    pub figures: Vec<[String; 3]>,
    /// Remarks under the figures.
    pub remarks: Vec<String>,
    /// Ohmmeter readings: where, how, expected, from, to.
    pub readings: Vec<[String; 5]>,
    /// Levels at 1 kHz: bus, at the input, at the output, how far apart at most.
    pub levels: Vec<[String; 4]>,
    /// Whether the series arms are in both legs.
    pub balanced: bool,
    /// Whether it stands before a microphone input (and not before the return converter).
    pub before_microphone_input: bool,
    /// Loss as loaded, in dB.
    pub loss_db: f64,
    /// `A4` or `letter`.
    pub paper: String,
    /// Of the program.
    pub program_version: String,
}

/// One line of the bill of materials.
#[derive(Clone, Debug)]
pub struct Material {
    /// What it is.
    pub what: String,
    /// What it is for, with the names in the schematic.
    pub purpose: String,
    /// For one pad.
    pub one: usize,
    /// For a stereo pair.
    pub pair: usize,
}

/// Writes the sheet as one HTML page.
#[must_use]
pub fn page(sheet: &Sheet) -> String {
    let size = if sheet.paper == "letter" {
        "letter"
    } else {
        "A4"
    };
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title}</title>\n<style>\n{css}\n{own}\n@page {{ size: {size} portrait; margin: 11mm 13mm; }}\n\
         </style>\n</head>\n<body>\n<main>\n{front}{back}</main>\n</body>\n</html>\n",
        title = esc(&sheet.title),
        css = super::style::CSS,
        own = CSS,
        front = front(sheet),
        back = back(sheet),
    )
}

fn front(sheet: &Sheet) -> String {
    let mut side = String::from("<section class=\"side\" id=\"front\">\n");
    side += &header(sheet, "side 1 of 2");
    side += "<h2>Schematic</h2>\n";
    side += &sheet.drawing.svg();
    side += "<h2>Bill of materials</h2>\n<table class=\"figures\"><thead><tr>\
             <th scope=\"col\">part</th><th scope=\"col\" class=\"words\">where</th>\
             <th scope=\"col\">for one</th><th scope=\"col\">for a pair</th></tr></thead>\n<tbody>\n";
    for material in &sheet.materials {
        side += &format!(
            "<tr><th scope=\"row\">{}</th><td class=\"words\">{}</td><td>{}</td><td>{}</td></tr>\n",
            text(&material.what),
            text(&material.purpose),
            material.one,
            material.pair
        );
    }
    side += "</tbody></table>\n<h2>What it does</h2>\n<table class=\"figures\"><tbody>\n";
    for [name, value, note] in &sheet.figures {
        side += &format!(
            "<tr><th scope=\"row\">{}</th><td>{}</td><td class=\"words\">{}</td></tr>\n",
            text(name),
            text(value),
            text(note)
        );
    }
    side += "</tbody></table>\n";
    side += &list("plain small", &sheet.remarks);
    side += &words::cautions(sheet.before_microphone_input, sheet.loss_db);
    side += "</section>\n";
    side
}

fn back(sheet: &Sheet) -> String {
    let mut side = String::from("<section class=\"side\" id=\"back\">\n");
    side += &header(sheet, "side 2 of 2");
    side += "<div class=\"columns\">\n<div>\n";
    side += words::wiring(sheet.balanced);
    side += &words::place(sheet.before_microphone_input);
    side += "</div>\n<div>\n";
    side += words::OUTPUTS;
    side += "</div>\n</div>\n<h2>Test before use</h2>\n";
    side += words::TEST_OHMS;
    side += &rows(
        &["ohmmeter at", "with", "reads", "from", "to"],
        sheet.readings.iter().map(|row| row.as_slice()),
    );
    side += words::test_levels(sheet.before_microphone_input);
    side += &rows(
        &["sent", "at the input", "at the output", "loss, from and to"],
        sheet.levels.iter().map(|row| row.as_slice()),
    );
    side += words::TEST_POLARITY;
    side += "</section>\n";
    side
}

fn header(sheet: &Sheet, side: &str) -> String {
    let mut block = String::new();
    for (name, value) in &sheet.block {
        block += &format!("<div><dt>{}</dt><dd>{}</dd></div>", text(name), text(value));
    }
    format!(
        "<header><div class=\"job\"><p class=\"over\">Build sheet, {side}</p><h1>{}</h1><p>{}</p>\
         <p class=\"over\">Penstock {}</p></div><dl class=\"block\">{block}</dl></header>\n",
        text(&sheet.title),
        text(&sheet.purpose),
        esc(&sheet.program_version)
    )
}

fn rows<'a>(head: &[&str], rows: impl Iterator<Item = &'a [String]>) -> String {
    let mut table = String::from("<table class=\"figures\"><thead><tr>");
    for name in head {
        table += &format!("<th scope=\"col\">{name}</th>");
    }
    table += "</tr></thead>\n<tbody>\n";
    for row in rows {
        for (column, cell) in row.iter().enumerate() {
            let cell = text(cell);
            table += &match column {
                0 => format!("<tr><th scope=\"row\">{cell}</th>"),
                _ => format!("<td>{cell}</td>"),
            };
        }
        table += "</tr>\n";
    }
    table + "</tbody></table>\n"
}

fn list(class: &str, items: &[String]) -> String {
    let items: String = items
        .iter()
        .map(|item| format!("<li>{}</li>\n", text(item)))
        .collect();
    format!("<ul class=\"{class}\">\n{items}</ul>\n")
}

fn text(plain: &str) -> String {
    esc(&typeset(plain))
}
