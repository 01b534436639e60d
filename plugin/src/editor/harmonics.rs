//! What each stage adds: harmonics and THD at the programme's level, and which stage works hardest.

use super::notes::quiet;
use super::theme::{captions, figures, palette, words};
use super::{Desk, Readout};
use crate::stages::percent;
use egui::{Align2, FontId, Label, Rect, RichText, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use penstock_dsp::analysis::{Peaks, StageDistortion};

const ROW: f32 = 18.0;
/// Columns from the right: THD in percent, then harmonics in decibels.
const THD: f32 = 66.0;
const HARMONIC: f32 = 44.0;
/// Orders shown.
const ORDERS: std::ops::RangeInclusive<usize> = 2..=5;
/// Lower harmonics are the calculation's own.
const LEAST_DB: f64 = -100.0;
/// Wider than this a table is harder to read, not easier.
const WIDEST: f32 = 520.0;

/// Draws the table, and asks for what stands in it while it is looked at.
pub(crate) fn harmonics(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, peaks: &Peaks) {
    desk.ask_stages(peaks);
    let Some(stages) = &now.stages else {
        let silent = peaks.iter().all(Option::is_none);
        let text = if silent {
            "Nothing is heard: the table is of a 1 kHz sine with the programme's peak."
        } else {
            "Being calculated."
        };
        quiet(ui, text);
        return;
    };
    if !now.hardest.is_empty() {
        let text = RichText::new(&now.hardest)
            .font(words())
            .color(palette(ui).ink);
        ui.add(Label::new(text).wrap());
    }
    let width = ui.available_width().min(WIDEST);
    head(ui, width);
    for stage in stages.iter() {
        row(ui, width, stage);
    }
    quiet(
        ui,
        "Of a 1 kHz sine with the programme's peak at the point, in dB re the tone; a dash is under \u{2212}100 dB.",
    );
}

fn place(ui: &mut Ui, width: f32) -> Rect {
    ui.allocate_space(vec2(width, ROW)).1
}

fn head(ui: &mut Ui, width: f32) {
    let rect = place(ui, width);
    let dim = palette(ui).dim;
    let word = |ui: &Ui, right: f32, text: &str| {
        let at = pos2(right, rect.center().y);
        ui.painter()
            .text(at, Align2::RIGHT_CENTER, text, captions(), dim);
    };
    word(ui, rect.right(), "THD");
    for order in ORDERS {
        word(ui, right_of(rect, order), &format!("H{order}"));
    }
    let stroke = egui::Stroke::new(1.0, palette(ui).hair);
    ui.painter().hline(rect.x_range(), rect.bottom(), stroke);
}

/// Where the column of a harmonic ends.
fn right_of(rect: Rect, order: usize) -> f32 {
    rect.right() - THD - (ORDERS.end() - order) as f32 * HARMONIC
}

fn row(ui: &mut Ui, width: f32, stage: &StageDistortion) {
    let rect = place(ui, width);
    let ink = palette(ui).ink;
    let text = |ui: &Ui, at: f32, side: Align2, text: &str, font: FontId| {
        ui.painter()
            .text(pos2(at, rect.center().y), side, text, font, ink);
    };
    let label = stage.point.label();
    text(ui, rect.left(), Align2::LEFT_CENTER, label, words());
    let mut said = vec![];
    for order in ORDERS {
        let value = decibels(stage, order);
        said.push(format!("H{order} {value} dB"));
        text(
            ui,
            right_of(rect, order),
            Align2::RIGHT_CENTER,
            &value,
            figures(),
        );
    }
    let thd = stage
        .thd_percent
        .map_or("\u{2013}".to_owned(), |thd| format!("{} %", percent(thd)));
    said.push(format!("THD {thd}"));
    text(ui, rect.right(), Align2::RIGHT_CENTER, &thd, figures());
    let id = ui.scope_id().with(("stage", stage.point.name()));
    let response = ui.interact(rect, id, Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Label, true, format!("{label}: {}", said.join(", ")))
    });
}

fn decibels(stage: &StageDistortion, order: usize) -> String {
    let gain = stage.harmonic(order).filter(|gain| gain.0 >= LEAST_DB);
    gain.map_or("\u{2013}".to_owned(), |gain| {
        // Rounded to nothing it has no sign.
        let tenths = (gain.0 * 10.0).round() / 10.0 + 0.0;
        format!("{tenths:.1}").replace('-', "\u{2212}")
    })
}
