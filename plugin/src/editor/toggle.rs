//! A control that is off or on.

use super::row::{accessible_name, tip};
use super::{Desk, held};
use egui::{Role, Ui, WidgetInfo};

/// Draws and runs the check box of control `i`.
pub(crate) fn toggle(ui: &mut Ui, desk: &mut impl Desk, i: usize) {
    let mut on = held::shown(ui, desk, i) >= 0.5;
    let label = desk.controls()[i].label.clone();
    let name = accessible_name(&desk.controls()[i]);
    let response = ui.checkbox(&mut on, label).on_hover_text(tip(desk, i));
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, on, &name));
    if response.changed() {
        held::set_once(ui, desk, i, f32::from(u8::from(on)));
    }
}
