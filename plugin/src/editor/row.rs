//! One row of a section: label on the left, control on the right, or one above the other where
//! they do not fit.

use super::theme::{captions, palette, words};
use super::{Control, Desk, held};
use egui::{Align2, FontId, Rect, Response, Role, Sense, Ui, WidgetInfo, pos2, vec2};

/// Height of a row.
pub(crate) const ROW: f32 = 21.0;
/// Between label and control.
pub(crate) const GAP: f32 = 8.0;

/// Width of a text on one line.
pub(crate) fn width_of(ui: &Ui, text: &str, font: FontId) -> f32 {
    ui.painter()
        .layout_no_wrap(text.to_owned(), font, egui::Color32::PLACEHOLDER)
        .size()
        .x
        .ceil()
}

/// The name a screen reader or a test finds a control by.
pub(crate) fn accessible_name(control: &Control) -> String {
    format!("{} {}", control.section.title(), control.label)
}

/// What the tooltip of control `i` says.
pub(crate) fn tip(desk: &impl Desk, i: usize) -> String {
    let control = &desk.controls()[i];
    let default = desk.text(i, desk.default_normalized(i));
    let idle = desk.idle(i).map(|why| format!("\n{why}"));
    format!(
        "{}\nDefault: {default}{}",
        control.help,
        idle.unwrap_or_default()
    )
}

/// Draws the label and returns where the control goes, at least `need` wide. A caption, such as a
/// unit, stands at the right end when the control gets its own line.
pub(crate) fn place(
    ui: &mut Ui,
    desk: &mut impl Desk,
    i: usize,
    label_width: f32,
    need: f32,
    caption: Option<&str>,
) -> Rect {
    let label = desk.controls()[i].label.clone();
    let width = ui.available_width();
    let own = width_of(ui, &label, words());
    let one_line = own <= label_width && label_width + GAP + need <= width;
    let height = if one_line { ROW } else { ROW * 2.0 - 1.0 };
    let (_, rect) = ui.allocate_space(vec2(width, height));
    let label_size = if one_line {
        vec2(label_width, ROW)
    } else {
        vec2(width, height - ROW)
    };
    let label_rect = Rect::from_min_size(rect.min, label_size);
    draw_label(ui, desk, i, label_rect, &label);
    if one_line {
        Rect::from_min_max(
            pos2(rect.left() + label_width + GAP, rect.top()),
            rect.right_bottom(),
        )
    } else {
        if let Some(caption) = caption {
            let at = label_rect.right_center();
            let colour = palette(ui).dim;
            ui.painter()
                .text(at, Align2::RIGHT_CENTER, caption, captions(), colour);
        }
        Rect::from_min_max(pos2(rect.left(), rect.bottom() - ROW), rect.right_bottom())
    }
}

fn draw_label(ui: &Ui, desk: &mut impl Desk, i: usize, rect: Rect, label: &str) {
    let id = ui.unique_id().with(("label", desk.controls()[i].id));
    let colour = palette(ui).ink;
    ui.painter().text(
        rect.left_center(),
        Align2::LEFT_CENTER,
        label,
        words(),
        colour,
    );
    // Hovered and double-clicked, but no stop of the Tab key: the control itself is one.
    let sense = Sense::CLICK - Sense::FOCUSABLE;
    let response = ui.interact(rect, id, sense);
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, label));
    let response = response.on_hover_text(tip(desk, i));
    if response.double_clicked() {
        held::set_default(ui, desk, i);
    }
}

/// The outline of a control: stronger when hovered, double when focused.
pub(crate) fn outline(ui: &Ui, rect: Rect, response: &Response) {
    let p = palette(ui);
    let stroke = if response.has_focus() {
        egui::Stroke::new(2.0, p.accent)
    } else if response.hovered() || response.dragged() {
        egui::Stroke::new(1.0, p.ink)
    } else {
        egui::Stroke::new(1.0, p.outline)
    };
    ui.painter()
        .rect_stroke(rect, 2.0, stroke, egui::StrokeKind::Inside);
}
