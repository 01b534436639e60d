//! The levels at the eight points, left to right as the signal runs: dBFS, dBu and volts of the
//! RMS, and of the peak as the sine of the same peak.

use super::format::{cells, count};
use super::theme::{captions, figures, palette};
use super::{Desk, PointReadout, Readout};
use egui::text::LayoutJob;
use egui::{
    Align, Align2, Color32, Galley, Rect, Role, ScrollArea, Sense, Stroke, Ui, WidgetInfo, pos2,
    vec2,
};
use std::sync::Arc;

/// Height of a line.
const LINE: f32 = 16.0;
/// Width of the words at the left.
const WORDS: f32 = 76.0;
/// Narrowest column; below it the table scrolls sideways.
const NARROWEST: f32 = 78.0;
/// Room at the right of a column.
const PAD: f32 = 6.0;
/// Words at the left, by line: the quantity where a group begins, and the unit.
const LINES: [(&str, &str); 6] = [
    ("RMS", "dBFS"),
    ("", "dBu"),
    ("", "volts"),
    ("Peak", "dBFS"),
    ("", "dBu"),
    ("", "volts"),
];

/// Draws the table.
pub(crate) fn table(ui: &mut Ui, desk: &mut impl Desk, readout: &Readout) {
    let count = readout.points.len() as f32;
    let width = ui.available_width().max(WORDS + count * NARROWEST);
    ScrollArea::horizontal()
        .id_salt("levels")
        .auto_shrink([false, true])
        .show(ui, |ui| draw(ui, desk, readout, width));
}

fn draw(ui: &mut Ui, desk: &mut impl Desk, readout: &Readout, width: f32) {
    let each = (width - WORDS) / readout.points.len() as f32;
    let heads = heads(ui, readout, each);
    let height = heads + LINE * (LINES.len() + 1) as f32 + 11.0;
    let (_, rect) = ui.allocate_space(vec2(width, height));
    let lines = Lines { rect, heads };
    words(ui, &lines);
    for (k, point) in readout.points.iter().enumerate() {
        let left = rect.left() + WORDS + k as f32 * each;
        let column = Rect::from_x_y_ranges(left..=left + each, rect.y_range());
        point_column(ui, &lines, column, point);
    }
    let last = readout.points.len() - 1;
    for (k, frames, which) in [
        (0, readout.clipped_send_frames, "send"),
        (last, readout.clipped_return_frames, "return"),
    ] {
        let right = rect.left() + WORDS + (k + 1) as f32 * each;
        let cell = Rect::from_min_max(
            pos2(right - each + 2.0, lines.y(6)),
            pos2(right, lines.y(6) + LINE + 2.0),
        );
        if clip_counter(ui, cell, frames, which) {
            desk.clear_clips();
        }
    }
}

/// Where the lines of the table lie.
struct Lines {
    rect: Rect,
    heads: f32,
}

impl Lines {
    /// Top of a line: 0-2 RMS, 3-5 peak, 6 clipped.
    fn y(&self, line: usize) -> f32 {
        let gaps = match line {
            0..=2 => 3.0,
            3..=5 => 6.0,
            _ => 9.0,
        };
        self.rect.top() + self.heads + gaps + line as f32 * LINE
    }
}

fn words(ui: &Ui, lines: &Lines) {
    let p = palette(ui);
    let left = lines.rect.left();
    for (k, (group, unit)) in LINES.iter().enumerate() {
        let y = lines.y(k) + LINE / 2.0;
        ui.painter()
            .text(pos2(left, y), Align2::LEFT_CENTER, group, captions(), p.ink);
        let end = pos2(left + WORDS - 8.0, y);
        ui.painter()
            .text(end, Align2::RIGHT_CENTER, unit, captions(), p.dim);
    }
    let y = lines.y(6) + LINE / 2.0 + 1.0;
    ui.painter().text(
        pos2(left, y),
        Align2::LEFT_CENTER,
        "Clipped",
        captions(),
        p.ink,
    );
    let hair = Stroke::new(1.0, p.hair);
    for y in [lines.y(0) - 2.0, lines.y(3) - 2.0, lines.y(6) - 2.0] {
        ui.painter().hline(lines.rect.x_range(), y, hair);
    }
}

/// The name over a column, on as many lines as it needs.
fn head(ui: &Ui, point: &PointReadout, width: f32) -> Arc<Galley> {
    let colour = palette(ui).ink;
    let room = width - 2.0 * PAD;
    let mut job = LayoutJob::simple(point.label.to_owned(), captions(), colour, room);
    job.halign = Align::RIGHT;
    ui.painter().layout_job(job)
}

/// Room for the highest name.
fn heads(ui: &Ui, readout: &Readout, width: f32) -> f32 {
    readout
        .points
        .iter()
        .map(|point| head(ui, point, width).size().y)
        .fold(LINE, f32::max)
}

fn point_column(ui: &Ui, lines: &Lines, column: Rect, point: &PointReadout) {
    let p = palette(ui);
    let right = column.right() - PAD;
    let head = head(ui, point, column.width());
    let top = lines.y(0) - 4.0 - head.size().y;
    ui.painter().galley(pos2(right, top), head, p.ink);
    let texts = cells(point);
    // The first unit of a point in ink, the others behind it.
    let first = usize::from(point.full_scale_volts.is_none());
    for (k, text) in texts.iter().enumerate() {
        let colour: Color32 = if k % 3 == first { p.ink } else { p.dim };
        let at = pos2(right, lines.y(k) + LINE / 2.0);
        ui.painter()
            .text(at, Align2::RIGHT_CENTER, text, figures(), colour);
    }
    let sense = Sense::hover();
    let response = ui.interact(column, ui.scope_id().with(("point", point.name)), sense);
    let [
        rms_dbfs,
        rms_dbu,
        rms_volts,
        peak_dbfs,
        peak_dbu,
        peak_volts,
    ] = texts;
    let dbfs = |text: String| {
        if text.is_empty() {
            text
        } else {
            format!("{text} dBFS, ")
        }
    };
    let said = format!(
        "{}: RMS {}{rms_dbu} dBu, {rms_volts}; peak {}{peak_dbu} dBu, {peak_volts}",
        point.label,
        dbfs(rms_dbfs),
        dbfs(peak_dbfs),
    );
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
}

/// A counter that can be clicked away; says whether it was.
fn clip_counter(ui: &Ui, cell: Rect, frames: u64, which: &str) -> bool {
    let p = palette(ui);
    let at = pos2(cell.right() - PAD, cell.center().y);
    if frames == 0 {
        ui.painter()
            .text(at, Align2::RIGHT_CENTER, "none", captions(), p.dim);
        return false;
    }
    let response = ui
        .interact(cell, ui.scope_id().with(("clipped", which)), Sense::click())
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
