//! What is said in words: bypass, errors, the pad asked for and built, warnings.

use super::Readout;
use super::theme::{palette, words};
use crate::tone::Tone;
use egui::{Color32, Frame, Label, Margin, RichText, Ui};

/// Width of the words at the left.
const WORDS: f32 = 76.0;

/// Draws what must be seen first.
pub(crate) fn banners(ui: &mut Ui, readout: &Readout, tone: Tone) {
    let p = palette(ui);
    if let Some(error) = &readout.error {
        let text = format!("Error: {error}");
        banner(ui, &text, p.warn);
    }
    if tone != Tone::Off {
        let heard = if readout.bypassed {
            "Bypass silences it."
        } else {
            "It stops by itself after a minute."
        };
        let text = format!(
            "Alignment tone in place of the output: {}. {heard}",
            tone.name()
        );
        banner(ui, &text, p.accent);
    }
    if readout.bypassed {
        let text = "Bypassed: the input passes unchanged, at the same latency.";
        banner(ui, text, p.ink);
    }
}

fn banner(ui: &mut Ui, text: &str, fill: Color32) {
    let paper = palette(ui).paper;
    Frame::new()
        .fill(fill)
        .corner_radius(2.0)
        .inner_margin(Margin::symmetric(8, 4))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.add(Label::new(RichText::new(text).color(paper)).wrap());
        });
}

/// Draws the pad in words and the warnings.
pub(crate) fn notes(ui: &mut Ui, readout: &Readout) {
    let p = palette(ui);
    if !readout.pad_requested.is_empty() {
        line(ui, "Pad asked", &readout.pad_requested, p.dim);
    }
    if !readout.pad_built.is_empty() {
        line(ui, "Pad built", &readout.pad_built, p.ink);
    }
    for note in &readout.notes {
        line(ui, "! Note", note, p.warn);
    }
}

fn line(ui: &mut Ui, word: &str, text: &str, colour: Color32) {
    let p = palette(ui);
    let word_colour = if colour == p.warn { p.warn } else { p.dim };
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        let start = ui.cursor().left();
        ui.add(Label::new(RichText::new(word).font(words()).color(word_colour)).extend());
        let used = ui.cursor().left() - start;
        ui.add_space((WORDS - used).max(6.0));
        ui.add(Label::new(RichText::new(text).font(words()).color(colour)).wrap());
    });
}
