//! The line at the top: the name, bypass and oversampling, what the host runs at, the view menu.

use super::row::{accessible_name, width_of};
use super::theme::{captions, palette, titles};
use super::{Desk, Readout, Step, ZOOM_PERCENT, held, presets, section};
use crate::tone::Tone;
use egui::{Align, Key, Label, Layout, Modifiers, RichText, Ui};
use penstock_dsp::meter::MeterKind;

/// Below this width the line wraps.
const ONE_LINE: f32 = 620.0;
/// Below this its parts stand below each other.
const STACKED: f32 = 400.0;

/// Draws the line.
pub(crate) fn top_bar(ui: &mut Ui, desk: &mut impl Desk, readout: &Readout) {
    if ui.available_width() >= ONE_LINE {
        ui.horizontal(|ui| {
            left(ui, desk);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                view_menu(ui, desk);
                tone_menu(ui, desk);
                presets::button(ui, desk);
                running(ui, readout, false);
            });
        });
    } else if ui.available_width() < STACKED {
        ui.horizontal(|ui| {
            name(ui);
            presets::button(ui, desk);
            tone_menu(ui, desk);
            view_menu(ui, desk);
        });
        section::top_column(ui, desk);
        ui.horizontal(|ui| undo_buttons(ui, desk));
        running(ui, readout, true);
    } else {
        ui.horizontal_wrapped(|ui| {
            left(ui, desk);
            presets::button(ui, desk);
            tone_menu(ui, desk);
            view_menu(ui, desk);
            running(ui, readout, false);
        });
    }
    load(ui, desk, readout);
}

fn left(ui: &mut Ui, desk: &mut impl Desk) {
    name(ui);
    ui.add_space(12.0);
    section::top_controls(ui, desk);
    undo_buttons(ui, desk);
}

/// Undo and redo: what they would do is in their tooltips, for there may be nothing to see.
fn undo_buttons(ui: &mut Ui, desk: &mut impl Desk) {
    let keys = undo_keys(ui);
    let undoable = desk.undoable();
    let tip = step_text(
        desk,
        undoable.as_ref(),
        "Nothing to undo: no choice was made here.",
    );
    if button(ui, "Undo", undoable.is_some(), tip) || keys == Some(Way::Back) {
        held::finish(ui, desk);
        if let Some(back) = desk.undoable() {
            desk.undo();
            hold(ui, &back);
        }
    }
    let redoable = desk.redoable();
    let tip = step_text(desk, redoable.as_ref(), "Nothing to redo.");
    if button(ui, "Redo", redoable.is_some(), tip) || keys == Some(Way::Again) {
        held::finish(ui, desk);
        if let Some(again) = desk.redoable() {
            desk.redo();
            hold(ui, &again);
        }
    }
}

fn button(ui: &mut Ui, word: &str, enabled: bool, tip: String) -> bool {
    let response = ui.add_enabled(enabled, egui::Button::new(word));
    response
        .on_hover_text(&tip)
        .on_disabled_hover_text(tip)
        .clicked()
}

fn hold(ui: &Ui, step: &Step) {
    for made in &step.moves {
        held::hold(ui, made.index, made.to);
    }
}

/// A step in words: "Pad Loss from 40 dB to 46 dB", "preset Bus, light".
fn step_text(desk: &impl Desk, step: Option<&Step>, nothing: &str) -> String {
    let Some(step) = step else {
        return nothing.to_owned();
    };
    let lines: Vec<String> = step
        .moves
        .iter()
        .map(|made| {
            let name = accessible_name(&desk.controls()[made.index]);
            let text = |at| desk.text(made.index, at);
            format!("{name} from {} to {}", text(made.from), text(made.to))
        })
        .collect();
    match &step.name {
        Some(name) => format!("Preset {name}:\n{}", lines.join("\n")),
        None => lines.join("\n"),
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Way {
    Back,
    Again,
}

/// Ctrl or Cmd with Z or Y, unless a value is being typed, which has an undo of its own.
fn undo_keys(ui: &Ui) -> Option<Way> {
    if ui.ctx().text_edit_focused() {
        return None;
    }
    ui.input_mut(|input| {
        let mut pressed = |modifiers, key| input.consume_key(modifiers, key);
        if pressed(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z)
            || pressed(Modifiers::COMMAND, Key::Y)
        {
            Some(Way::Again)
        } else if pressed(Modifiers::COMMAND, Key::Z) {
            Some(Way::Back)
        } else {
            None
        }
    })
}

fn name(ui: &mut Ui) {
    ui.label(RichText::new("Penstock").font(titles()));
}

fn running(ui: &mut Ui, readout: &Readout, wraps: bool) {
    let full = running_text(readout);
    // Where the line is short, the rest is said on hover.
    let fits = wraps || width_of(ui, &full, captions()) <= ui.available_width();
    let text = if fits {
        full.clone()
    } else {
        running_short(readout)
    };
    let text = RichText::new(text).font(captions()).color(palette(ui).dim);
    let label = Label::new(text);
    let response = ui.add(if wraps { label.wrap() } else { label.extend() });
    if !fits {
        response.on_hover_text(full);
    }
}

/// Rate and channels in words.
fn running_text(readout: &Readout) -> String {
    if readout.sample_rate_hz <= 0.0 {
        return "not running".to_owned();
    }
    let channels = match readout.channels {
        1 => "mono".to_owned(),
        2 => "stereo".to_owned(),
        n => format!("{n} channels"),
    };
    let kilohertz = readout.sample_rate_hz / 1e3;
    format!("{kilohertz} kHz {channels}")
}

/// Latency and what the processor is kept busy with.
fn load_text(readout: &Readout) -> String {
    if readout.sample_rate_hz <= 0.0 {
        return "Latency and processor: not running".to_owned();
    }
    let frames = readout.latency_frames;
    let milliseconds = f64::from(frames) / readout.sample_rate_hz * 1e3;
    let [mean, worst] = readout.load.map(|share| 100.0 * share);
    format!(
        "Latency {frames} frames ({milliseconds:.2} ms). Processor: {mean:.1} % of the time there is for \
         each block, at worst {worst:.1} % of late."
    )
}

/// Latency and load, when they are asked for.
fn load(ui: &mut Ui, desk: &impl Desk, readout: &Readout) {
    if desk.view().load_shown {
        let text = RichText::new(load_text(readout)).font(captions());
        let dim = palette(ui).dim;
        ui.add(Label::new(text.color(dim)).wrap());
    }
}

/// Rate and channels alone.
fn running_short(readout: &Readout) -> String {
    let full = running_text(readout);
    full.split(',').next().unwrap_or_default().to_owned()
}

fn tone_menu(ui: &mut Ui, desk: &mut impl Desk) {
    let now = desk.tone();
    let menu = ui.menu_button("Tone", |ui| {
        let mut new = now;
        for tone in Tone::ALL {
            ui.radio_value(&mut new, tone, tone.name());
        }
        if new != now {
            desk.set_tone(new);
            ui.close();
        }
    });
    menu.response.on_hover_text(
        "An alignment tone in place of the output, for a minute. Turn your monitors down first.",
    );
}

fn view_menu(ui: &mut Ui, desk: &mut impl Desk) {
    let view = desk.view();
    ui.menu_button("View", |ui| {
        let mut new = view;
        for percent in ZOOM_PERCENT {
            ui.radio_value(&mut new.zoom_percent, percent, format!("{percent} %"));
        }
        ui.separator();
        ui.radio_value(&mut new.dark, false, "Light");
        ui.radio_value(&mut new.dark, true, "Dark");
        ui.separator();
        ui.checkbox(&mut new.load_shown, "Latency and processor");
        ui.separator();
        ui.label(RichText::new("Meter beside peak and RMS").font(captions()));
        let meter = desk.meter();
        let mut chosen = meter;
        for kind in MeterKind::ALL {
            let word = if kind == MeterKind::Peak {
                "None"
            } else {
                kind.label()
            };
            ui.radio_value(&mut chosen, kind, word);
        }
        if chosen != meter {
            desk.set_meter(chosen);
            ui.ctx().request_repaint();
            ui.close();
        }
        if new != view {
            held::change_view(ui, desk, |view| {
                // What was set meanwhile stays.
                let meter = view.meter;
                *view = new;
                view.meter = meter;
            });
            ui.close();
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_runs_is_said_with_its_units() {
        let mut readout = Readout {
            latency_frames: 63,
            sample_rate_hz: 44_100.0,
            channels: 2,
            ..Readout::default()
        };
        assert_eq!(running_text(&readout), "44.1 kHz stereo");
        readout.load = [0.041, 0.2];
        assert_eq!(
            load_text(&readout),
            "Latency 63 frames (1.43 ms). Processor: 4.1 % of the time there is for each block, at worst \
             20.0 % of late."
        );
        assert_eq!(running_short(&readout), "44.1 kHz stereo");
        readout.sample_rate_hz = 0.0;
        assert_eq!(running_text(&readout), "not running");
    }
}
