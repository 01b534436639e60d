//! The whole window as a function.

use super::theme::{self, palette};
use super::{Desk, held, readout, section, status, topbar};
use egui::{Margin, ScrollArea, Ui};

/// Below this height the top line scrolls with the rest.
const FIXED_TOP: f32 = 320.0;

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
            ScrollArea::vertical()
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    if !fixed {
                        topbar::top_bar(ui, desk, &now);
                        ui.add(egui::Separator::default().spacing(5.0));
                    }
                    status::banners(ui, &now, desk.tone());
                    section::sections(ui, desk);
                    ui.add_space(4.0);
                    readout::table(ui, desk, &now);
                    status::notes(ui, &now);
                    ui.add(egui::Separator::default().spacing(5.0));
                    section::rig(ui, desk);
                });
        });
    held::finish_lost(ui, desk);
}
