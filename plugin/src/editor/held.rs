//! The window's own short memory: values set that the host has not passed on yet, and the one
//! gesture under way.
//!
//! A host may take a block or more to follow; without this the next key would start from the old
//! value, and a drag would jitter.

use super::gesture::Drag;
use super::row::accessible_name;
use super::{Desk, Kind, View};
use egui::{Context, Id, Ui};

/// How long a set value is shown while the parameter still says otherwise.
const HOLD_SECONDS: f64 = 0.5;
/// Positions nearer than this are the same.
const SAME: f32 = 1e-6;

#[derive(Clone, Copy)]
struct Held {
    at: f32,
    until: f64,
}

/// The drag under way.
#[derive(Clone, Copy)]
pub(crate) struct Active {
    /// The control.
    pub(crate) index: usize,
    /// Its arithmetic.
    pub(crate) drag: Drag,
    /// What was set last.
    pub(crate) at: f32,
    /// The pass that drew it last.
    pub(crate) seen: u64,
}

fn held_id(index: usize) -> Id {
    Id::unique("penstock.held").with(index)
}

fn active_id() -> Id {
    Id::unique("penstock.active")
}

/// The drag under way.
pub(crate) fn active(ctx: &Context) -> Option<Active> {
    ctx.data(|data| data.get_temp(active_id()))
}

/// Notes a drag.
pub(crate) fn set_active(ctx: &Context, active: Active) {
    ctx.data_mut(|data| data.insert_temp(active_id(), active));
}

/// Where control `i` stands for the user: what was just set, until the parameter follows.
pub(crate) fn shown(ui: &Ui, desk: &impl Desk, i: usize) -> f32 {
    if let Some(active) = active(ui.ctx())
        && active.index == i
    {
        return active.at;
    }
    let at = desk.normalized(i);
    let now = ui.input(|input| input.time);
    match ui.data(|data| data.get_temp::<Held>(held_id(i))) {
        Some(held) if now < held.until && (held.at - at).abs() > SAME => {
            ui.ctx()
                .request_repaint_after_secs((held.until - now) as f32);
            held.at
        }
        Some(_) => {
            ui.data_mut(|data| data.remove::<Held>(held_id(i)));
            at
        }
        None => at,
    }
}

/// Shows a value until the parameter follows.
pub(crate) fn hold(ui: &Ui, i: usize, at: f32) {
    let until = ui.input(|input| input.time) + HOLD_SECONDS;
    ui.data_mut(|data| data.insert_temp(held_id(i), Held { at, until }));
    ui.ctx().request_repaint();
}

/// One whole gesture. A drag under way, which a key may meet, ends before it: gestures are not nested.
pub(crate) fn set_once(ui: &Ui, desk: &mut impl Desk, i: usize, at: f32) {
    finish(ui, desk);
    desk.begin(i);
    desk.set(i, at);
    desk.end(i);
    hold(ui, i, at);
}

/// Back to the default, as one gesture; a list as a whole.
pub(crate) fn set_default(ui: &Ui, desk: &mut impl Desk, i: usize) {
    if let Kind::List(count) = desk.controls()[i].kind {
        let defaults = (i..i + count).map(|k| (k, desk.default_normalized(k)));
        return set_list(ui, desk, i, &defaults.collect::<Vec<_>>());
    }
    let at = desk.default_normalized(i);
    set_once(ui, desk, i, at);
}

/// Puts the controls of a list where they belong, as one choice.
pub(crate) fn set_list(ui: &Ui, desk: &mut impl Desk, i: usize, positions: &[(usize, f32)]) {
    finish(ui, desk);
    let name = accessible_name(&desk.controls()[i]);
    desk.together(&name, positions);
    ui.ctx().request_repaint();
}

/// Ends the drag under way.
pub(crate) fn finish(ui: &Ui, desk: &mut impl Desk) {
    if let Some(active) = active(ui.ctx()) {
        ui.data_mut(|data| data.remove::<Active>(active_id()));
        desk.end(active.index);
        hold(ui, active.index, active.at);
    }
}

/// Ends a drag whose control was not drawn in this pass (folded away, scrolled off by a resize)
/// or whose button is up: no gesture may stay open.
pub(crate) fn finish_lost(ui: &Ui, desk: &mut impl Desk) {
    if let Some(active) = active(ui.ctx())
        && (active.seen != ui.ctx().cumulative_pass_nr()
            || !ui.input(|input| input.pointer.any_down()))
    {
        finish(ui, desk);
    }
}

/// Changes the view, if it is a change.
pub(crate) fn change_view(ui: &Ui, desk: &mut impl Desk, change: impl FnOnce(&mut View)) {
    let old = desk.view();
    let mut new = old;
    change(&mut new);
    if new != old {
        desk.set_view(new);
        ui.ctx().request_repaint();
    }
}
