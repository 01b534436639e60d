//! The whole window as a function.

use super::footer::{self, Fold};
use super::theme::{self, palette};
use super::{
    Desk, Readout, compare, diagram, harmonics, held, notes, presets, rig, section, status, topbar,
};
use egui::{Id, Margin, Rect, ScrollArea, Ui, UiBuilder, pos2};
use penstock_dsp::analysis::Peaks;

/// Below this height nothing is fixed: top line and footer scroll with the rest.
const FIXED: f32 = 320.0;

/// The picture is never lower, nor takes more of the height.
const LOWEST: f32 = 200.0;
const SHARE: f32 = 0.66;
/// What is unfolded leaves it this share of the height, and scrolls.
const LEAST_SHARE: f32 = 0.48;
/// Narrower, the picture scrolls sideways.
const NARROWEST: f32 = 700.0;
/// From here on notes and harmonics stand beside the diagram, so wide.
const WIDE: f32 = 1_080.0;
const SIDE: f32 = 336.0;
const GUTTER: f32 = 20.0;
/// Room of a scroll bar, in the margin or the gutter.
const BAR: f32 = 9.0;
/// While figures follow a change, a new picture in so many seconds.
const SETTLING_SECONDS: f32 = 0.1;
/// Between two looks at the processor's load, in seconds.
const LOAD_SECONDS: f32 = 0.5;

/// Draws the window and runs its controls. Works at any size; from
/// [`MIN_SIZE`](super::MIN_SIZE) on every control of the loop is in sight.
pub fn ui(ui: &mut Ui, desk: &mut impl Desk) {
    let dark = desk.view().dark;
    theme::apply(ui.ctx(), dark);
    let paper = palette(ui).paper;
    ui.painter().rect_filled(ui.max_rect(), 0.0, paper);
    let now = desk.readout();
    if now.settling {
        ui.ctx().request_repaint_after_secs(SETTLING_SECONDS);
    }
    if desk.view().load_shown {
        ui.ctx().request_repaint_after_secs(LOAD_SECONDS);
    }
    egui::Frame::new()
        .inner_margin(Margin::symmetric(12, 6))
        .show(ui, |ui| {
            if ui.available_height() >= FIXED {
                fixed(ui, desk, &now);
            } else {
                let room = ui.available_height();
                let all = ui.available_rect_before_wrap();
                within(ui, "all", beyond(all), |ui| {
                    scrolled(ui, "all", |ui| {
                        top(ui, desk, &now);
                        content(ui, desk, &now, room, false);
                        rule(ui);
                        footer::footer(ui, desk, &now, true);
                    });
                });
            }
        });
    held::finish_lost(ui, desk);
}

/// Top line and footer stand; what is between scrolls where it must.
fn fixed(ui: &mut Ui, desk: &mut impl Desk, now: &Readout) {
    top(ui, desk, now);
    let wide = ui.available_width() >= WIDE;
    let rest = ui.available_rect_before_wrap();
    let foot = rest.bottom() - footer::height(ui, now, !wide);
    let middle = Rect::from_min_max(rest.min, pos2(rest.right(), foot - 7.0));
    let split = middle.right() - if wide { SIDE + GUTTER } else { 0.0 };
    let main = Rect::from_min_max(middle.min, pos2(split, middle.bottom()));
    let mut peaks = Peaks::default();
    within(ui, "main", beyond(main), |ui| {
        scrolled(ui, "main", |ui| {
            peaks = content(ui, desk, now, main.height(), wide);
        });
    });
    if wide {
        let side = Rect::from_min_max(pos2(split + GUTTER, middle.top()), middle.max);
        let x = split + 0.5 * GUTTER;
        let stroke = egui::Stroke::new(1.0, palette(ui).hair);
        ui.painter().vline(x, middle.y_range(), stroke);
        within(ui, "side", beyond(side), |ui| {
            scrolled(ui, "side", |ui| beside(ui, desk, now, &peaks));
        });
    }
    let line = Rect::from_min_max(pos2(rest.left(), foot - 6.0), rest.max);
    within(ui, "foot", line, |ui| {
        rule(ui);
        footer::footer(ui, desk, now, !wide);
    });
}

fn beyond(mut rect: Rect) -> Rect {
    rect.max.x += BAR;
    rect
}

fn within(ui: &mut Ui, name: &str, rect: Rect, add: impl FnOnce(&mut Ui)) {
    let mut child = ui.new_child(UiBuilder::new().id_salt(name).max_rect(rect));
    add(&mut child);
}

/// Its bar stands right of the content, in the margin.
fn scrolled(ui: &mut Ui, name: &str, add: impl FnOnce(&mut Ui)) {
    let width = ui.available_width() - BAR;
    ScrollArea::vertical()
        .id_salt(name)
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.set_max_width(width);
            add(ui);
        });
}

fn rule(ui: &mut Ui) {
    ui.add(egui::Separator::default().spacing(5.0));
}

fn top(ui: &mut Ui, desk: &mut impl Desk, now: &Readout) {
    topbar::top_bar(ui, desk, now);
    rule(ui);
    status::banners(ui, now, desk.tone());
}

/// The level diagram, as high as what stands under it leaves, the controls of its points and what is unfolded.
fn content(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, room: f32, wide: bool) -> Peaks {
    let id = Id::unique("penstock.below");
    let below = ui.data(|data| data.get_temp::<f32>(id)).unwrap_or(220.0);
    let least = if wide { 0.0 } else { LEAST_SHARE * room };
    let height = (room - below).min(SHARE * room).max(LOWEST).max(least);
    let width = ui.available_width().max(NARROWEST);
    let mut peaks = Peaks::default();
    ScrollArea::horizontal()
        .id_salt("levels")
        .auto_shrink([false, true])
        .show(ui, |ui| {
            ui.set_width(width);
            peaks = diagram::diagram(ui, desk, now, height);
        });
    let top = ui.cursor().top();
    let browses = presets::browser(ui, desk);
    // The first use asks for the rig and shows nothing else.
    let asks = !browses && rig::form(ui, desk);
    if !browses && !asks {
        section::sections(ui, desk);
    }
    if !asks {
        status::pad(ui, now);
    }
    if !wide {
        unfolded(ui, desk, now, &peaks);
    }
    if !asks {
        rule(ui);
        rig::line(ui, desk);
    }
    let used = ui.cursor().top() - top;
    if (used - below).abs() > 0.5 {
        ui.data_mut(|data| data.insert_temp(id, used));
        ui.ctx().request_repaint();
    }
    peaks
}

/// Beside the diagram, all of it.
fn beside(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, peaks: &Peaks) {
    notes::heading(ui, "Harmonics");
    harmonics::harmonics(ui, desk, now, peaks);
    ui.add_space(12.0);
    notes::heading(ui, "Notes");
    notes::notes(ui, desk, now);
    ui.add_space(12.0);
    notes::heading(ui, "Compare");
    compare::compare(ui, desk, now);
}

/// Below the controls, what was asked for.
fn unfolded(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, peaks: &Peaks) {
    for fold in Fold::ALL {
        if !fold.is_open(desk) {
            continue;
        }
        rule(ui);
        let place = ui.scope(|ui| {
            notes::heading(ui, fold.word());
            match fold {
                Fold::Notes => notes::notes(ui, desk, now),
                Fold::Harmonics => harmonics::harmonics(ui, desk, now, peaks),
                Fold::Compare => compare::compare(ui, desk, now),
            }
        });
        footer::show_opened(ui, fold, place.response.rect.expand2(egui::vec2(0.0, 4.0)));
    }
}
