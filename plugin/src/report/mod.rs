//! The report of a comparison: one HTML file that opens offline in any browser and prints well.
//!
//! [`render`] takes the finished figures of [`Report`] and returns the page: rig, how to
//! read it, and for each recording players, level diagram, waveforms, spectra, harmonics, trims,
//! pads and plans. Every picture is an inline SVG with its figures as a table beside it; settings
//! are told apart by number, dash and marker shape, never by colour alone. Nothing is fetched:
//! style and script stand in the page, sound is held as data URIs.

pub mod data;
mod diagram;
mod harmonics;
pub mod level_page;
mod level_tables;
mod player;
mod recording;
mod scale;
mod series;
pub mod sheet;
mod spectrum;
mod style;
mod svg;
mod tables;
pub mod text;
mod waveform;
mod words;

#[cfg(test)]
mod check;

pub use data::*;
pub use player::{
    LONGEST_EXCERPT_SECONDS, PLAYERS_BYTES, encode_wav_16, excerpt_seconds, soften_ends,
};
use recording::plain_name;
use text::{esc, typeset};

/// Writes the whole report as one HTML page.
pub fn render(report: &Report) -> String {
    let mut page = String::with_capacity(player_bytes(report) + 200_000);
    page.push_str(&head(report));
    page.push_str("<body>\n<main>\n");
    page.push_str(&title_block(report));
    page.push_str(&warnings(report));
    page.push_str("<section id=\"rig\">\n<h2>Rig</h2>\n");
    page.push_str(&fact_list("facts wide", &report.rig));
    for note in &report.notes {
        page.push_str(&format!("<p>{}</p>\n", esc(&typeset(note))));
    }
    page.push_str("</section>\n");
    page.push_str(words::HOW_TO_READ);
    for (i, r) in report.recordings.iter().enumerate() {
        page.push_str(&recording::section(i + 1, r));
    }
    page.push_str(words::CAUTIONS);
    page.push_str(&format!(
        "<footer>Penstock {}, circuit model version {}. This file is complete in itself and works \
         offline.</footer>\n</main>\n<script>\n{}</script>\n</body>\n</html>\n",
        esc(&report.program_version),
        report.model_version,
        style::SCRIPT
    ));
    page
}

/// Room the players need as text.
fn player_bytes(report: &Report) -> usize {
    let of = |wav: &Vec<u8>| wav.len().div_ceil(3) * 4 + 200;
    report
        .recordings
        .iter()
        .map(|r| of(&r.player_wav) + r.settings.iter().map(|s| of(&s.player_wav)).sum::<usize>())
        .sum()
}

fn head(report: &Report) -> String {
    let names: Vec<String> = report
        .recordings
        .iter()
        .map(|r| esc(&plain_name(r)))
        .collect();
    let of = if names.is_empty() {
        String::new()
    } else {
        format!(": {}", names.join(", "))
    };
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta name=\"color-scheme\" content=\"light dark\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'; script-src 'unsafe-inline'; media-src data:\"/>\n\
         <title>Penstock comparison{of}</title>\n<style>\n{}</style>\n</head>\n",
        style::CSS
    )
}

/// What the report is about, beside the facts of its making, as on a drawing.
fn title_block(report: &Report) -> String {
    let names: Vec<String> = report
        .recordings
        .iter()
        .map(|r| esc(&plain_name(r)))
        .collect();
    let mut out = String::from(
        "<header>\n<div class=\"job\">\n<p class=\"over\">Penstock compare</p>\n<h1>Settings at equal loudness</h1>\n",
    );
    if !names.is_empty() {
        out.push_str(&format!("<p class=\"names\">{}</p>\n", names.join(", ")));
    }
    out.push_str(words::JOB);
    out.push_str("<nav aria-label=\"Contents\"><ul>\n<li><a href=\"#rig\">Rig</a></li>\n");
    out.push_str("<li><a href=\"#reading\">How to read</a></li>\n");
    for (i, name) in names.iter().enumerate() {
        out.push_str(&format!("<li><a href=\"#r{}\">{name}</a></li>\n", i + 1));
    }
    out.push_str("<li><a href=\"#cautions\">Cautions</a></li>\n</ul></nav>\n</div>\n");
    let settings: usize = report.recordings.iter().map(|r| r.settings.len()).sum();
    let facts = [
        ("Recordings", report.recordings.len().to_string()),
        ("Settings heard", settings.to_string()),
        (
            "Program",
            format!("Penstock {}", esc(&report.program_version)),
        ),
        ("Circuit", format!("model version {}", report.model_version)),
    ];
    out.push_str("<dl class=\"block\">\n");
    for (name, value) in facts {
        out.push_str(&format!("<div><dt>{name}</dt><dd>{value}</dd></div>\n"));
    }
    out.push_str("</dl>\n</header>\n");
    out
}

/// Every warning of the report in one place, each with what it belongs to.
fn warnings(report: &Report) -> String {
    let mut lines: Vec<String> = report.warnings.iter().map(|w| esc(&typeset(w))).collect();
    let several = report.recordings.len() > 1;
    for r in &report.recordings {
        let whose = if several {
            format!("{}, ", esc(&plain_name(r)))
        } else {
            String::new()
        };
        for s in &r.settings {
            for w in &s.warnings {
                lines.push(format!(
                    "{whose}setting {} ({}): {}",
                    s.id,
                    esc(&typeset(&s.name)),
                    esc(&typeset(w))
                ));
            }
        }
    }
    if lines.is_empty() {
        return String::new();
    }
    let items: String = lines.iter().map(|l| format!("<li>{l}</li>\n")).collect();
    format!("<section class=\"warn\">\n<h2>Warnings</h2>\n<ul>\n{items}</ul>\n</section>\n")
}

/// Facts as a description list.
fn fact_list(class: &str, facts: &[Fact]) -> String {
    if facts.is_empty() {
        return String::new();
    }
    let rows: String = facts
        .iter()
        .map(|f| {
            format!(
                "<div><dt>{}</dt><dd>{}</dd></div>\n",
                esc(&f.name),
                esc(&typeset(&f.value))
            )
        })
        .collect();
    format!("<dl class=\"{class}\">\n{rows}</dl>\n")
}
