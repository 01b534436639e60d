//! One line that asks for a name, a path or a yes.

use super::super::Desk;
use super::super::panel::{self, Typed, button as press};
use super::super::theme::palette;
use super::Browser;
use crate::folder::Replace;
use crate::library::Trouble;
use egui::{Id, RichText, Ui};

/// What is being asked.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) enum Task {
    /// Nothing.
    #[default]
    None,
    /// A name for the choices as they stand.
    Save(String),
    /// Another name for the chosen one.
    Rename(String),
    /// Whether the chosen one goes.
    Delete,
    /// A plan file to take.
    Import(String),
    /// A plan file to write.
    Export(String),
}

/// The id of the line that is typed into.
pub(crate) fn line_id() -> Id {
    Id::unique("penstock.preset.line")
}

/// Whether what was asked has just appeared, and wants the focus.
fn fresh_id() -> Id {
    Id::unique("penstock.preset.fresh")
}

/// What would be replaced, once that was found.
fn taken_id() -> Id {
    Id::unique("penstock.preset.taken")
}

impl Browser {
    /// Asks.
    pub(super) fn begin(&mut self, task: Task) {
        self.task = task;
        self.said = None;
    }

    fn chosen_name(&self) -> String {
        let chosen = self.chosen.as_ref();
        chosen.map(|(_, name)| name.clone()).unwrap_or_default()
    }
}

/// Draws and runs the line.
pub(super) fn row(ui: &mut Ui, desk: &mut impl Desk, browser: &mut Browser) {
    let taken = ui.data(|data| data.get_temp::<String>(taken_id()));
    let mut answer = None;
    let mut cancelled = false;
    ui.horizontal(|ui| {
        let chosen = browser.chosen_name();
        let (asks, verb, tip) = words(&browser.task, &chosen);
        ui.add(egui::Label::new(&asks).extend());
        let verb = if taken.is_some() { "Replace it" } else { verb };
        // Room for two buttons and, at worst, what is replaced.
        let room = if taken.is_some() { 190.0 } else { 160.0 };
        let width = (ui.available_width() - room).clamp(60.0, 420.0);
        if let Some(text) = browser.task.text() {
            let before = text.clone();
            let typed = panel::line(ui, line_id(), &asks, text, width);
            let changed = *text != before;
            let fresh = ui.data(|data| data.get_temp::<bool>(fresh_id())).is_none();
            if fresh {
                ui.data_mut(|data| data.insert_temp(fresh_id(), true));
                ui.memory_mut(|memory| memory.request_focus(line_id()));
            }
            if changed {
                ui.data_mut(|data| data.remove::<String>(taken_id()));
                browser.said = None;
            }
            cancelled |= typed == Typed::Left;
            // Enter asks; only the button replaces.
            if typed == Typed::Entered {
                answer = Some(Replace::Never);
            }
        }
        if press(ui, verb, true, tip) {
            let asked = taken.is_some() || browser.task == Task::Delete;
            answer = Some(if asked {
                Replace::Asked
            } else {
                Replace::Never
            });
        }
        cancelled |= press(ui, "Cancel", true, "Nothing is changed (Escape).");
    });
    let escape = browser.task == Task::Delete && ui.input(|i| i.key_pressed(egui::Key::Escape));
    if cancelled || escape {
        end(ui, browser, None);
    } else if let Some(replace) = answer {
        finish(ui, desk, browser, replace);
    }
    if let Some((failed, words)) = &browser.said {
        panel::sentence(ui, words, *failed);
    } else if matches!(browser.task, Task::Export(_)) {
        let p = palette(ui);
        let text = "The file holds your rig too, so that the program reckons with your converters.";
        ui.label(RichText::new(text).small().color(p.dim));
    }
}

impl Task {
    fn text(&mut self) -> Option<&mut String> {
        match self {
            Self::None | Self::Delete => None,
            Self::Save(text) | Self::Rename(text) | Self::Import(text) | Self::Export(text) => {
                Some(text)
            }
        }
    }
}

/// What is asked, the verb of the button, and what follows from it.
fn words(task: &Task, chosen: &str) -> (String, &'static str, &'static str) {
    let (asks, verb, tip) = match task {
        Task::None => ("", "", ""),
        Task::Save(_) => ("Name", "Save", "Keeps the choices under this name."),
        Task::Rename(_) => ("New name", "Rename", "Gives the file another name."),
        Task::Delete => (
            "",
            "Delete",
            "The file is removed from your presets folder.",
        ),
        Task::Import(_) => (
            "Plan file",
            "Import",
            "Copies its choices into your presets.",
        ),
        Task::Export(_) => (
            "Plan file",
            "Export",
            "Writes the plan; nothing is replaced unasked.",
        ),
    };
    let asks = match task {
        Task::Delete => format!("Delete \u{201c}{chosen}\u{201d} for good?"),
        _ => asks.to_owned(),
    };
    (asks, verb, tip)
}

fn finish(ui: &Ui, desk: &mut impl Desk, browser: &mut Browser, replace: Replace) {
    let plan = desk.plan();
    let chosen = browser.chosen_name();
    let Some(library) = desk.library() else {
        return;
    };
    let done = match &browser.task {
        Task::None => return,
        Task::Save(name) => library.save(name, &plan, replace).map(Done::Chosen),
        Task::Rename(name) => library.rename(&chosen, name).map(Done::Chosen),
        Task::Import(path) => library.import(path, replace).map(Done::Chosen),
        Task::Delete => library.delete(&chosen).map(|()| Done::Gone(chosen)),
        Task::Export(path) => {
            let written = library.export(path, &plan, replace);
            written.map(|path| Done::Written(path.display().to_string()))
        }
    };
    match done {
        Ok(done) => {
            let words = match done {
                Done::Chosen(name) => {
                    browser.chosen = Some((false, name.clone()));
                    browser.search.clear();
                    format!("\u{201c}{name}\u{201d} is in your presets.")
                }
                Done::Gone(name) => {
                    browser.chosen = None;
                    format!("\u{201c}{name}\u{201d} is deleted.")
                }
                Done::Written(path) => format!("Written: {path}"),
            };
            end(ui, browser, Some(words));
        }
        Err(trouble) => {
            // What is renamed never takes another's place.
            let replaces = !matches!(browser.task, Task::Rename(_));
            if let Trouble::Taken(what) = &trouble
                && replaces
            {
                ui.data_mut(|data| data.insert_temp(taken_id(), what.clone()));
            }
            browser.said = Some((true, trouble.words()));
            ui.data_mut(|data| data.remove::<bool>(fresh_id()));
        }
    }
    ui.ctx().request_repaint();
}

enum Done {
    Chosen(String),
    Gone(String),
    Written(String),
}

fn end(ui: &Ui, browser: &mut Browser, words: Option<String>) {
    browser.task = Task::None;
    browser.said = words.map(|words| (false, words));
    ui.data_mut(|data| {
        data.remove::<bool>(fresh_id());
        data.remove::<String>(taken_id());
    });
    ui.ctx().request_repaint();
}
