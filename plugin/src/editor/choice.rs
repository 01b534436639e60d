//! A control with a few values: all of them side by side where they fit, a list to open where
//! they do not.

use super::field::{delete_pressed, field_id, keep_arrows, notches};
use super::gesture::{position_of, stepped};
use super::held;
use super::row::{self, GAP, ROW, accessible_name, tip, width_of};
use super::theme::{captions, palette, words};
use super::{Control, Desk};
use egui::{
    Align2, Id, Key, Modifiers, Popup, Rect, Response, Role, Sense, Ui, WidgetInfo, pos2, vec2,
};

/// Room left and right of a segment's text.
const PADDING: f32 = 5.0;
/// The same where every point counts.
const TIGHT: f32 = 2.5;
/// So many stand side by side, narrow, sooner than on a line of their own.
const MANY: usize = 4;
/// More room for each segment, before a row of its own is worth it.
const LOOSE: f32 = 4.0;
/// Room for the mark of a list.
const LIST_MARK: f32 = 18.0;

/// The positions of a control that has only a few, rising, with their texts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stops {
    /// With unit.
    pub texts: Vec<String>,
    /// Normalised; as many.
    pub at: Vec<f32>,
}

impl Stops {
    /// Of a control of [`Kind::Steps`](super::Kind::Steps).
    #[must_use]
    pub fn of_steps(texts: Vec<String>) -> Self {
        let count = texts.len();
        let at = (0..count).map(|k| position_of(k, count)).collect();
        Self { texts, at }
    }

    /// Which of them a position is.
    pub(crate) fn nearest(&self, at: f32) -> usize {
        let away = |k: &usize| (self.at[*k] - at).abs();
        let places = 0..self.at.len();
        places
            .min_by(|a, b| away(a).total_cmp(&away(b)))
            .unwrap_or(0)
    }

    fn put(&self, ui: &Ui, desk: &mut impl Desk, i: usize, k: usize) {
        if let Some(at) = self.at.get(k) {
            held::set_once(ui, desk, i, *at);
        }
    }
}

/// What control `i` stands for at a position: where it has only a few, the nearest.
pub(crate) fn text(desk: &impl Desk, i: usize, at: f32) -> String {
    let few = desk.stops(i);
    few.and_then(|few| few.texts.get(few.nearest(at)).cloned())
        .unwrap_or_else(|| desk.text(i, at))
}

/// How a control with steps is drawn.
#[derive(Clone, Debug, PartialEq)]
enum Form {
    /// These texts side by side, the unit apart if it was taken off.
    Segments(Vec<String>, Option<String>),
    /// A list to open.
    List,
}

/// Draws and runs control `i`, whose values are `stops`.
pub(crate) fn choice(ui: &mut Ui, desk: &mut impl Desk, i: usize, stops: &Stops, label_width: f32) {
    let width = ui.available_width();
    let (form, need) = form(ui, &stops.texts, width, label_width);
    match form {
        Form::Segments(texts, unit) => {
            let rect = row::place(ui, desk, i, label_width, need, unit.as_deref());
            segments(ui, desk, i, stops, &texts, rect);
        }
        Form::List => {
            let rect = row::place(ui, desk, i, label_width, need, None);
            list(ui, desk, i, stops, rect);
        }
    }
}

/// Draws and runs control `i` of the top line: label and segments as wide as they need.
pub(crate) fn inline(ui: &mut Ui, desk: &mut impl Desk, i: usize, stops: &Stops) {
    let label_width = width_of(ui, &desk.controls()[i].label, words());
    let need = segments_need(ui, &stops.texts);
    ui.scope(|ui| {
        ui.set_max_width(label_width + GAP + need);
        let rect = row::place(ui, desk, i, label_width, need, None);
        segments(ui, desk, i, stops, &stops.texts, rect);
    });
}

/// The width control `i` needs, if its label is this wide.
pub(crate) fn need(ui: &Ui, texts: &[String], label_width: f32) -> f32 {
    form(ui, texts, ui.available_width(), label_width).1
}

fn form(ui: &Ui, texts: &[String], width: f32, label_width: f32) -> (Form, f32) {
    let full = segments_need(ui, texts);
    let loose = full + LOOSE * texts.len() as f32;
    if label_width + GAP + full <= width {
        return (Form::Segments(texts.to_vec(), None), full);
    }
    // A line saved is worth narrow segments, where it is one of many short words.
    let tight = tight_need(ui, texts);
    if texts.len() >= MANY && label_width + GAP + tight <= width {
        return (Form::Segments(texts.to_vec(), None), tight);
    }
    if loose <= width {
        return (Form::Segments(texts.to_vec(), None), full);
    }
    if let Some((short, unit)) = without_unit(texts) {
        let need = segments_need(ui, &short).min(width.max(tight_need(ui, &short)));
        // The unit needs the line above, so the control must not fit beside its label.
        if need <= width && label_width + GAP + need > width {
            return (Form::Segments(short, Some(unit)), need);
        }
    }
    let widest = texts
        .iter()
        .map(|text| width_of(ui, text, captions()))
        .fold(0.0, f32::max);
    (Form::List, widest + 2.0 * PADDING + LIST_MARK)
}

fn segments_need(ui: &Ui, texts: &[String]) -> f32 {
    texts
        .iter()
        .map(|text| width_of(ui, text, captions()) + 2.0 * PADDING)
        .sum()
}

fn tight_need(ui: &Ui, texts: &[String]) -> f32 {
    let width = |text: &String| width_of(ui, text, captions()) + 2.0 * TIGHT;
    texts.iter().map(width).sum()
}

/// The texts without the unit they all end with.
fn without_unit(texts: &[String]) -> Option<(Vec<String>, String)> {
    let (_, unit) = texts.first()?.rsplit_once(' ')?;
    let short: Option<Vec<String>> = texts
        .iter()
        .map(|text| {
            text.strip_suffix(unit)?
                .strip_suffix(' ')
                .map(str::to_owned)
        })
        .collect();
    Some((short?, unit.to_owned()))
}

/// Equal widths if the widest allows, otherwise each its own and the rest shared.
fn cells(ui: &Ui, texts: &[String], rect: Rect) -> Vec<Rect> {
    let padding = if segments_need(ui, texts) <= rect.width() {
        PADDING
    } else {
        TIGHT
    };
    let needs: Vec<f32> = texts
        .iter()
        .map(|text| width_of(ui, text, captions()) + 2.0 * padding)
        .collect();
    let count = needs.len().max(1) as f32;
    let equal = rect.width() / count;
    let spare = (rect.width() - needs.iter().sum::<f32>()) / count;
    let all_fit = needs.iter().all(|need| *need <= equal);
    let mut left = rect.left();
    needs
        .iter()
        .map(|need| {
            let width = if all_fit { equal } else { need + spare };
            let cell = Rect::from_min_size(pos2(left, rect.top()), vec2(width, ROW));
            left += width;
            cell
        })
        .collect()
}

fn segments(
    ui: &mut Ui,
    desk: &mut impl Desk,
    i: usize,
    stops: &Stops,
    texts: &[String],
    rect: Rect,
) {
    let p = palette(ui);
    let count = texts.len();
    let chosen = stops.nearest(held::shown(ui, desk, i));
    let id = field_id(desk, i);
    let name = accessible_name(&desk.controls()[i]);
    ui.painter().rect_filled(rect, 2.0, p.field);
    let cells = cells(ui, texts, rect);
    let mut to = None;
    let mut focused = None;
    for (k, (text, cell)) in texts.iter().zip(&cells).enumerate() {
        // One stop of the Tab key for the whole row, as with radio buttons.
        let sense = if k == chosen {
            Sense::click()
        } else {
            Sense::CLICK - Sense::FOCUSABLE
        };
        let response = ui.interact(*cell, cell_id(id, k), sense);
        let full = format!("{name} {}", stops.texts[k]);
        response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, k == chosen, &full));
        paint_segment(ui, text, *cell, k == chosen, &response);
        if k > 0 && k != chosen && k != chosen + 1 {
            let x = cell.left();
            ui.painter().vline(
                x,
                cell.y_range().shrink(4.0),
                egui::Stroke::new(1.0, p.hair),
            );
        }
        if response.has_focus() {
            focused = Some(*cell);
            to = to.or_else(|| step_keys(ui, &response, chosen, count, false));
            if delete_pressed(ui, &response) {
                to = Some(stops.nearest(desk.default_normalized(i)));
            }
        }
        if response.clicked() {
            to = Some(k);
        }
        response.on_hover_text(tip(desk, i));
    }
    ui.painter().rect_stroke(
        rect,
        2.0,
        egui::Stroke::new(1.0, p.outline),
        egui::StrokeKind::Inside,
    );
    if let Some(cell) = focused {
        let stroke = egui::Stroke::new(2.0, p.accent);
        ui.painter()
            .rect_stroke(cell, 2.0, stroke, egui::StrokeKind::Outside);
    }
    let hover = ui.interact(rect, id.with("wheel"), Sense::hover());
    to = to.or_else(|| step_wheel(ui, &hover, chosen, count));
    if let Some(k) = to.filter(|k| *k != chosen) {
        stops.put(ui, desk, i, k);
        if focused.is_some() {
            ui.memory_mut(|memory| memory.request_focus(cell_id(id, k)));
        }
    }
}

fn cell_id(id: Id, k: usize) -> Id {
    id.with(("cell", k))
}

fn paint_segment(ui: &Ui, text: &str, cell: Rect, chosen: bool, response: &Response) {
    let p = palette(ui);
    let (fill, ink) = if chosen {
        (Some(p.ink), p.paper)
    } else if response.hovered() {
        (Some(p.hair), p.ink)
    } else {
        (None, p.ink)
    };
    if let Some(fill) = fill {
        ui.painter().rect_filled(cell, 2.0, fill);
    }
    ui.painter()
        .text(cell.center(), Align2::CENTER_CENTER, text, captions(), ink);
}

fn list(ui: &mut Ui, desk: &mut impl Desk, i: usize, stops: &Stops, rect: Rect) {
    let p = palette(ui);
    let texts = &stops.texts;
    let count = texts.len();
    let chosen = stops.nearest(held::shown(ui, desk, i));
    let response = ui.interact(rect, field_id(desk, i), Sense::click());
    let control: &Control = &desk.controls()[i];
    let (name, value) = (accessible_name(control), texts.get(chosen));
    let value = value.cloned().unwrap_or_default();
    response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, &name));
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_value(value.clone()));
    ui.painter().rect_filled(rect, 2.0, p.field);
    let start = rect.left_center() + vec2(PADDING, 0.0);
    ui.painter()
        .text(start, Align2::LEFT_CENTER, value, captions(), p.ink);
    list_mark(ui, rect);
    row::outline(ui, rect, &response);
    let mut to = None;
    Popup::menu(&response).width(rect.width()).show(|ui| {
        ui.set_min_width(rect.width() - 2.0 * PADDING);
        for (k, text) in texts.iter().enumerate() {
            let item = ui.selectable_label(k == chosen, text);
            item.widget_info(|| {
                let name = format!("{name} {text}");
                WidgetInfo::selected(Role::ListBoxOption, true, k == chosen, name)
            });
            if item.clicked() {
                to = Some(k);
                ui.close();
            }
        }
    });
    to = to
        .or_else(|| step_keys(ui, &response, chosen, count, true))
        .or_else(|| step_wheel(ui, &response, chosen, count));
    if delete_pressed(ui, &response) {
        to = Some(stops.nearest(desk.default_normalized(i)));
    }
    if let Some(k) = to.filter(|k| *k != chosen) {
        stops.put(ui, desk, i, k);
    }
    response.on_hover_text(tip(desk, i));
}

/// Two strokes that point down.
fn list_mark(ui: &Ui, rect: Rect) {
    let stroke = egui::Stroke::new(1.2, palette(ui).ink);
    let tip = pos2(rect.right() - 10.0, rect.center().y + 2.0);
    for side in [-4.0, 4.0] {
        ui.painter()
            .line_segment([tip, tip + vec2(side, -4.0)], stroke);
    }
}

/// Arrow keys over a focused control. In a list, down is the next; side by side, up is more.
fn step_keys(
    ui: &Ui,
    response: &Response,
    chosen: usize,
    count: usize,
    listed: bool,
) -> Option<usize> {
    if !response.has_focus() || Popup::is_any_open(ui.ctx()) {
        return None;
    }
    keep_arrows(ui, response.id);
    let (next, previous) = if listed {
        (Key::ArrowDown, Key::ArrowUp)
    } else {
        (Key::ArrowUp, Key::ArrowDown)
    };
    let by = ui.input_mut(|input| {
        let mut presses = |key| input.count_and_consume_key(Modifiers::NONE, key) as i32;
        presses(Key::ArrowRight) + presses(next) - presses(Key::ArrowLeft) - presses(previous)
            + (presses(Key::End) - presses(Key::Home)) * i32::from(u16::MAX)
    });
    (by != 0).then(|| stepped(chosen, by, count))
}

/// Whole notches of the wheel; what is left of a smooth scroll waits for the next.
fn step_wheel(ui: &Ui, response: &Response, chosen: usize, count: usize) -> Option<usize> {
    let turned = notches(ui, response);
    if turned == 0.0 {
        return None;
    }
    let rest = response.id.with("notches");
    let sum = turned + ui.data(|data| data.get_temp::<f32>(rest)).unwrap_or(0.0);
    ui.data_mut(|data| data.insert_temp(rest, sum.fract()));
    (sum.trunc() != 0.0).then(|| stepped(chosen, sum.trunc() as i32, count))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_is_the_nearest_stop() {
        for count in 1..9 {
            let stops = Stops::of_steps(vec![String::new(); count]);
            for k in 0..count {
                assert_eq!(stops.nearest(position_of(k, count)), k);
            }
            assert_eq!(stops.nearest(f32::NAN), 0);
            assert_eq!(stops.nearest(9.0), count - 1);
        }
        let uneven = Stops {
            texts: vec![String::new(); 3],
            at: vec![0.1, 0.2, 0.8],
        };
        assert_eq!(
            [0.0, 0.16, 0.49, 0.51].map(|at| uneven.nearest(at)),
            [0, 1, 1, 2]
        );
        assert_eq!(Stops::default().nearest(0.5), 0);
    }

    #[test]
    fn a_unit_that_all_share_comes_off() {
        let texts = |list: &[&str]| {
            list.iter()
                .map(|text| (*text).to_owned())
                .collect::<Vec<_>>()
        };
        assert_eq!(
            without_unit(&texts(&["28 dB", "34 dB"])),
            Some((texts(&["28", "34"]), "dB".to_owned()))
        );
        assert_eq!(without_unit(&texts(&["0 dB", "off"])), None);
        assert_eq!(without_unit(&texts(&["E12", "E24"])), None);
        assert_eq!(without_unit(&[]), None);
    }
}
