//! The line at the bottom: what can be unfolded where it has no place beside the diagram, and the phantom
//! caution, always in sight.

use super::row::{self, width_of};
use super::section::disclosure;
use super::theme::{captions, palette, words};
use super::{Desk, Readout, held};
use egui::{Align2, Label, RichText, Role, Sense, Ui, WidgetInfo, vec2};

/// Height of a line.
const LINE: f32 = 22.0;
/// Before the words of a fold, and between folds.
const MARK: f32 = 16.0;
const GAP: f32 = 14.0;

/// One thing that is unfolded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fold {
    /// Notes in words.
    Notes,
    /// The table of harmonics.
    Harmonics,
    /// Loudness of bus and return.
    Compare,
}

impl Fold {
    /// Every one, in the order of the line.
    pub(crate) const ALL: [Self; 3] = [Self::Notes, Self::Harmonics, Self::Compare];

    /// What it is called.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Notes => "Notes",
            Self::Harmonics => "Harmonics",
            Self::Compare => "Compare",
        }
    }

    fn title(self, now: &Readout) -> String {
        match self {
            Self::Notes if !now.notes.is_empty() => {
                format!("{}: {}", self.word(), now.notes.len())
            }
            _ => self.word().to_owned(),
        }
    }

    fn tip(self) -> &'static str {
        match self {
            Self::Notes => "What is unwise or worth knowing, each with a move that can be clicked.",
            Self::Harmonics => {
                "What each stage adds at the programme's level, and which works hardest."
            }
            Self::Compare => "Loudness of bus and return, and the trim that makes them alike.",
        }
    }

    /// Whether it is unfolded.
    pub(crate) fn is_open(self, desk: &impl Desk) -> bool {
        let view = desk.view();
        match self {
            Self::Notes => view.notes_open,
            Self::Harmonics => view.harmonics_open,
            Self::Compare => view.compare_open,
        }
    }
}

fn opened_id() -> egui::Id {
    egui::Id::unique("penstock.opened")
}

/// Brings what has just been unfolded into sight; to be called once it is drawn, with its place.
pub(crate) fn show_opened(ui: &Ui, fold: Fold, place: egui::Rect) {
    if ui.data(|data| data.get_temp::<Fold>(opened_id())) == Some(fold) {
        ui.data_mut(|data| data.remove::<Fold>(opened_id()));
        ui.scroll_to_rect(place, Some(egui::Align::BOTTOM));
    }
}

/// Whether folds and caution need a line each.
fn two_lines(ui: &Ui, now: &Readout, folds: bool) -> bool {
    let caution = width_of(ui, &caution_text(now), captions());
    folds && folds_width(ui, now) + caution > ui.available_width()
}

fn folds_width(ui: &Ui, now: &Readout) -> f32 {
    let width = |fold: Fold| MARK + width_of(ui, &fold.title(now), words()) + GAP;
    Fold::ALL.into_iter().map(width).sum()
}

fn caution_text(now: &Readout) -> String {
    if now.phantom.is_empty() {
        String::new()
    } else {
        format!("!  {}", now.phantom)
    }
}

/// How high the footer will be.
pub(crate) fn height(ui: &Ui, now: &Readout, folds: bool) -> f32 {
    if two_lines(ui, now, folds) {
        2.0 * LINE + 3.0
    } else {
        LINE
    }
}

/// Draws it; with folds, or with the caution alone.
pub(crate) fn footer(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, folds: bool) {
    let apart = two_lines(ui, now, folds);
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        if folds {
            for fold in Fold::ALL {
                toggle(ui, desk, now, fold);
            }
        }
        if !apart {
            caution(ui, now);
        }
    });
    if apart {
        caution(ui, now);
    }
}

fn caution(ui: &mut Ui, now: &Readout) {
    if now.phantom.is_empty() {
        return;
    }
    let warn = palette(ui).warn;
    let text = RichText::new(caution_text(now))
        .font(captions())
        .color(warn);
    ui.add(Label::new(text).wrap());
}

fn toggle(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, fold: Fold) {
    let title = fold.title(now);
    let open = fold.is_open(desk);
    let width = MARK + width_of(ui, &title, words());
    let (_, rect) = ui.allocate_space(vec2(width, LINE));
    let id = ui.scope_id().with(("fold", fold as usize));
    let response = ui
        .interact(rect, id, Sense::click())
        .on_hover_cursor(egui::CursorIcon::PointingHand);
    response.widget_info(|| WidgetInfo::selected(Role::DisclosureTriangle, true, open, &title));
    disclosure(ui, rect.left_center() + vec2(6.0, 0.0), open);
    let unwise = fold == Fold::Notes && now.notes.iter().any(|note| note.unwise);
    let p = palette(ui);
    let colour = if unwise { p.warn } else { p.ink };
    let at = rect.left_center() + vec2(MARK, 0.0);
    ui.painter()
        .text(at, Align2::LEFT_CENTER, &title, words(), colour);
    if response.has_focus() {
        row::outline(ui, rect.expand(2.0), &response);
    }
    if response.on_hover_text(fold.tip()).clicked() {
        if !open {
            ui.data_mut(|data| data.insert_temp(opened_id(), fold));
        }
        held::change_view(ui, desk, |view| match fold {
            Fold::Notes => view.notes_open = !open,
            Fold::Harmonics => view.harmonics_open = !open,
            Fold::Compare => view.compare_open = !open,
        });
    }
    ui.add_space(GAP);
}
