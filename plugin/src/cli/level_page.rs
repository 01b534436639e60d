//! `levels --html`: the level diagram as a page.

use super::error::Failure;
use super::metered::Metered;
use super::page;
use super::text;
use crate::advice::{noise_remark, own_remarks};
use crate::report::level_page::{self, LevelPage};
use penstock_dsp::diagram::{LevelDiagram, distortion_ceilings};
use penstock_dsp::meter::PointLevel;
use penstock_dsp::plan::Plan;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Writes the page; refuses a file that is there unless forced.
pub(super) fn write(
    path: &Path,
    force: bool,
    plan: &Plan,
    programme: &str,
    levels: &[PointLevel; 8],
    metered: Option<&Metered>,
) -> Result<(), Failure> {
    page::may_write(path, force)?;
    let mut diagram = LevelDiagram::of_plan(plan)?;
    if let Some(found) = distortion_ceilings(plan, &AtomicBool::new(false))? {
        diagram.add_ceilings(&found);
    }
    diagram.add_programme(levels);
    if let Some(metered) = metered {
        metered.add_to(&mut diagram);
    }
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
    };
    page::write(path, level_page::page(&about, &diagram))
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

const NOTES: [&str; 4] = [
    "Peaks are drawn as the sine of the same peak, since ceilings are sines; RMS is the second, dashed line.",
    "The ceiling that headroom counts from is the lowest of 1 % distortion at 1 kHz, converter clipping and a stated limit.",
    "Distortion is that of the voltage at the point itself, harmonics 2 to 20 below 20 kHz, on the circuit without converter clipping.",
    "At bus and return dBu is what the converter's alignment makes of the samples; figures under the picture are in dBFS there.",
];

const CAUTION: &str = "Before you send at line level, turn monitors down: a wrong pad or gain can be suddenly loud. Keep phantom power off unless every unit connected is made for it.";
