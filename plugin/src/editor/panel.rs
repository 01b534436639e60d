//! What presets and rig share: a frame in place of the sections, typed lines, buttons with tooltips.

use super::theme::{captions, palette};
use egui::{Button, Frame, Id, Key, Label, Margin, Response, RichText, TextEdit, Ui};

/// A frame over the whole width.
pub(crate) fn framed(ui: &mut Ui, content: impl FnOnce(&mut Ui)) {
    let p = palette(ui);
    Frame::new()
        .fill(p.field)
        .stroke(egui::Stroke::new(1.0, p.outline))
        .corner_radius(2.0)
        .inner_margin(Margin::symmetric(10, 7))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            content(ui);
        });
}

/// A small sentence; a warning has a mark too, for colour never means anything alone.
pub(crate) fn sentence(ui: &mut Ui, text: &str, warns: bool) {
    let p = palette(ui);
    let (text, colour) = if warns {
        (format!("! {text}"), p.warn)
    } else {
        (text.to_owned(), p.dim)
    };
    ui.add(Label::new(RichText::new(text).font(captions()).color(colour)).wrap());
}

/// A button that says what follows, also while it cannot be pressed.
pub(crate) fn button(ui: &mut Ui, word: &str, enabled: bool, tip: &str) -> bool {
    ui.add_enabled(enabled, Button::new(word))
        .on_hover_text(tip)
        .on_disabled_hover_text(tip)
        .clicked()
}

/// What came of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Typed {
    /// Still being typed.
    Open,
    /// Enter.
    Entered,
    /// Escape.
    Left,
}

/// A line to type in, by the name that a screen reader says.
pub(crate) fn line(ui: &mut Ui, id: Id, name: &str, text: &mut String, width: f32) -> Typed {
    // Before the text field sees it: Escape would only take the focus.
    let had = ui.memory(|memory| memory.has_focus(id));
    let escape = had && ui.input(|input| input.key_pressed(Key::Escape));
    let response = text_edit(ui, id, name, text, width);
    if escape {
        Typed::Left
    } else if response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
        Typed::Entered
    } else {
        Typed::Open
    }
}

fn text_edit(ui: &mut Ui, id: Id, name: &str, text: &mut String, width: f32) -> Response {
    let p = palette(ui);
    let edit = TextEdit::singleline(text)
        .id(id)
        .text_color(p.ink)
        .margin(Margin::symmetric(5, 2))
        .desired_width(width - 10.0);
    let response = ui.add(edit);
    ui.ctx()
        .accesskit_node_builder(id, |node| node.set_label(name.to_owned()));
    response
}
