//! The list and its search: one stop of the Tab key, arrows inside.

use super::super::field::keep_arrows;
use super::super::row::{self, ROW};
use super::super::theme::{captions, palette, words};
use super::super::{Desk, panel};
use super::{Browser, LINE, apply};
use crate::library::Entry;
use egui::{Align2, Id, Key, Modifiers, Rect, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};

/// The id of a preset's line.
pub(crate) fn entry_id(factory: bool, name: &str) -> Id {
    Id::unique("penstock.preset").with((factory, name))
}

/// The id of the search.
pub(crate) fn search_id() -> Id {
    Id::unique("penstock.preset.search")
}

/// Draws and runs search and list.
pub(super) fn list(
    ui: &mut Ui,
    desk: &mut impl Desk,
    browser: &mut Browser,
    entries: &[Entry],
    height: f32,
) {
    search(ui, browser);
    let found: Vec<&Entry> = entries
        .iter()
        .filter(|e| e.matches(&browser.search))
        .collect();
    ScrollArea::vertical()
        .id_salt("preset list")
        .auto_shrink([false, false])
        .max_height(height - LINE)
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            if found.is_empty() {
                panel::sentence(ui, "No preset has all of these words.", false);
            }
            let chosen = found.iter().position(|entry| browser.is_chosen(entry));
            let mut own = false;
            let mut moved = None;
            for (k, entry) in found.iter().enumerate() {
                if !entry.factory && !own {
                    own = true;
                    heading(ui, "Your own");
                }
                // One stop of the Tab key for all.
                let stop = k == chosen.unwrap_or(0);
                if let Some(by) = line(ui, desk, browser, entry, stop) {
                    moved = Some(k.saturating_add_signed(by).min(found.len() - 1));
                }
            }
            // Only now: a line drawn after it has asked would still be no stop, and lose the focus.
            if let Some(to) = moved.map(|to| found[to]) {
                browser.choose(to);
                let id = entry_id(to.factory, &to.name);
                ui.memory_mut(|memory| memory.request_focus(id));
                ui.data_mut(|data| data.insert_temp(shown_id(), id));
                ui.ctx().request_repaint();
            }
        });
}

/// The line to bring into view in the next picture.
fn shown_id() -> Id {
    Id::unique("penstock.preset.shown")
}

fn search(ui: &mut Ui, browser: &mut Browser) {
    ui.horizontal(|ui| {
        ui.label("Search");
        let width = ui.available_width();
        let typed = panel::line(
            ui,
            search_id(),
            "Search presets",
            &mut browser.search,
            width,
        );
        if typed == panel::Typed::Left {
            browser.search.clear();
        }
    });
}

fn heading(ui: &mut Ui, word: &str) {
    let (id, rect) = ui.allocate_space(vec2(ui.available_width(), ROW));
    let at = rect.left_bottom() + vec2(0.0, -3.0);
    let colour = palette(ui).dim;
    ui.painter()
        .text(at, Align2::LEFT_BOTTOM, word, captions(), colour);
    let response = ui.interact(rect, id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, word));
}

/// Draws one line, and says by how many lines the arrows have moved from it.
fn line(
    ui: &mut Ui,
    desk: &mut impl Desk,
    browser: &mut Browser,
    entry: &Entry,
    stop: bool,
) -> Option<isize> {
    let (_, rect) = ui.allocate_space(vec2(ui.available_width(), ROW));
    let id = entry_id(entry.factory, &entry.name);
    let sense = if stop {
        Sense::click()
    } else {
        Sense::CLICK - Sense::FOCUSABLE
    };
    let response = ui.interact(rect, id, sense);
    let chosen = browser.is_chosen(entry);
    let name = format!("Preset {}", entry.name);
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, chosen, &name));
    paint(ui, entry, rect, chosen, response.hovered());
    if response.has_focus() {
        row::outline(ui, rect, &response);
    }
    let asked = ui.data(|data| data.get_temp::<Id>(shown_id())) == Some(id);
    if asked {
        ui.data_mut(|data| data.remove::<Id>(shown_id()));
        ui.scroll_to_rect(rect, None);
    }
    let focused = response.has_focus();
    if response.clicked() {
        browser.choose(entry);
        browser.said = None;
        response.request_focus();
        if chosen && focused && ui.input(|input| input.key_pressed(Key::Enter)) {
            apply(ui, desk, entry);
        }
    }
    if response.double_clicked() {
        apply(ui, desk, entry);
    }
    if !entry.about.is_empty() {
        response.on_hover_text(&entry.about);
    }
    if !focused {
        return None;
    }
    keep_arrows(ui, id);
    let by = ui.input_mut(|input| {
        let mut presses = |key| input.count_and_consume_key(Modifiers::NONE, key) as isize;
        presses(Key::ArrowDown) - presses(Key::ArrowUp)
            + 10 * (presses(Key::PageDown) - presses(Key::PageUp))
            + 1_000_000 * (presses(Key::End) - presses(Key::Home))
    });
    (by != 0).then_some(by)
}

fn paint(ui: &Ui, entry: &Entry, rect: Rect, chosen: bool, hovered: bool) {
    let p = palette(ui);
    let damaged = entry.plan.is_err();
    let (fill, ink) = match (chosen, hovered) {
        (true, _) => (Some(p.ink), p.paper),
        (false, true) => (Some(p.hair), p.ink),
        (false, false) if damaged => (None, p.warn),
        (false, false) => (None, p.ink),
    };
    if let Some(fill) = fill {
        ui.painter().rect_filled(rect, 2.0, fill);
    }
    let text = if damaged {
        format!("! {}", entry.name)
    } else {
        entry.name.clone()
    };
    let mut job = egui::text::LayoutJob::simple_singleline(text, words(), ink);
    job.wrap = egui::text::TextWrapping::truncate_at_width(rect.width() - 12.0);
    let galley = ui.painter().layout_job(job);
    let at = rect.left_center() + vec2(6.0, -galley.size().y / 2.0);
    ui.painter().galley(at, galley, ink);
}
