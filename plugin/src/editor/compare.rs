//! Bus against return: their loudness, the trim that makes them alike, and how to hear it.

use super::notes::{quiet, show};
use super::{Desk, Readout};
use egui::Ui;

/// Draws the comparison.
pub(crate) fn compare(ui: &mut Ui, desk: &mut impl Desk, now: &Readout) {
    let measures = now.measures_loudness;
    ui.horizontal(|ui| {
        let word = if measures {
            "Stop measuring"
        } else {
            "Measure loudness"
        };
        let tip = "Loudness of bus and return by ITU-R BS.1770, over the same stretch of what is played; \
                   whatever is changed, it begins anew.";
        if ui.button(word).on_hover_text(tip).clicked() {
            desk.measure_loudness(!measures);
        }
        if measures && now.loudness.is_none() {
            quiet(ui, "Play the passage: figures come after a second of it.");
        }
    });
    if let Some(note) = &now.loudness {
        show(ui, desk, now, note);
    }
    quiet(
        ui,
        "Bypass, in the line at the top, lets the bus through at the same latency: once both are equally \
         loud, what differs is the circuit.",
    );
}
