//! The level diagram as a page of its own: the picture, and its figures as tables.

use super::diagram::{SIZE, svg};
use super::level_tables::{self, SideTable, table};
use super::style::CSS as PAGE_CSS;
use super::text::{DASH, esc, signed_or_dash, typeset};
use penstock_dsp::analysis::StageDistortion;
use penstock_dsp::diagram::{DiagramPoint, Frame, LevelDiagram, PERCENTS, TONES_HZ};
use penstock_dsp::meter::MeterKind;
use penstock_dsp::statistics::{Percentiles, PointStatistics};
use penstock_dsp::units::{Db, Dbu};

const CSS: &str = include_str!("level_page.css");

/// What the page is about.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelPage {
    /// The recording, or the sine.
    pub programme: String,
    /// Facts of the studio and the choices, one line each.
    pub facts: Vec<String>,
    /// What qualifies the figures.
    pub notes: Vec<String>,
    /// Version of the program.
    pub program_version: String,
    /// What is drawn.
    pub picture: LevelDiagram,
    /// The tables of left and right, or of both as one.
    pub sides: Vec<SideFigures>,
    /// Short-term loudness of a recording, by place.
    pub loudness: Option<[(&'static str, Percentiles); 2]>,
    /// What each stage does at the programme's level.
    pub distortion: Vec<StageDistortion>,
    /// From the send to the preamplifier's output re 1 kHz, in hertz and decibels.
    pub response: Vec<(f64, Db)>,
}

/// Figures of a channel, or of both.
#[derive(Debug, Clone, PartialEq)]
pub struct SideFigures {
    /// Which; empty for both.
    pub name: String,
    /// Ceilings, floors, programme.
    pub diagram: LevelDiagram,
    /// Of a recording, by point.
    pub statistics: Option<Vec<PointStatistics>>,
    /// What reads 0 dBFS at the bus and at the return.
    pub full_scales: [Dbu; 2],
}

/// Writes the page.
#[must_use]
pub fn page(about: &LevelPage) -> String {
    let programme = esc(&about.programme);
    let frame = Frame::of(&about.picture, SIZE[0], SIZE[1]);
    let picture = svg("levels", "Level diagram", &about.picture, frame, SIZE);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Levels: {programme}</title>\n<style>\n{PAGE_CSS}\n{CSS}</style>\n</head>\n<body>\n\
         <main>\n<h1>Levels: {programme}</h1>\n{facts}{picture}{tables}<h2>How to read this</h2>\n{notes}\
         <footer>Penstock {version}. This file is complete in itself and works offline.</footer>\n\
         </main>\n</body>\n</html>\n",
        facts = list(&about.facts),
        picture = picture,
        tables = tables(about),
        notes = list(&about.notes),
        version = esc(&about.program_version),
    )
}

fn tables(about: &LevelPage) -> String {
    let sides = &about.sides;
    let mut text = each("Programme, headroom and signal-to-noise", sides, |side| {
        Some(headroom(&side.diagram))
    });
    text += &each("Statistics of the programme", sides, level_tables::levels);
    if let Some(loudness) = &about.loudness {
        text += &level_tables::loudness(loudness);
    }
    text += &each("Time above each ceiling", sides, level_tables::above);
    text += &each("Passages above a ceiling", sides, level_tables::passages);
    text += &level_tables::distortion(&about.distortion);
    text += &level_tables::response(&about.response);
    // Ceilings and floors of a rig whose channels are alike are the same.
    let limits = |side: &SideFigures| side.diagram.limits();
    let alike = sides
        .windows(2)
        .all(|two| limits(&two[0]) == limits(&two[1]));
    let rigs: Vec<SideFigures> = sides
        .iter()
        .take(if alike { 1 } else { 2 })
        .cloned()
        .map(|side| SideFigures {
            name: if alike { String::new() } else { side.name },
            ..side
        })
        .collect();
    text += &each(
        "Ceilings in dBu, by what lies before the point",
        &rigs,
        |side| Some(ceilings(&side.diagram)),
    );
    text + &each(
        "Noise in dBu, 20 Hz to 20 kHz",
        &rigs[..rigs.len().min(1)],
        |side| Some(floors(&side.diagram)),
    )
}

/// A heading, and a table of each side that has one.
fn each(
    title: &str,
    sides: &[SideFigures],
    of: impl Fn(&SideFigures) -> Option<SideTable>,
) -> String {
    let tables = sides.iter().filter_map(|side| {
        let name = if side.name.is_empty() { "" } else { &side.name };
        of(side).map(|found| table(name, &found))
    });
    let tables: String = tables.collect();
    if tables.is_empty() {
        return tables;
    }
    format!("<h2>{title}</h2>\n{tables}")
}

fn dbu(level: Option<Dbu>) -> String {
    signed_or_dash(level.map(|level| level.0), 1)
}

/// A row of each point.
fn by_point(
    heads: Vec<String>,
    diagram: &LevelDiagram,
    row: impl Fn(&DiagramPoint) -> Vec<String>,
) -> SideTable {
    let row = |point: &DiagramPoint| (point.point.label().to_owned(), row(point));
    SideTable {
        heads,
        rows: diagram.points.iter().map(row).collect(),
    }
}

fn headroom(diagram: &LevelDiagram) -> SideTable {
    let mut heads = vec![
        "peak as a sine, dBu",
        "RMS, dBu",
        "ceiling, dBu",
        "headroom, dB",
        "S/N flat, dB",
    ];
    let meter = diagram.meter();
    heads.extend(meter.map(MeterKind::label));
    by_point(
        heads.into_iter().map(str::to_owned).collect(),
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

fn ceilings(diagram: &LevelDiagram) -> SideTable {
    let mut heads: Vec<String> = Vec::new();
    for tone_hz in TONES_HZ {
        heads.extend(PERCENTS.map(|percent| format!("{percent} % at {tone_hz} Hz")));
    }
    heads.extend(["converter clips", "grid conducts", "data sheet"].map(str::to_owned));
    by_point(heads, diagram, |p| {
        let mut row = Vec::new();
        for tone_hz in TONES_HZ {
            row.extend(PERCENTS.map(|percent| dbu(p.thd_at(tone_hz, percent))));
        }
        row.extend([dbu(p.clip), dbu(p.grid), dbu(p.own)]);
        row
    })
}

fn floors(diagram: &LevelDiagram) -> SideTable {
    let heads = ["flat", "A-weighted", "468 (RMS)"];
    by_point(heads.map(str::to_owned).to_vec(), diagram, |p| {
        vec![
            dbu(p.floor.map(|floor| floor.flat)),
            dbu(p.floor.map(|floor| floor.a)),
            dbu(p.floor.map(|floor| floor.itu_468)),
        ]
    })
}

fn list(items: &[String]) -> String {
    let items: String = items
        .iter()
        .map(|item| format!("<li>{}</li>\n", esc(&typeset(item))))
        .collect();
    format!("<ul class=\"plain small\">\n{items}</ul>\n")
}
