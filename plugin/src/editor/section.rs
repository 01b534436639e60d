//! The sections: four side by side in the order of the loop, two by two or one below the other
//! where the window is narrow.

use super::choice::Stops;
use super::row::{GAP, width_of};
use super::theme::{palette, titles, words};
use super::{Desk, Kind, Section, choice, diagram, field, held, list, row, toggle};
use egui::{Align2, Id, Layout, Rect, Role, Sense, Stroke, Ui, UiBuilder, WidgetInfo, pos2, vec2};

/// Between columns.
pub(crate) const GUTTER: f32 = 12.0;
/// From here on all four sections stand side by side.
const FOUR_WIDE: f32 = 660.0;
/// From here on two.
const TWO_WIDE: f32 = 400.0;
/// Height of a section's title.
const HEAD: f32 = 22.0;
/// Before the words of what unfolds the rest.
const MARK: f32 = 16.0;
/// How strongly a control is drawn that changes nothing as the others stand.
pub(crate) const IDLE: f32 = 0.85;

/// Draws the four sections.
pub(crate) fn sections(ui: &mut Ui, desk: &mut impl Desk) {
    let width = ui.available_width();
    if width >= FOUR_WIDE {
        // Under the points they belong to.
        let [send, pad, preamp, back] = diagram::spans(width).map(|[from, to]| to - from);
        let widths = [send - GUTTER, pad - GUTTER, preamp - GUTTER, back];
        columns(ui, &widths, |ui, k| section(ui, desk, Section::LOOP[k]));
    } else if width >= TWO_WIDE {
        let widths = [((width - GUTTER) / 2.0).floor(); 2];
        for pair in Section::LOOP.chunks(2) {
            columns(ui, &widths, |ui, k| section(ui, desk, pair[k]));
            ui.add_space(8.0);
        }
    } else {
        for part in Section::LOOP {
            section(ui, desk, part);
            ui.add_space(8.0);
        }
    }
}

/// Columns of these widths, as high as the highest.
pub(crate) fn columns(ui: &mut Ui, widths: &[f32], mut add: impl FnMut(&mut Ui, usize)) {
    let start = ui.cursor().min;
    let mut left = start.x;
    let mut bottom = start.y;
    for (k, width) in widths.iter().enumerate() {
        let rect = Rect::from_min_size(pos2(left, start.y), vec2(*width, 4000.0));
        let builder = UiBuilder::new()
            .id_salt(("column", k))
            .max_rect(rect)
            .layout(Layout::top_down(egui::Align::Min));
        let mut column = ui.new_child(builder);
        column.set_width(*width);
        add(&mut column, k);
        bottom = bottom.max(column.min_rect().bottom());
        left += width + GUTTER;
    }
    let right = (left - GUTTER).max(start.x);
    ui.allocate_rect(
        Rect::from_min_max(start, pos2(right, bottom)),
        Sense::hover(),
    );
}

/// The controls of a section that have a place.
pub(crate) fn indices(desk: &impl Desk, section: Section) -> Vec<usize> {
    let all = desk.controls().iter().enumerate();
    all.filter(|(i, control)| {
        control.section == section && control.kind != Kind::Listed && !desk.is_absent(*i)
    })
    .map(|(i, _)| i)
    .collect()
}

/// The values of control `i`, where it has only a few.
fn stops(desk: &impl Desk, i: usize) -> Option<Stops> {
    match &desk.controls()[i].kind {
        Kind::Steps(texts) => Some(Stops::of_steps(texts.clone())),
        Kind::Continuous { .. } => desk.stops(i),
        Kind::Toggle | Kind::List(_) | Kind::Listed => None,
    }
}

fn section(ui: &mut Ui, desk: &mut impl Desk, section: Section) {
    let (details, plain): (Vec<usize>, Vec<usize>) = indices(desk, section)
        .into_iter()
        .partition(|i| desk.controls()[*i].detail);
    let open = desk.view().details_open;
    if head(ui, desk, section, &details, open) {
        held::change_view(ui, desk, |view| view.details_open = !open);
    }
    controls(ui, desk, &plain);
    if open {
        controls(ui, desk, &details);
    }
}

/// The title, a line that leads on to the next, and what unfolds the rest; says whether that was clicked.
fn head(ui: &mut Ui, desk: &impl Desk, section: Section, details: &[usize], open: bool) -> bool {
    let (id, mut rect) = ui.allocate_space(vec2(ui.available_width(), HEAD));
    let mut clicked = false;
    if !details.is_empty() {
        let text = details_text(desk, details);
        let width = MARK + width_of(ui, &text, words());
        let right = Rect::from_min_max(pos2(rect.right() - width, rect.top()), rect.max);
        clicked = unfolding(ui, id.with("details"), section, &text, right, open);
        rect.max.x = right.left() - row::GAP;
    }
    title(ui, id, section, rect);
    clicked
}

/// Folded, it says how many of them are not as they come, for what is hidden must not surprise.
fn details_text(desk: &impl Desk, details: &[usize]) -> String {
    let differs = |i: &&usize| (desk.normalized(**i) - desk.default_normalized(**i)).abs() > 1e-6;
    match details.iter().filter(differs).count() {
        0 => "Details".to_owned(),
        set => format!("Details, {set} set"),
    }
}

fn unfolding(ui: &Ui, id: Id, section: Section, text: &str, rect: Rect, open: bool) -> bool {
    let response = ui
        .interact(rect, id, Sense::click())
        .on_hover_cursor(egui::CursorIcon::PointingHand);
    let name = format!("{} {text}", section.title());
    response.widget_info(|| WidgetInfo::selected(Role::DisclosureTriangle, true, open, &name));
    disclosure(ui, rect.left_center() + vec2(6.0, 1.0), open);
    let at = rect.left_center() + vec2(MARK, 0.0);
    let ink = palette(ui).ink;
    ui.painter()
        .text(at, Align2::LEFT_CENTER, text, words(), ink);
    if response.has_focus() {
        row::outline(ui, rect, &response);
    }
    response
        .on_hover_text(
            "How the loss is counted, an exact load, how parts are chosen, a pad you own.",
        )
        .clicked()
}

/// Two strokes that point down when what they stand for is unfolded, else to the right.
pub(crate) fn disclosure(ui: &Ui, at: egui::Pos2, open: bool) {
    let stroke = Stroke::new(1.4, palette(ui).ink);
    let (tip, ends) = if open {
        (vec2(0.0, 2.5), [vec2(-4.5, -2.5), vec2(4.5, -2.5)])
    } else {
        (vec2(2.5, 0.0), [vec2(-2.5, -4.5), vec2(-2.5, 4.5)])
    };
    for end in ends {
        ui.painter().line_segment([at + tip, at + end], stroke);
    }
}

/// The word, and a line that leads on to the next.
fn title(ui: &Ui, id: Id, section: Section, rect: Rect) {
    let p = palette(ui);
    let text = ui.painter().text(
        rect.left_center(),
        Align2::LEFT_CENTER,
        section.title(),
        titles(),
        p.ink,
    );
    let response = ui.interact(text, id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, section.title()));
    let y = rect.center().y + 1.0;
    let (from, to) = (text.right() + 8.0, rect.right());
    let stroke = Stroke::new(1.0, p.outline);
    if to - from > 12.0 {
        ui.painter().hline(from..=to, y, stroke);
        for side in [-3.0, 3.0] {
            ui.painter()
                .line_segment([pos2(to, y), pos2(to - 5.0, y + side)], stroke);
        }
    }
}

/// Controls below each other, their fields aligned.
pub(crate) fn controls(ui: &mut Ui, desk: &mut impl Desk, indices: &[usize]) {
    let label_width = label_width(ui, desk, indices);
    let opacity = ui.opacity();
    for i in indices {
        // Still to be set: only its effect is missing.
        let share = if desk.idle(*i).is_some() { IDLE } else { 1.0 };
        ui.set_opacity(opacity * share);
        if let Some(stops) = stops(desk, *i) {
            choice::choice(ui, desk, *i, &stops, label_width);
            continue;
        }
        match desk.controls()[*i].kind {
            Kind::Continuous { step } => {
                let need = field::need(ui, desk, *i);
                let rect = row::place(ui, desk, *i, label_width, need, None);
                field::field(ui, desk, *i, step, rect);
            }
            Kind::Toggle => toggle::toggle(ui, desk, *i),
            Kind::List(_) => list::list(ui, desk, *i, label_width),
            Kind::Steps(_) | Kind::Listed => {}
        }
    }
    ui.set_opacity(opacity);
}

/// The widest label of the controls that can stand beside theirs.
fn label_width(ui: &Ui, desk: &impl Desk, indices: &[usize]) -> f32 {
    let width = ui.available_width();
    indices
        .iter()
        .filter_map(|i| {
            let control = &desk.controls()[*i];
            let label = width_of(ui, &control.label, words());
            let need = match (stops(desk, *i), &control.kind) {
                (Some(stops), _) => choice::need(ui, &stops.texts, label),
                (None, Kind::Continuous { .. }) => field::need(ui, desk, *i),
                (None, Kind::List(_)) => list::need(ui, desk, *i),
                (None, Kind::Toggle | Kind::Steps(_) | Kind::Listed) => return None,
            };
            (label + GAP + need <= width).then_some(label)
        })
        .fold(0.0, f32::max)
}

/// Draws the controls of the top line below each other.
pub(crate) fn top_column(ui: &mut Ui, desk: &mut impl Desk) {
    controls(ui, desk, &indices(desk, Section::Top));
}

/// Draws the controls of the top line.
pub(crate) fn top_controls(ui: &mut Ui, desk: &mut impl Desk) {
    for i in indices(desk, Section::Top) {
        if let Some(stops) = stops(desk, i) {
            choice::inline(ui, desk, i, &stops);
            continue;
        }
        match desk.controls()[i].kind {
            Kind::Toggle => toggle::toggle(ui, desk, i),
            Kind::Continuous { step } => {
                let need = field::need(ui, desk, i);
                let (_, rect) = ui.allocate_space(vec2(need, row::ROW));
                field::field(ui, desk, i, step, rect);
            }
            Kind::Steps(_) | Kind::List(_) | Kind::Listed => {}
        }
    }
}
