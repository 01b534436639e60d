//! Counters of clipped frames.

use super::format::count;
use super::theme::{captions, figures, palette};
use egui::{Align2, Id, Rect, Role, Sense, Ui, WidgetInfo, pos2};

/// Room at both ends of a counter.
const PAD: f32 = 6.0;

/// The id of a counter.
pub(crate) fn counter_id(which: &str) -> Id {
    Id::unique("penstock.clipped").with(which)
}

/// A counter that can be clicked away; says whether it was.
pub(crate) fn counter(ui: &Ui, cell: Rect, frames: u64, which: &str) -> bool {
    let p = palette(ui);
    if frames == 0 {
        let at = cell.center();
        ui.painter()
            .text(at, Align2::CENTER_CENTER, "none", captions(), p.dim);
        return false;
    }
    let at = pos2(cell.right() - PAD, cell.center().y);
    let response = ui
        .interact(cell, counter_id(which), Sense::click())
        .on_hover_cursor(egui::CursorIcon::PointingHand);
    let frames = count(frames);
    response.widget_info(|| {
        let name = format!("Clear: the {which} converter clipped {frames} frames");
        WidgetInfo::labeled(Role::Button, true, name)
    });
    ui.painter().rect_filled(cell, 2.0, p.warn);
    ui.painter().text(
        pos2(cell.left() + PAD, cell.center().y),
        Align2::LEFT_CENTER,
        "!",
        figures(),
        p.paper,
    );
    ui.painter()
        .text(at, Align2::RIGHT_CENTER, &frames, figures(), p.paper);
    if response.has_focus() {
        super::row::outline(ui, cell.expand(2.0), &response);
    }
    response
        .on_hover_text(format!(
            "Frames the {which} converter clipped at 0 dBFS. Click to start again from none."
        ))
        .clicked()
}
