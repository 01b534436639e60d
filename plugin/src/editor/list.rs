//! Several numbers that are one list: shown and typed as one text.

use super::field::{delete_pressed, field_id, typed_digit};
use super::row::{self, accessible_name, width_of};
use super::theme::{figures, palette};
use super::{Desk, entry, held};
use egui::{Align2, CursorIcon, Response, Role, Sense, Ui, WidgetInfo, pos2};

/// Room around the text.
const PADDING: f32 = 7.0;
/// A longer one goes on out of sight.
const WIDEST: f32 = 180.0;
/// What stands for an empty one.
const EMPTY: &str = "none stated";

/// The width the list that begins with control `i` needs.
pub(crate) fn need(ui: &Ui, desk: &impl Desk, i: usize) -> f32 {
    let text = width_of(ui, &shown(desk, i), figures());
    let empty = width_of(ui, EMPTY, figures());
    text.clamp(empty, WIDEST) + 2.0 * PADDING
}

fn shown(desk: &impl Desk, i: usize) -> String {
    let text = desk.list_text(i);
    if text.is_empty() {
        EMPTY.to_owned()
    } else {
        text
    }
}

/// Draws and runs it: a click, Enter or a digit to type; double click or Delete to empty it.
pub(crate) fn list(ui: &mut Ui, desk: &mut impl Desk, i: usize, label_width: f32) {
    let need = need(ui, desk, i);
    let rect = row::place(ui, desk, i, label_width, need, None);
    let id = field_id(desk, i);
    if entry::show(ui, desk, i, rect, id) {
        return;
    }
    let text = shown(desk, i);
    let response = ui
        .interact(rect, id, Sense::click())
        .on_hover_cursor(CursorIcon::Text);
    paint(ui, &text, &response);
    let name = accessible_name(&desk.controls()[i]);
    response.widget_info(|| WidgetInfo::labeled(Role::TextInput, true, &name));
    ui.ctx()
        .accesskit_node_builder(id, |node| node.set_value(text.clone()));
    if response.double_clicked() || delete_pressed(ui, &response) {
        held::set_default(ui, desk, i);
    } else if response.clicked() {
        entry::open(ui, i, desk.list_text(i), true, response.has_focus());
    } else if let Some(digit) = typed_digit(ui, &response) {
        entry::open(ui, i, digit, false, true);
    }
    let help = &desk.controls()[i].help;
    let tip = format!("{help}\nNow: {text}\nTyped as 20, 35, 50 or 20 to 65 by 5.");
    response.on_hover_text(tip);
}

fn paint(ui: &Ui, text: &str, response: &Response) {
    let p = palette(ui);
    let rect = response.rect;
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    painter.rect_filled(rect, 2.0, p.field);
    let room = rect.width() - 2.0 * PADDING;
    let text = fitting(ui, text, room);
    let end = pos2(rect.right() - PADDING, rect.center().y - 1.0);
    painter.text(end, Align2::RIGHT_CENTER, text, figures(), p.ink);
    row::outline(ui, rect, response);
}

/// As much of it as there is room for.
fn fitting(ui: &Ui, text: &str, room: f32) -> String {
    if width_of(ui, text, figures()) <= room {
        return text.to_owned();
    }
    let parts: Vec<&str> = text.split(", ").collect();
    let shorter = (1..parts.len()).rev().map(|count| {
        let last = parts[parts.len() - 1];
        format!("{}, \u{2026} {last}", parts[..count].join(", "))
    });
    let mut shorter = shorter.filter(|text| width_of(ui, text, figures()) <= room);
    shorter.next().unwrap_or_else(|| "\u{2026}".to_owned())
}
