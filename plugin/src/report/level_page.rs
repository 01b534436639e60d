//! The level diagram as a page of its own: the picture, and its figures as tables.

use super::style::CSS as PAGE_CSS;
use super::svg::{Anchor, Svg, num};
use super::text::{DASH, esc, signed_or_dash, typeset};
use penstock_dsp::diagram::{
    Command, DiagramPoint, Ink, LevelDiagram, PERCENTS, Side, TONES_HZ, draw,
};
use penstock_dsp::meter::MeterKind;
use penstock_dsp::units::Dbu;

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 600.0;
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
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Levels: {programme}</title>\n<style>\n{PAGE_CSS}\n{CSS}</style>\n</head>\n<body>\n\
         <main>\n<h1>Levels: {programme}</h1>\n{facts}{picture}{headroom}{ceilings}{floors}{notes}\
         <footer>Penstock {version}. This file is complete in itself and works offline.</footer>\n\
         </main>\n</body>\n</html>\n",
        facts = list(&about.facts),
        picture = picture(diagram),
        headroom = headroom(diagram),
        ceilings = ceilings(diagram),
        floors = floors(diagram),
        notes = list(&about.notes),
        version = esc(&about.program_version),
    )
}

/// The commands of the level diagram as SVG.
fn picture(diagram: &LevelDiagram) -> String {
    let about = "Levels in dBu from the bus to the return: ceilings, programme, noise. \
                 Every figure stands in the tables below.";
    let mut svg = Svg::new("levels", "Level diagram", about, WIDTH, HEIGHT);
    for command in draw(diagram, WIDTH, HEIGHT) {
        match command {
            Command::Line {
                from,
                to,
                width,
                dash,
                ink,
            } => {
                let dash = dash.map_or_else(String::new, |[on, off]| {
                    format!(" stroke-dasharray=\"{} {}\"", num(on), num(off))
                });
                svg.raw(&format!(
                    "<line class=\"lv-{}\" stroke-width=\"{}\"{dash} x1=\"{}\" y1=\"{}\" \
                     x2=\"{}\" y2=\"{}\"/>",
                    name(ink),
                    num(width),
                    num(from[0]),
                    num(from[1]),
                    num(to[0]),
                    num(to[1])
                ));
            }
            Command::Text {
                at,
                side,
                bold,
                words,
                ink,
                ..
            } => {
                let anchor = match side {
                    Side::Start => Anchor::Start,
                    Side::Middle => Anchor::Middle,
                    Side::End => Anchor::End,
                };
                let weight = if bold { "lv-heavy" } else { "lv-small" };
                let class = format!("lv-words {weight} lv-on-{}", name(ink));
                svg.text(&class, anchor, at[0], at[1], &words);
            }
        }
    }
    svg.finish("fig")
}

fn name(ink: Ink) -> &'static str {
    match ink {
        Ink::Scale => "scale",
        Ink::Plain => "plain",
        Ink::Peak => "peak",
        Ink::Rms => "rms",
        Ink::Ceiling => "ceiling",
        Ink::Floor => "floor",
    }
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
