//! The line at the top: the name, bypass and oversampling, what the host runs at, the view menu.

use super::theme::{captions, palette, titles};
use super::{Desk, Readout, ZOOM_PERCENT, held, section};
use egui::{Align, Label, Layout, RichText, Ui};

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
                running(ui, readout, false);
            });
        });
    } else if ui.available_width() < STACKED {
        ui.horizontal(|ui| {
            name(ui);
            view_menu(ui, desk);
        });
        section::top_column(ui, desk);
        running(ui, readout, true);
    } else {
        ui.horizontal_wrapped(|ui| {
            left(ui, desk);
            view_menu(ui, desk);
            running(ui, readout, false);
        });
    }
}

fn left(ui: &mut Ui, desk: &mut impl Desk) {
    name(ui);
    ui.add_space(12.0);
    section::top_controls(ui, desk);
}

fn name(ui: &mut Ui) {
    ui.label(RichText::new("Penstock").font(titles()));
}

fn running(ui: &mut Ui, readout: &Readout, wraps: bool) {
    let text = RichText::new(running_text(readout))
        .font(captions())
        .color(palette(ui).dim);
    let label = Label::new(text);
    ui.add(if wraps { label.wrap() } else { label.extend() });
}

/// Rate, channels and latency in words.
fn running_text(readout: &Readout) -> String {
    if readout.sample_rate_hz <= 0.0 {
        return "not running".to_owned();
    }
    let channels = match readout.channels {
        1 => "mono".to_owned(),
        2 => "stereo".to_owned(),
        n => format!("{n} channels"),
    };
    let frames = readout.latency_frames;
    let milliseconds = f64::from(frames) / readout.sample_rate_hz * 1e3;
    let kilohertz = readout.sample_rate_hz / 1e3;
    format!("{kilohertz} kHz {channels}, latency {frames} frames ({milliseconds:.2} ms)")
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
        if new != view {
            held::change_view(ui, desk, |view| *view = new);
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
        assert_eq!(
            running_text(&readout),
            "44.1 kHz stereo, latency 63 frames (1.43 ms)"
        );
        readout.sample_rate_hz = 0.0;
        assert_eq!(running_text(&readout), "not running");
    }
}
