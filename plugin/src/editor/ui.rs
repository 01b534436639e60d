//! The whole window as a function.

use super::theme::{self, palette};
use super::{Desk, Readout, diagram, held, section, status, topbar};
use egui::{Id, Margin, ScrollArea, Ui};

/// Below this height the top line scrolls with the rest.
const FIXED_TOP: f32 = 320.0;

/// The picture is never lower, nor takes more of the height.
const LOWEST: f32 = 230.0;
const SHARE: f32 = 0.62;
/// Narrower, the picture scrolls sideways.
const NARROWEST: f32 = 700.0;
/// Room for one line under the sections.
const ONE_LINE: f32 = 26.0;

/// Draws the window and runs its controls. Works at any size; from
/// [`MIN_SIZE`](super::MIN_SIZE) on nothing has to be scrolled to while the rig is folded and
/// nothing is warned of.
pub fn ui(ui: &mut Ui, desk: &mut impl Desk) {
    let dark = desk.view().dark;
    theme::apply(ui.ctx(), dark);
    let paper = palette(ui).paper;
    ui.painter().rect_filled(ui.max_rect(), 0.0, paper);
    let now = desk.readout();
    egui::Frame::new()
        .inner_margin(Margin::symmetric(12, 6))
        .show(ui, |ui| {
            let fixed = ui.available_height() >= FIXED_TOP;
            if fixed {
                topbar::top_bar(ui, desk, &now);
                ui.add(egui::Separator::default().spacing(5.0));
            }
            let room = ui.available_height();
            ScrollArea::vertical()
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    if !fixed {
                        topbar::top_bar(ui, desk, &now);
                        ui.add(egui::Separator::default().spacing(5.0));
                    }
                    status::banners(ui, &now, desk.tone());
                    picture(ui, desk, &now, room);
                    status::notes(ui, &now);
                    ui.add(egui::Separator::default().spacing(5.0));
                    section::rig(ui, desk);
                });
        });
    held::finish_lost(ui, desk);
}

/// The level diagram, as high as what stands under it leaves, and the controls of its points.
fn picture(ui: &mut Ui, desk: &mut impl Desk, now: &Readout, room: f32) {
    let id = Id::unique("penstock.sections");
    let below = ui.data(|data| data.get_temp::<f32>(id)).unwrap_or(170.0);
    let height = (room - below - ONE_LINE).min(SHARE * room).max(LOWEST);
    let width = ui.available_width().max(NARROWEST);
    ScrollArea::horizontal()
        .id_salt("levels")
        .auto_shrink([false, true])
        .show(ui, |ui| {
            ui.set_width(width);
            diagram::diagram(ui, desk, now, height);
        });
    let top = ui.cursor().top();
    section::sections(ui, desk);
    ui.add_space(4.0);
    let used = ui.cursor().top() - top;
    if (used - below).abs() > 0.5 {
        ui.data_mut(|data| data.insert_temp(id, used));
        ui.ctx().request_repaint();
    }
}
