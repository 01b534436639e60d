//! Notes in words, each with the move it suggests as a button: one gesture, which can be undone.

use super::row::{accessible_name, width_of};
use super::theme::{captions, palette, titles, words};
use super::{Desk, Note, Readout, held};
use egui::{Align2, Button, Label, RichText, Ui, WidgetInfo, pos2, vec2};

/// Room of the mark before a note.
const MARK: f32 = 14.0;
/// Room that a button takes beside its words.
const FRAME: f32 = 24.0;

/// A heading of what stands beside or below the diagram.
pub(crate) fn heading(ui: &mut Ui, text: &str) {
    let p = palette(ui);
    let response = ui.add(Label::new(RichText::new(text).font(titles()).color(p.ink)));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Heading, true, text));
}

/// Draws every note.
pub(crate) fn notes(ui: &mut Ui, desk: &mut impl Desk, now: &Readout) {
    if now.notes.is_empty() {
        let text = if now.holds_loudest {
            "Nothing is unwise so far."
        } else {
            "Nothing is unwise, and nothing has been heard yet."
        };
        quiet(ui, text);
    }
    for note in &now.notes {
        show(ui, desk, now, note);
    }
    if now.holds_loudest {
        let tip = "Forgets the loudest passage: what is played from now on counts.";
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            ui.add_space(MARK);
            if ui.button("New passage").on_hover_text(tip).clicked() {
                desk.forget_loudest();
            }
        });
    }
}

/// A sentence in place of what is not there.
pub(crate) fn quiet(ui: &mut Ui, text: &str) {
    let dim = palette(ui).dim;
    ui.add(Label::new(RichText::new(text).font(captions()).color(dim)).wrap());
}

/// Draws one note and runs its button.
pub(crate) fn show(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, note: &Note) {
    let p = palette(ui);
    let colour = if note.unwise { p.warn } else { p.ink };
    let button = note.step.map(|(i, to)| action(desk, i, to));
    let text_width = width_of(ui, &note.text, words());
    let button_width = button
        .as_ref()
        .map_or(0.0, |text| width_of(ui, text, words()) + FRAME);
    let one_line = MARK + text_width + button_width <= ui.available_width();
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        let (_, mark) = ui.allocate_space(vec2(MARK, 17.0));
        let sign = if note.unwise { "!" } else { "\u{2022}" };
        let at = pos2(mark.left() + 4.0, mark.center().y);
        ui.painter()
            .text(at, Align2::CENTER_CENTER, sign, titles(), colour);
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing = vec2(8.0, 3.0);
            let label = Label::new(RichText::new(&note.text).font(words()).color(colour)).wrap();
            if one_line {
                ui.horizontal(|ui| {
                    ui.add(label);
                    run(ui, desk, now, note, button.as_deref());
                });
            } else {
                ui.add(label);
                run(ui, desk, now, note, button.as_deref());
            }
        });
    });
}

/// What a step does, in words.
fn action(desk: &impl Desk, i: usize, to: f32) -> String {
    let name = accessible_name(&desk.controls()[i]);
    format!("Set {} to {}", name, desk.text(i, to))
}

fn run(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, note: &Note, button: Option<&str>) {
    let (Some((i, to)), Some(text)) = (note.step, button) else {
        return;
    };
    let from = desk.text(i, desk.normalized(i));
    let tip = format!("From {from}, as one choice: Undo takes it back.");
    if ui.add(Button::new(text)).on_hover_text(tip).clicked() {
        held::finish(ui, desk);
        held::set_once(ui, desk, i, to);
        // What clipped before says nothing of what comes.
        if now.clipped_send_frames + now.clipped_return_frames > 0 {
            desk.clear_clips();
        }
    }
}
