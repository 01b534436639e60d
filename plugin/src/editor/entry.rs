//! Typing a value in place of a field. One entry is open at a time.

use super::row::accessible_name;
use super::theme::{figures, palette};
use super::{Desk, Kind, held};
use egui::text::CCursorRange;
use egui::text_edit::TextEditState;
use egui::{Align2, Context, Id, Key, Margin, PointerButton, Rect, TextEdit, Ui};

/// The entry that is open.
#[derive(Clone)]
struct Entry {
    index: usize,
    text: String,
    select_all: bool,
    /// Opened from the keyboard: the focus goes back to the field.
    keyboard: bool,
    /// Not drawn yet, so not focused yet.
    fresh: bool,
    /// Why what Enter found could not be read.
    refused: Option<String>,
}

fn slot() -> Id {
    Id::unique("penstock.entry")
}

fn load(ctx: &Context) -> Option<Entry> {
    ctx.data(|data| data.get_temp(slot()))
}

fn store(ctx: &Context, entry: Option<Entry>) {
    ctx.data_mut(|data| {
        if let Some(entry) = entry {
            data.insert_temp(slot(), entry);
        } else {
            data.remove::<Entry>(slot());
        }
    });
}

/// Opens the entry of control `i` on a text.
pub(crate) fn open(ui: &Ui, i: usize, text: String, select_all: bool, keyboard: bool) {
    let entry = Entry {
        index: i,
        text,
        select_all,
        keyboard,
        fresh: true,
        refused: None,
    };
    store(ui.ctx(), Some(entry));
    ui.ctx().request_repaint();
}

/// Draws the entry of control `i` in `rect` if it is open, and says whether it was. `field` is the
/// id that gets the focus back.
pub(crate) fn show(ui: &mut Ui, desk: &mut impl Desk, i: usize, rect: Rect, field: Id) -> bool {
    let Some(mut entry) = load(ui.ctx()).filter(|entry| entry.index == i) else {
        return false;
    };
    // The first click of a double click has opened this.
    let hovered = ui.rect_contains_pointer(rect);
    if hovered && ui.input(|input| input.pointer.button_double_clicked(PointerButton::Primary)) {
        store(ui.ctx(), None);
        held::set_default(ui, desk, i);
        return false;
    }
    let id = field.with("entry");
    let outcome = edit(ui, &mut entry, rect, id);
    let name = accessible_name(&desk.controls()[i]);
    ui.ctx()
        .accesskit_node_builder(id, |node| node.set_label(format!("{name}, typed")));
    match outcome {
        Outcome::Open => store(ui.ctx(), Some(entry)),
        Outcome::Cancelled => close(ui, &entry, field),
        Outcome::Left => {
            // What cannot be read changes nothing.
            let _ = take(ui, desk, &entry);
            store(ui.ctx(), None);
        }
        Outcome::Entered => match take(ui, desk, &entry) {
            Ok(()) => close(ui, &entry, field),
            Err(refused) => {
                entry.refused = Some(refused);
                entry.fresh = true;
                entry.select_all = true;
                store(ui.ctx(), Some(entry));
            }
        },
    }
    true
}

/// Sets what is typed; says in words why it cannot be.
fn take(ui: &Ui, desk: &mut impl Desk, entry: &Entry) -> Result<(), String> {
    let i = entry.index;
    if let Kind::List(_) = desk.controls()[i].kind {
        let positions = desk.parse_list(i, entry.text.trim())?;
        held::set_list(ui, desk, i, &positions);
        return Ok(());
    }
    let at = read(desk, entry).ok_or_else(|| refusal(desk, entry))?;
    held::set_once(ui, desk, i, at);
    Ok(())
}

/// What is typed as a position; outside the range is its end.
fn read(desk: &impl Desk, entry: &Entry) -> Option<f32> {
    desk.parse(entry.index, entry.text.trim())
        .filter(|at| at.is_finite())
        .map(|at| at.clamp(0.0, 1.0))
}

/// What was typed, and what would be taken.
fn refusal(desk: &impl Desk, entry: &Entry) -> String {
    let (least, most) = (desk.text(entry.index, 0.0), desk.text(entry.index, 1.0));
    format!(
        "\u{201c}{}\u{201d} is no value here; from {least} to {most} is taken",
        entry.text.trim()
    )
}

enum Outcome {
    Open,
    Cancelled,
    Left,
    Entered,
}

fn edit(ui: &mut Ui, entry: &mut Entry, rect: Rect, id: Id) -> Outcome {
    let p = palette(ui);
    let frame = egui::Frame::new()
        .fill(p.field)
        .stroke(egui::Stroke::new(2.0, p.accent))
        .corner_radius(2.0);
    let edit = TextEdit::singleline(&mut entry.text)
        .id(id)
        .font(figures())
        .text_color(p.ink)
        .align(Align2::RIGHT_CENTER)
        .margin(Margin::symmetric(5, 2))
        .desired_width(rect.width())
        .min_size(rect.size())
        .frame(frame);
    // Before the text field sees it: Escape would only take the focus.
    let escape = ui.input(|input| input.key_pressed(Key::Escape));
    let response = ui.put(rect, edit);
    if entry.fresh {
        entry.fresh = false;
        response.request_focus();
        let length = entry.text.chars().count();
        let mut state = TextEditState::load(ui.ctx(), id).unwrap_or_default();
        let start = if entry.select_all { 0 } else { length };
        let range = CCursorRange::two(
            egui::text::CCursor::new(start),
            egui::text::CCursor::new(length),
        );
        state.cursor.set_char_range(Some(range));
        state.store(ui.ctx(), id);
        ui.ctx().request_repaint();
        return Outcome::Open;
    }
    if let Some(refused) = &entry.refused {
        egui::Tooltip::always_open(
            ui.ctx().clone(),
            ui.layer_id(),
            id.with("refused"),
            egui::PopupAnchor::from(&response),
        )
        .show(|ui| ui.label(refused));
    }
    if response.changed() {
        entry.refused = None;
    }
    if escape {
        Outcome::Cancelled
    } else if response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
        Outcome::Entered
    } else if response.has_focus() {
        Outcome::Open
    } else {
        Outcome::Left
    }
}

fn close(ui: &Ui, entry: &Entry, field: Id) {
    store(ui.ctx(), None);
    if entry.keyboard {
        ui.memory_mut(|memory| memory.request_focus(field));
    }
    ui.ctx().request_repaint();
}
