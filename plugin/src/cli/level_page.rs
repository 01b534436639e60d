//! `levels --html`: the level diagram as a page.

use super::distortion::Distortion;
use super::error::Failure;
use super::levels::measured::Measured;
use super::page;
use super::text;
use crate::advice::{noise_remark, own_remarks};
use crate::report::level_page::{self, LevelPage, SideFigures};
use penstock_dsp::plan::Plan;
use std::path::Path;

/// Writes the page; refuses a file that is there unless forced.
pub(super) fn write(
    path: &Path,
    force: bool,
    plan: &Plan,
    programme: &str,
    measured: &Measured,
    distortion: &Distortion,
) -> Result<(), Failure> {
    page::may_write(path, force)?;
    let db = text::db;
    let about = LevelPage {
        programme: programme.to_owned(),
        facts: vec![
            format!(
                "Send: 0 dBFS = {} dBu unloaded. Return: 0 dBFS = {} dBu.",
                db(plan.rig.send_full_scale.0.0),
                db(plan.rig.return_full_scale.0.0)
            ),
            format!(
                "Pad: {}, {:.1} dB asked. Preamp: attenuator {} dB, gain {} dB. Trims: send {} dB, return {} dB.",
                plan.pad.network.name(),
                plan.pad.loss.0,
                plan.preamp.attenuator.0,
                plan.preamp.gain.0,
                db(plan.send.trim.0),
                db(plan.back.trim.0)
            ),
        ],
        notes: notes(plan),
        program_version: env!("CARGO_PKG_VERSION").to_owned(),
        picture: measured.picture(),
        sides: sides(measured, plan),
        loudness: measured
            .statistics
            .as_ref()
            .map(|found| [("Bus", found.bus_lufs), ("Return", found.return_lufs)]),
        distortion: distortion.stages.clone(),
        response: distortion.response.clone(),
    };
    page::write(path, level_page::page(&about))
}

fn notes(plan: &Plan) -> Vec<String> {
    let mut notes = own_remarks(plan);
    notes.extend(NOTES.map(str::to_owned));
    notes.push(format!(
        "{} 468 is read by RMS: the standard's quasi-peak meter reads higher.",
        noise_remark(plan)
    ));
    notes.push(CAUTION.to_owned());
    notes
}

/// Left and right, or both as one where they are alike.
fn sides(measured: &Measured, plan: &Plan) -> Vec<SideFigures> {
    let alike = measured.sides_are_alike();
    let of = |(n, name): (usize, &str)| {
        measured.sides[n].as_ref()?;
        let statistics = measured.statistics.as_ref();
        Some(SideFigures {
            name: if alike {
                String::new()
            } else {
                name.to_owned()
            },
            diagram: measured.diagrams[n].clone(),
            statistics: statistics.and_then(|found| found.sides[n].clone()),
            full_scales: [
                plan.rig.send_full_scale_of(n).0,
                plan.rig.return_full_scale_of(n).0,
            ],
        })
    };
    let names = ["left", "right"].into_iter().enumerate();
    names
        .take(if alike { 1 } else { 2 })
        .filter_map(of)
        .collect()
}

const NOTES: [&str; 6] = [
    "Peaks are drawn as the sine of the same peak, since ceilings are sines; RMS is the second, dashed line.",
    "The ceiling that headroom counts from is the lowest of 1 % distortion at 1 kHz, converter clipping and a stated limit.",
    "Distortion is that of the voltage at the point itself, harmonics 2 to 20 below 20 kHz, on the circuit without converter clipping.",
    "Where left and right differ by 1 dB or more anywhere, the picture shows both; the figures under it are of both together: the larger peak, the mean of their squares. Tables have left and right apart where they differ at all.",
    "The programme is above a ceiling while samples are; what is above again within 0.5 s is the same passage. Ceilings there are those of a 1 kHz sine; converter clipping counts where the converter gets the signal, at the bus and at the preamp's output.",
    "At bus and return dBu is what the converter's alignment makes of the samples; figures under the picture are in dBFS there.",
];

const CAUTION: &str = "Before you send at line level, turn monitors down: a wrong pad or gain can be suddenly loud. Keep phantom power off unless every unit connected is made for it.";
