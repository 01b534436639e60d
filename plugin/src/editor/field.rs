//! A control over a range: its value as text over a line that shows where it stands.
//!
//! Drag sideways or up and down, Shift for fine; wheel; arrow and page keys; a click, Enter or a
//! digit to type; double click or Delete for the default.

use super::gesture::{Drag, PAGE_STEPS, POINTS_PER_NOTCH, nudged};
use super::held::{self, Active};
use super::row::{self, accessible_name, tip, width_of};
use super::theme::{figures, palette};
use super::{Desk, entry};
use egui::{
    Align2, CursorIcon, Event, EventFilter, Id, Key, Modifiers, MouseWheelUnit, PointerButton,
    Rect, Response, Sense, Ui, WidgetInfo, pos2, vec2,
};

/// Room around the text.
const PADDING: f32 = 7.0;
/// Thickness of the line that shows the position.
const MARK: f32 = 3.0;
/// Never narrower, so that the fields of a section look alike.
const MIN_WIDTH: f32 = 76.0;

/// The width the field of control `i` needs, whatever its value.
pub(crate) fn need(ui: &Ui, desk: &impl Desk, i: usize) -> f32 {
    [
        0.0,
        0.5,
        1.0,
        desk.normalized(i),
        desk.default_normalized(i),
    ]
    .into_iter()
    .map(|at| width_of(ui, &desk.text(i, at), figures()))
    .fold(MIN_WIDTH - 2.0 * PADDING, f32::max)
        + 2.0 * PADDING
}

/// Draws and runs the field of control `i`.
pub(crate) fn field(ui: &mut Ui, desk: &mut impl Desk, i: usize, step: f32, rect: Rect) {
    let id = field_id(desk, i);
    if entry::show(ui, desk, i, rect, id) {
        return;
    }
    let at = held::shown(ui, desk, i);
    let response = ui
        .interact(rect, id, Sense::click_and_drag())
        .on_hover_cursor(CursorIcon::ResizeHorizontal);
    paint(ui, desk, i, at, rect, &response);
    describe(desk, i, at, &response);
    drag(ui, desk, i, step, at, &response);
    let moved = keys(ui, step, at, &response).or_else(|| wheel(ui, step, at, &response));
    let moved = moved.or_else(|| assistive(ui, step, at, &response));
    if let Some(to) = moved {
        held::set_once(ui, desk, i, to);
    } else if response.double_clicked() || delete_pressed(ui, &response) {
        held::set_default(ui, desk, i);
    } else if response.clicked() {
        entry::open(ui, i, desk.text(i, at), true, response.has_focus());
    } else if let Some(digit) = typed_digit(ui, &response) {
        entry::open(ui, i, digit, false, true);
    }
    if held::active(ui.ctx()).is_none() {
        response.on_hover_text(tip(desk, i));
    }
}

/// The id of a control's widget.
pub(crate) fn field_id(desk: &impl Desk, i: usize) -> Id {
    Id::unique("penstock.control").with(desk.controls()[i].id)
}

fn paint(ui: &Ui, desk: &impl Desk, i: usize, at: f32, rect: Rect, response: &Response) {
    let p = palette(ui);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    painter.rect_filled(rect, 2.0, p.field);
    let rail = rect.shrink2(vec2(1.0, 1.0));
    let mark = Rect::from_min_max(
        pos2(rail.left(), rail.bottom() - MARK),
        pos2(rail.left() + rail.width() * at, rail.bottom()),
    );
    painter.rect_filled(mark, 0.0, p.accent);
    let text = desk.text(i, at);
    let end = pos2(rect.right() - PADDING, rect.center().y - 1.0);
    painter.text(end, Align2::RIGHT_CENTER, text, figures(), p.ink);
    row::outline(ui, rect, response);
}

fn describe(desk: &impl Desk, i: usize, at: f32, response: &Response) {
    let name = accessible_name(&desk.controls()[i]);
    let text = desk.text(i, at);
    response.widget_info(|| WidgetInfo::slider(true, f64::from(at), &name));
    response.ctx.accesskit_node_builder(response.id, |node| {
        node.set_value(text);
        node.set_min_numeric_value(0.0);
        node.set_max_numeric_value(1.0);
        node.add_action(egui::accesskit::Action::Increment);
        node.add_action(egui::accesskit::Action::Decrement);
    });
}

fn drag(ui: &Ui, desk: &mut impl Desk, i: usize, step: f32, at: f32, response: &Response) {
    let ctx = ui.ctx();
    if response.drag_started_by(PointerButton::Primary) {
        held::finish(ui, desk);
        desk.begin(i);
        held::set_active(
            ctx,
            Active {
                index: i,
                drag: Drag::start(at, step),
                at,
                seen: ctx.cumulative_pass_nr(),
            },
        );
    }
    let Some(mut active) = held::active(ctx).filter(|active| active.index == i) else {
        return;
    };
    active.seen = ctx.cumulative_pass_nr();
    let delta = response.drag_delta();
    if response.dragged() && delta != egui::Vec2::ZERO {
        let fine = ui.input(|input| input.modifiers.shift);
        let to = active.drag.travel(delta.x - delta.y, fine);
        if to != active.at {
            active.at = to;
            desk.set(i, to);
        }
    }
    held::set_active(ctx, active);
    if response.drag_stopped() {
        held::finish(ui, desk);
    }
}

fn keys(ui: &Ui, step: f32, at: f32, response: &Response) -> Option<f32> {
    if !response.has_focus() {
        return None;
    }
    keep_arrows(ui, response.id);
    ui.input_mut(|input| {
        let mut presses = |key| {
            // Shift first: a pattern without it would take a shifted key as well.
            let fine = input.count_and_consume_key(Modifiers::SHIFT, key) as f32;
            let plain = input.count_and_consume_key(Modifiers::NONE, key) as f32;
            (plain, fine)
        };
        let mut to = at;
        for (key, steps) in [
            (Key::ArrowRight, 1.0),
            (Key::ArrowUp, 1.0),
            (Key::ArrowLeft, -1.0),
            (Key::ArrowDown, -1.0),
            (Key::PageUp, PAGE_STEPS),
            (Key::PageDown, -PAGE_STEPS),
        ] {
            let (plain, fine) = presses(key);
            to = nudged(to, steps * plain, step, false);
            to = nudged(to, steps * fine, step, true);
        }
        for (key, end) in [(Key::Home, 0.0), (Key::End, 1.0)] {
            if presses(key) != (0.0, 0.0) {
                to = end;
            }
        }
        (to != at).then_some(to)
    })
}

/// Keeps the arrow keys from moving the focus.
pub(crate) fn keep_arrows(ui: &Ui, id: Id) {
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
}

/// Notches of the wheel over a hovered control, taken from the scroll area around it; up is
/// positive.
pub(crate) fn notches(ui: &Ui, response: &Response) -> f32 {
    if !response.hovered() {
        return 0.0;
    }
    ui.input_mut(|input| {
        let turned: f32 = input
            .events
            .iter()
            .map(|event| match event {
                Event::MouseWheel { unit, delta, .. } => {
                    // Some platforms turn Shift and the wheel into a sideways scroll.
                    let along = if delta.y == 0.0 { delta.x } else { delta.y };
                    match unit {
                        MouseWheelUnit::Point => along / POINTS_PER_NOTCH,
                        MouseWheelUnit::Line | MouseWheelUnit::Page => along,
                    }
                }
                _ => 0.0,
            })
            .sum();
        input.smooth_scroll_delta = egui::Vec2::ZERO;
        turned
    })
}

fn wheel(ui: &Ui, step: f32, at: f32, response: &Response) -> Option<f32> {
    let turned = notches(ui, response);
    let fine = ui.input(|input| input.modifiers.shift);
    let to = nudged(at, turned, step, fine);
    (to != at && held::active(ui.ctx()).is_none()).then_some(to)
}

fn assistive(ui: &Ui, step: f32, at: f32, response: &Response) -> Option<f32> {
    use egui::accesskit::Action;
    let id = response.id;
    let up = ui.input(|input| input.num_accesskit_action_requests(id, Action::Increment));
    let down = ui.input(|input| input.num_accesskit_action_requests(id, Action::Decrement));
    let to = nudged(at, up as f32 - down as f32, step, false);
    (to != at).then_some(to)
}

/// Delete and Backspace stand for the double click.
pub(crate) fn delete_pressed(ui: &Ui, response: &Response) -> bool {
    response.has_focus()
        && ui.input(|input| input.key_pressed(Key::Delete) || input.key_pressed(Key::Backspace))
}

/// A digit or sign typed over a focused field starts the entry.
pub(crate) fn typed_digit(ui: &Ui, response: &Response) -> Option<String> {
    if !response.has_focus() {
        return None;
    }
    ui.input(|input| {
        input.events.iter().find_map(|event| match event {
            Event::Text(text)
                if text.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) =>
            {
                Some(text.clone())
            }
            _ => None,
        })
    })
}
