//! The browser of presets, in place of the sections: the diagram above shows what each one does.
//!
//! Choosing shows what would change; applying is one gesture a control and one step of undo. The rig
//! stays as it is.

mod list;
mod task;

use super::panel::{self, button as press, sentence};
use super::row::accessible_name;
use super::theme::{captions, palette, titles};
use super::{Desk, choice, held};
use crate::library::Entry;
use egui::{Context, Id, Key, Label, Layout, RichText, ScrollArea, Ui, vec2};
use task::Task;

#[cfg(test)]
pub(crate) use list::{entry_id, search_id};
#[cfg(test)]
pub(crate) use task::line_id;

/// Height of list and description.
const HEIGHT: f32 = 138.0;
/// Room for one line and its gap.
const LINE: f32 = 26.0;
/// Width of the list, where there is room for both.
const LIST: f32 = 250.0;
/// Narrower, the description stands under the list.
const BESIDE: f32 = 460.0;

/// What the browser remembers while it is open.
#[derive(Clone, Default)]
struct Browser {
    search: String,
    /// Whether it comes with the program, and its name.
    chosen: Option<(bool, String)>,
    task: Task,
    /// What came of the last task: whether it failed, and words.
    said: Option<(bool, String)>,
}

impl Browser {
    fn is_chosen(&self, entry: &Entry) -> bool {
        let chosen = self.chosen.as_ref();
        chosen.is_some_and(|(factory, name)| *factory == entry.factory && *name == entry.name)
    }

    fn choose(&mut self, entry: &Entry) {
        self.chosen = Some((entry.factory, entry.name.clone()));
    }
}

fn slot() -> Id {
    Id::unique("penstock.presets")
}

fn load(ctx: &Context) -> Option<Browser> {
    ctx.data(|data| data.get_temp(slot()))
}

fn store(ctx: &Context, browser: Option<Browser>) {
    ctx.data_mut(|data| {
        data.remove::<Browser>(slot());
        if let Some(browser) = browser {
            data.insert_temp(slot(), browser);
        }
    });
    ctx.request_repaint();
}

/// Whether the browser is open.
pub(crate) fn is_open(ctx: &Context) -> bool {
    load(ctx).is_some()
}

/// The button of the top line that opens and closes it; nothing where there are no presets.
pub(crate) fn button(ui: &mut Ui, desk: &mut impl Desk) {
    let Some(library) = desk.library() else {
        return;
    };
    let open = is_open(ui.ctx());
    let response = ui
        .add(egui::Button::new("Presets").selected(open))
        .on_hover_text("Saved choices of pad, gain and trims; none of them changes your rig.");
    if response.clicked() {
        library.refresh();
        store(ui.ctx(), (!open).then(Browser::default));
    }
}

/// Draws and runs the browser if it is open, and says whether it is.
pub(crate) fn browser(ui: &mut Ui, desk: &mut impl Desk) -> bool {
    let Some(mut browser) = load(ui.ctx()) else {
        return false;
    };
    let Some(entries) = desk.library().map(|library| library.entries().to_vec()) else {
        store(ui.ctx(), None);
        return false;
    };
    // Escape leaves what is typed or asked before it closes the browser.
    let busy = ui.ctx().text_edit_focused() || browser.task != Task::None;
    let mut close = false;
    panel::framed(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        body(ui, desk, &mut browser, &entries);
        close = foot(ui, desk, &mut browser, &entries);
    });
    let escape = !busy && !egui::Popup::is_any_open(ui.ctx());
    close |= escape && ui.input(|input| input.key_pressed(Key::Escape));
    ui.ctx().data_mut(|data| data.insert_temp(slot(), browser));
    if close {
        store(ui.ctx(), None);
    }
    true
}

fn body(ui: &mut Ui, desk: &mut impl Desk, browser: &mut Browser, entries: &[Entry]) {
    let width = ui.available_width();
    if width < BESIDE {
        list::list(ui, desk, browser, entries, HEIGHT);
        description(ui, desk, browser, entries, HEIGHT);
        return;
    }
    let top_down = Layout::top_down(egui::Align::Min);
    ui.horizontal_top(|ui| {
        ui.allocate_ui_with_layout(vec2(LIST, HEIGHT), top_down, |ui| {
            ui.set_width(LIST);
            list::list(ui, desk, browser, entries, HEIGHT);
        });
        ui.add_space(8.0);
        let rest = ui.available_width();
        ui.allocate_ui_with_layout(vec2(rest, HEIGHT), top_down, |ui| {
            ui.set_width(rest);
            description(ui, desk, browser, entries, HEIGHT);
        });
    });
}

/// The chosen preset: what it does, what it would change, and what can be done with it.
fn description(
    ui: &mut Ui,
    desk: &mut impl Desk,
    browser: &mut Browser,
    entries: &[Entry],
    height: f32,
) {
    let Some(entry) = entries.iter().find(|entry| browser.is_chosen(entry)) else {
        sentence(
            ui,
            "Choose a preset to see what it would change. Enter or a double click applies it; your rig \
             stays as it is.",
            false,
        );
        return;
    };
    ui.add(Label::new(RichText::new(&entry.name).font(titles())).truncate());
    ScrollArea::vertical()
        .id_salt("preset description")
        .auto_shrink([false, false])
        .max_height(height - 2.0 * LINE)
        .show(ui, |ui| match &entry.plan {
            Ok(plan) => {
                if !entry.about.is_empty() {
                    ui.add(Label::new(&entry.about).wrap());
                }
                let positions = desk.choices(plan);
                sentence(ui, &changes(ui, desk, &positions), false);
            }
            Err(words) => sentence(ui, &format!("{words}. The file is left as it is."), true),
        });
    // While something is asked, it is not asked twice.
    let free = browser.task == Task::None;
    ui.horizontal(|ui| {
        let tip = "Sets every choice as the preset has it: one step of undo. The loudness may jump, so \
                   turn monitors down first.";
        if press(ui, "Apply", entry.plan.is_ok(), tip) {
            apply(ui, desk, entry);
        }
        let tip = if entry.factory {
            "Comes with the program and stays as it is: save your own beside it."
        } else {
            "Changes the file in your presets folder."
        };
        if press(ui, "Rename", !entry.factory && free, tip) {
            browser.begin(Task::Rename(entry.name.clone()));
        }
        if press(ui, "Delete", !entry.factory && free, tip) {
            browser.begin(Task::Delete);
        }
    });
}

/// What applying would move, in words.
fn changes(ui: &Ui, desk: &impl Desk, positions: &[(usize, f32)]) -> String {
    let moved: Vec<String> = positions
        .iter()
        .filter(|(i, _)| !desk.is_absent(*i))
        .filter_map(|&(i, to)| {
            let [from, to] = [held::shown(ui, desk, i), to].map(|at| choice::text(desk, i, at));
            (from != to).then(|| {
                let name = accessible_name(&desk.controls()[i]);
                format!("{name} {from} to {to}")
            })
        })
        .collect();
    if moved.is_empty() {
        "All choices stand like this now.".to_owned()
    } else {
        format!("Would change: {}.", moved.join("; "))
    }
}

/// Gestures on all that differs, one step of undo.
fn apply(ui: &Ui, desk: &mut impl Desk, entry: &Entry) {
    let Ok(plan) = &entry.plan else { return };
    held::finish(ui, desk);
    let positions = desk.choices(plan);
    desk.together(&entry.name, &positions);
    for (i, at) in positions {
        held::hold(ui, i, at);
    }
}

/// What is done with files, and what came of it. Says whether to close.
fn foot(ui: &mut Ui, desk: &mut impl Desk, browser: &mut Browser, entries: &[Entry]) -> bool {
    if browser.task != Task::None {
        task::row(ui, desk, browser);
        return false;
    }
    let mut close = false;
    ui.horizontal(|ui| {
        let here = desk.library().and_then(|library| library.folder());
        let folder = here.map(|folder| format!("\nFolder: {}", folder.display()));
        let folder = folder.unwrap_or_default();
        let tip = format!("Keeps the choices as they stand now, without the rig.{folder}");
        if press(ui, "Save", true, &tip) {
            browser.begin(Task::Save(String::new()));
        }
        let tip = format!("Takes the choices of a plan file; its rig is left out.{folder}");
        if press(ui, "Import", true, &tip) {
            browser.begin(Task::Import("~/".to_owned()));
        }
        let tip = "Writes the whole plan, rig included, for penstock --plan.";
        if press(ui, "Export", true, tip) {
            browser.begin(Task::Export("~/penstock-plan.toml".to_owned()));
        }
        if press(ui, "Close", true, "Back to the controls (Escape).") {
            close = true;
        }
        let found = entries
            .iter()
            .filter(|e| e.matches(&browser.search))
            .count();
        let (failed, words) = browser.said.clone().unwrap_or_else(|| {
            let all = entries.len();
            (false, format!("{found} of {all}"))
        });
        let p = palette(ui);
        let colour = if failed { p.warn } else { p.dim };
        let words = if failed { format!("! {words}") } else { words };
        let text = RichText::new(&words).font(captions()).color(colour);
        ui.add(Label::new(text).truncate()).on_hover_text(words);
    });
    close
}
