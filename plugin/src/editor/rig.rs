//! The rig: asked for in one short form on first use, afterwards one line that unfolds its controls.
//!
//! New instances start from what is remembered; a project keeps its own, and no preset changes it.

use super::panel::{button, framed, sentence};
use super::row::{self, width_of};
use super::section::{GUTTER, columns, controls, disclosure, indices};
use super::theme::{captions, palette, titles};
use super::{Desk, Kind, RigMemory, Section, held};
use egui::{Align2, Context, Id, Rect, RichText, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use penstock_dsp::alignment::PRESETS;

/// What a column of the rig wants.
const COLUMN: f32 = 230.0;
/// Positions nearer than this are the same: finer than any step.
const SAME: f32 = 1e-5;
/// What the ids of the preamplifier's facts begin with.
const PREAMP: &str = "rig.preamp.";
/// The full scales of both converters.
const FULL_SCALES: [&str; 2] = ["rig.send.full_scale_dbu", "rig.return.full_scale_dbu"];

/// What the buttons said last.
#[derive(Clone, Default)]
struct Said {
    /// The form was put off until the window opens again.
    later: bool,
    /// Whether it failed, and words.
    words: Option<(bool, String)>,
}

fn slot() -> Id {
    Id::unique("penstock.rig")
}

fn said(ctx: &Context) -> Said {
    ctx.data(|data| data.get_temp(slot())).unwrap_or_default()
}

fn say(ctx: &Context, said: Said) {
    ctx.data_mut(|data| data.insert_temp(slot(), said));
    ctx.request_repaint();
}

/// Whether the form has to be filled in: nothing is remembered, or it cannot be read.
fn asks(ui: &Ui, desk: &impl Desk) -> bool {
    desk.rig_memory() != RigMemory::Kept
        && !said(ui.ctx()).later
        && !indices(desk, Section::Rig).is_empty()
}

/// Draws and runs the form of the first use, if it is still to be filled in, and says whether it is.
pub(crate) fn form(ui: &mut Ui, desk: &mut impl Desk) -> bool {
    if !asks(ui, desk) {
        return false;
    }
    framed(ui, |ui| {
        ui.label(RichText::new("Your rig, once").font(titles()));
        match desk.rig_memory() {
            RigMemory::Damaged(why) => {
                let text = format!(
                    "The remembered rig cannot be read, so the defaults hold: {why}. The file is set \
                     aside, not lost, when you remember another."
                );
                sentence(ui, &text, true);
            }
            RigMemory::Nothing | RigMemory::Kept => sentence(
                ui,
                "Every level in volts follows from your converters. Their data sheets say full scale and \
                 impedance; what you do not know, leave as it is. New instances start from this, and no \
                 preset changes it.",
                false,
            ),
        }
        ui.add_space(2.0);
        typical(ui, desk);
        let (preamp, converters) = parts(desk);
        let short: Vec<usize> = converters
            .into_iter()
            .filter(|i| {
                let control = &desk.controls()[*i];
                !control.detail && matches!(control.kind, Kind::Continuous { .. })
            })
            .collect();
        side_by_side(ui, desk, &short, 2);
        preamplifier(ui, desk, &preamp, 2);
        ui.add_space(2.0);
        buttons(ui, desk, true);
    });
    true
}

/// Full scales met in practice, for both converters at once.
fn typical(ui: &mut Ui, desk: &mut impl Desk) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Both converters, 0 dBFS =");
        let whole =
            |preset: &&penstock_dsp::alignment::Preset| preset.full_scale.0.0.fract() == 0.0;
        for preset in PRESETS.iter().filter(whole) {
            let word = format!("{:+} dBu", preset.full_scale.0.0);
            let tip = format!("{} ({})", preset.name, preset.source);
            if button(ui, &word, true, &tip) {
                held::finish(ui, desk);
                set_both(ui, desk, &preset.full_scale.0.0.to_string());
            }
        }
    });
}

fn set_both(ui: &Ui, desk: &mut impl Desk, text: &str) {
    for id in FULL_SCALES {
        let found = desk.controls().iter().position(|control| control.id == id);
        if let Some(i) = found
            && let Some(at) = desk.parse(i, text)
        {
            held::set_once(ui, desk, i, at);
        }
    }
}

/// Controls of the preamplifier, and the others.
fn parts(desk: &impl Desk) -> (Vec<usize>, Vec<usize>) {
    let of_preamp = |i: &usize| desk.controls()[*i].id.starts_with(PREAMP);
    indices(desk, Section::Rig).into_iter().partition(of_preamp)
}

/// Whose preamplifier it is, and of one's own the data sheet.
fn preamplifier(ui: &mut Ui, desk: &mut impl Desk, preamp: &[usize], most: usize) {
    let Some((whose, sheet)) = preamp.split_first() else {
        return;
    };
    ui.add_space(2.0);
    side_by_side(ui, desk, &[*whose], most);
    if sheet.is_empty() {
        return;
    }
    sentence(
        ui,
        "From its data sheet; what it does not say, leave. Levels, headroom and noise are then that unit's. Its \
         sound is in no data sheet: what you hear is our circuit at the nearest setting.",
        false,
    );
    side_by_side(ui, desk, sheet, most);
}

/// Controls in columns, at most so many.
fn side_by_side(ui: &mut Ui, desk: &mut impl Desk, rig: &[usize], most: usize) {
    if rig.is_empty() {
        return;
    }
    // As wide as beside others, so that what stands alone is no wider.
    let width = ui.available_width();
    let count = ((width / COLUMN).floor() as usize).clamp(1, most);
    let each = ((width - GUTTER * (count - 1) as f32) / count as f32).floor();
    let count = count.min(rig.len());
    let rows = rig.len().div_ceil(count);
    columns(ui, &vec![each; count], |ui, k| {
        let part = rig.chunks(rows).nth(k).unwrap_or_default();
        controls(ui, desk, part);
    });
}

/// Remember, use what is remembered, or later; and what came of it.
fn buttons(ui: &mut Ui, desk: &mut impl Desk, first: bool) {
    let remembered = desk.remembered_rig();
    let differs = differs(desk, &remembered);
    let mut now = said(ui.ctx());
    ui.horizontal_wrapped(|ui| {
        let tip = if differs || first {
            "New instances start from this rig. Projects keep theirs."
        } else {
            "New instances start from this rig already."
        };
        if button(ui, "Remember this rig", differs || first, tip) {
            held::finish(ui, desk);
            now.words = Some(match desk.remember_rig() {
                Ok(words) => (false, words),
                Err(words) => (true, words),
            });
            say(ui.ctx(), now.clone());
        }
        if first {
            let tip = "The defaults hold meanwhile; the window asks again when it opens.";
            if button(ui, "Not now", true, tip) {
                now.later = true;
                say(ui.ctx(), now.clone());
            }
        } else {
            let usable = differs && !remembered.is_empty();
            let tip = "Sets the rig of this project to the remembered one.";
            if button(ui, "Use the remembered", usable, tip) {
                held::finish(ui, desk);
                for (i, at) in remembered {
                    if (desk.normalized(i) - at).abs() > SAME {
                        held::set_once(ui, desk, i, at);
                    }
                }
            }
        }
        if let Some((failed, words)) = &now.words {
            sentence(ui, words, *failed);
        } else if !first && differs {
            sentence(ui, "Not what new instances start from.", false);
        }
    });
}

fn differs(desk: &impl Desk, remembered: &[(usize, f32)]) -> bool {
    if remembered.is_empty() {
        return desk.rig_memory() != RigMemory::Kept;
    }
    let mut each = remembered.iter();
    each.any(|(i, at)| (desk.normalized(*i) - at).abs() > SAME)
}

/// Draws the rig's line, and its controls where it is unfolded; nothing while the form is there.
pub(crate) fn line(ui: &mut Ui, desk: &mut impl Desk) {
    let rig = indices(desk, Section::Rig);
    if rig.is_empty() || asks(ui, desk) {
        return;
    }
    let open = desk.view().rig_open;
    if disclosing_line(ui, desk, open) {
        held::change_view(ui, desk, |view| view.rig_open = !open);
    }
    if open {
        let (preamp, converters) = parts(desk);
        side_by_side(ui, desk, &converters, 4);
        preamplifier(ui, desk, &preamp, 4);
        buttons(ui, desk, false);
    }
}

fn disclosing_line(ui: &mut Ui, desk: &impl Desk, open: bool) -> bool {
    let p = palette(ui);
    let (id, rect) = ui.allocate_space(vec2(ui.available_width(), 24.0));
    let response = ui
        .interact(rect, id, Sense::click())
        .on_hover_cursor(egui::CursorIcon::PointingHand);
    response.widget_info(|| WidgetInfo::selected(Role::DisclosureTriangle, true, open, "Rig"));
    disclosure(ui, rect.left_center() + vec2(6.0, 0.0), open);
    let word = ui.painter().text(
        rect.left_center() + vec2(16.0, 0.0),
        Align2::LEFT_CENTER,
        Section::Rig.title(),
        titles(),
        p.ink,
    );
    let verb = if open { "Fold" } else { "Change" };
    let right = rect.right_center();
    let verb = ui
        .painter()
        .text(right, Align2::RIGHT_CENTER, verb, captions(), p.accent);
    let left = word.right() + 16.0;
    summary_text(
        ui,
        desk,
        Rect::from_x_y_ranges(left..=verb.left() - 12.0, rect.y_range()),
    );
    if response.has_focus() {
        row::outline(ui, rect, &response);
    }
    response
        .on_hover_text("Facts of the studio: no preset changes them. Click to change them.")
        .clicked()
}

/// The longest summary that fits.
fn summary_text(ui: &Ui, desk: &impl Desk, rect: Rect) {
    let dim = palette(ui).dim;
    let fitting = summaries(desk)
        .into_iter()
        .find(|text| width_of(ui, text, captions()) <= rect.width());
    if let Some(text) = fitting {
        let at = pos2(rect.left(), rect.center().y);
        ui.painter()
            .text(at, Align2::LEFT_CENTER, text, captions(), dim);
    }
}

/// The rig in one line, longest first.
fn summaries(desk: &impl Desk) -> [String; 3] {
    let text = |id: &str| {
        let found = desk.controls().iter().position(|control| control.id == id);
        found.map(|i| desk.text(i, desk.normalized(i)))
    };
    let set = |id: &str| {
        let found = desk.controls().iter().position(|control| control.id == id);
        found.filter(|i| (desk.normalized(*i) - desk.default_normalized(*i)).abs() > SAME)
    };
    let [send, back] = FULL_SCALES.map(|id| text(id).unwrap_or_default());
    let source = text("rig.send.source_ohms").unwrap_or_default();
    let load = text("rig.return.in_ohms").unwrap_or_default();
    let mut more = Vec::new();
    for (id, side) in [
        ("rig.send.right_db", "send"),
        ("rig.return.right_db", "return"),
    ] {
        if let Some(i) = set(id) {
            let by = desk.text(i, desk.normalized(i));
            more.push(format!("{side} right {by}"));
        }
    }
    if set("rig.converters_clip").is_some() {
        more.push("converters do not clip".to_owned());
    }
    let offsets: String = more
        .iter()
        .map(|text| format!("  \u{b7}  {text}"))
        .collect();
    let mut more = offsets.clone();
    let preamp = if set("rig.preamp.kind").is_some() {
        let ohms = text("rig.preamp.in_ohms").unwrap_or_default();
        more.insert_str(0, "  \u{b7}  own preamp");
        format!("your own preamp, {ohms}")
    } else {
        "preamp our circuit".to_owned()
    };
    let full = format!(
        "0 dBFS = {send} sent from {source}  \u{b7}  {back} returned into {load}  \u{b7}  {preamp}{offsets}"
    );
    let middle = format!("send {send}, {source}  \u{b7}  return {back}, {load}{more}");
    let short = format!("send {send}  \u{b7}  return {back}");
    [full, middle, short]
}

/// For tests.
#[cfg(test)]
pub(crate) fn first_summary(desk: &impl Desk) -> String {
    let [full, ..] = summaries(desk);
    full
}
