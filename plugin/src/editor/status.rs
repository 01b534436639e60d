//! What is said in words: bypass, errors, the pad as built.

use super::Readout;
use super::theme::{palette, words};
use crate::tone::Tone;
use egui::{Color32, Frame, Label, Margin, RichText, Ui};

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

/// Draws the pad in words, what was asked for under the pointer.
pub(crate) fn pad(ui: &mut Ui, readout: &Readout) {
    let p = palette(ui);
    if readout.pad_built.is_empty() {
        return;
    }
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 6.0;
        let word = RichText::new("Pad built").font(words()).color(p.dim);
        ui.add(Label::new(word).extend());
        let text = RichText::new(&readout.pad_built).font(words()).color(p.ink);
        let built = ui.add(Label::new(text).wrap());
        if !readout.pad_requested.is_empty() {
            built.on_hover_text(format!("Asked for: {}", readout.pad_requested));
        }
    });
}
