//! The level diagram as a page of its own: the picture, and its figures as tables.

use super::diagram::{SIZE, svg};
use super::style::CSS as PAGE_CSS;
use super::text::{DASH, esc, signed_or_dash, typeset};
use penstock_dsp::diagram::{DiagramPoint, Frame, LevelDiagram, PERCENTS, TONES_HZ};
use penstock_dsp::meter::MeterKind;
use penstock_dsp::units::Dbu;

const CSS: &str = include_str!("level_page.css");

/// What the page is about.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LevelPage {
    /// The recording, or the sine.
    pub programme: String,
    /// Facts of the studio and the choices, one line each.
    pub facts: Vec<String>,
    /// What qualifies the figures.
    pub notes: Vec<String>,
    /// Version of the program.
    pub program_version: String,
}

/// Writes the page.
#[must_use]
pub fn page(about: &LevelPage, diagram: &LevelDiagram) -> String {
    let programme = esc(&about.programme);
    let frame = Frame::of(diagram, SIZE[0], SIZE[1]);
    let picture = svg("levels", "Level diagram", diagram, frame, SIZE);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Levels: {programme}</title>\n<style>\n{PAGE_CSS}\n{CSS}</style>\n</head>\n<body>\n\
         <main>\n<h1>Levels: {programme}</h1>\n{facts}{picture}{headroom}{ceilings}{floors}{notes}\
         <footer>Penstock {version}. This file is complete in itself and works offline.</footer>\n\
         </main>\n</body>\n</html>\n",
        facts = list(&about.facts),
        picture = picture,
        headroom = headroom(diagram),
        ceilings = ceilings(diagram),
        floors = floors(diagram),
        notes = list(&about.notes),
        version = esc(&about.program_version),
    )
}

fn dbu(level: Option<Dbu>) -> String {
    signed_or_dash(level.map(|level| level.0), 1)
}

fn headroom(diagram: &LevelDiagram) -> String {
    let mut heads = vec![
        "peak as a sine, dBu",
        "RMS, dBu",
        "ceiling, dBu",
        "headroom, dB",
        "S/N flat, dB",
    ];
    let meter = diagram.meter();
    heads.extend(meter.map(MeterKind::label));
    table(
        "Programme, headroom and signal-to-noise",
        &heads,
        diagram,
        |p| {
            let mut row = vec![
                dbu(p.programme.map(|p| p.peak)),
                dbu(p.programme.map(|p| p.rms)),
                dbu(p.ceiling()),
                signed_or_dash(p.headroom().map(|db| db.0), 1),
                signed_or_dash(p.signal_to_noise().map(|db| db.0), 1),
            ];
            if meter.is_some() {
                row.push(p.reading_words().unwrap_or_else(|| DASH.to_owned()));
            }
            row
        },
    )
}

fn ceilings(diagram: &LevelDiagram) -> String {
    let mut heads: Vec<String> = Vec::new();
    for tone_hz in TONES_HZ {
        heads.extend(PERCENTS.map(|percent| format!("{percent} % at {tone_hz} Hz")));
    }
    heads.extend(["converter clips", "grid conducts", "data sheet"].map(str::to_owned));
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    table(
        "Ceilings in dBu, by what lies before the point",
        &heads,
        diagram,
        |p| {
            let mut row = Vec::new();
            for tone_hz in TONES_HZ {
                row.extend(PERCENTS.map(|percent| dbu(p.thd_at(tone_hz, percent))));
            }
            row.extend([dbu(p.clip), dbu(p.grid), dbu(p.own)]);
            row
        },
    )
}

fn floors(diagram: &LevelDiagram) -> String {
    let heads = ["flat", "A-weighted", "468 (RMS)"];
    table("Noise in dBu, 20 Hz to 20 kHz", &heads, diagram, |p| {
        vec![
            dbu(p.floor.map(|floor| floor.flat)),
            dbu(p.floor.map(|floor| floor.a)),
            dbu(p.floor.map(|floor| floor.itu_468)),
        ]
    })
}

fn table(
    title: &str,
    heads: &[&str],
    diagram: &LevelDiagram,
    row: impl Fn(&DiagramPoint) -> Vec<String>,
) -> String {
    let mut text = format!("<h2>{title}</h2>\n<table class=\"levels\"><thead><tr><th></th>");
    for head in heads {
        text += &format!("<th scope=\"col\">{}</th>", esc(&typeset(head)));
    }
    text += "</tr></thead>\n<tbody>\n";
    for point in &diagram.points {
        text += &format!("<tr><th scope=\"row\">{}</th>", point.point.label());
        for cell in row(point) {
            text += &format!("<td>{cell}</td>");
        }
        text += "</tr>\n";
    }
    text + "</tbody></table>\n"
}

fn list(items: &[String]) -> String {
    let items: String = items
        .iter()
        .map(|item| format!("<li>{}</li>\n", esc(&typeset(item))))
        .collect();
    format!("<ul class=\"plain small\">\n{items}</ul>\n")
}
