//! The JSON answer of `penstock pad`.

use super::facts::{Facts, SELECTED_PERCENT};
use super::job::{Built, Job};
use super::rounding::Rounding;
use crate::cli::json;
use penstock_dsp::pad::truth::{Deviation, Hum, Spread, rating_watts};
use penstock_dsp::pad::{Part, Purchase};
use penstock_dsp::units::Dbu;
use serde_json::{Value, json};

/// One pad, with everything that is true of it.
pub(super) fn answer(job: &Job, built: &Built, facts: &Facts, rounding: &[Rounding]) -> Value {
    let (request, build) = (&built.request, &built.build);
    let mut answer = json::build(build, request.source);
    let more = json!({
        "owned": built.owned,
        "proposal": built.why.as_ref().map(|why| json!({
            "network": request.network.name(),
            "why": why,
            "gave_way": built.gave_way,
        })),
        "source_ohms": request.source.0,
        "load_ohms": request.load.0,
        "stock": job.stock_name(),
        "resistors": resistors(build, facts),
        "buying": {
            "weights": {
                "loss_db": job.weights.loss_db,
                "in_ln": job.weights.in_ln,
                "out_ln": job.weights.out_ln,
            },
            "cost": build.purchase.cost,
            "choices": facts.choices.iter().map(|(parts, purchase)| {
                let mut choice = purchase_of(purchase);
                choice["parts"] = json!(parts.name());
                choice
            }).collect::<Vec<_>>(),
        },
        "remedy": {
            "loss_off_db": facts.remedy.off.0,
            "send_trim_db": facts.remedy.off.0,
            "send_full_scale_dbu": facts.remedy.send_full_scale.0,
            "gain_db": facts.remedy.gain.0,
            "return_trim_db": facts.remedy.rest.0,
        },
        "rounding": rounding.iter().map(Rounding::json).collect::<Vec<_>>(),
    });
    for more in [more, doubts(facts), bench(facts)] {
        if let (Some(answer), Value::Object(more)) = (answer.as_object_mut(), more) {
            answer.extend(more);
        }
    }
    answer
}

/// What tolerances and hum do.
fn doubts(facts: &Facts) -> Value {
    json!({
        "tolerance": {
            "percent": facts.tolerance_percent,
            "spread": spread(&facts.spread),
            "selected_percent": SELECTED_PERCENT,
            "selected": spread(&facts.selected),
            "pair_worst_db": facts.spread.loss_db.high - facts.spread.loss_db.low,
            "pair_rss_db": facts.spread.loss_db.rss * 2f64.sqrt(),
            "selected_pair_worst_db": facts.selected.loss_db.high - facts.selected.loss_db.low,
            "selected_pair_rss_db": facts.selected.loss_db.rss * 2f64.sqrt(),
        },
        "hum": {
            "common_mode_ohms": facts.common_mode_ohms,
            "floating": facts.hum.as_ref().map(hum),
            "centre_tapped": facts.hum_tapped.as_ref().map(hum),
        },
    })
}

/// What meters show.
fn bench(facts: &Facts) -> Value {
    json!({
        "response": facts.response.iter().map(|(hz, db)| json!({ "hz": hz, "db": db }))
            .collect::<Vec<_>>(),
        "noise": {
            "open_dbu": facts.noise.open.0,
            "loaded_dbu": facts.noise.loaded.0,
            "volts_per_root_hz": facts.noise.volts_per_root_hz,
            "over_150_ohm_db": facts.noise.over_150_ohm.0,
            "over_200_ohm_db": facts.noise.over_200_ohm.0,
            "ein_dbu": facts.ein.map(|(from_pad, _)| from_pad.0),
            "ein_150_ohm_dbu": facts.ein.map(|(_, from_150)| from_150.0),
        },
        "full_scale": {
            "unloaded_dbu": facts.unloaded.0,
            "line_dbu": Dbu::from_volts(facts.load.volts).0,
            "line_volts_rms": facts.load.volts.0,
            "line_amps_rms": facts.load.amps,
            "mic_volts_rms": facts.load.out.0,
        },
        "phantom": {
            "hot_amps": facts.phantom.hot_amps,
            "cold_amps": facts.phantom.cold_amps,
            "source_amps": facts.phantom.source_amps,
            "feed_watts": facts.phantom.feed_watts,
        },
        "readings": {
            "in_open_ohms": facts.readings.in_open_ohms,
            "in_shorted_ohms": facts.readings.in_shorted_ohms,
            "out_open_ohms": facts.readings.out_open_ohms,
            "out_shorted_ohms": facts.readings.out_shorted_ohms,
            "hot_ohms": facts.readings.hot_ohms,
            "cold_ohms": facts.readings.cold_ohms,
            "levels": facts.tests.iter().map(|test| json!({
                "bus_dbfs": test.bus.0, "line_dbu": test.line.0, "mic_dbu": test.mic.0,
            })).collect::<Vec<_>>(),
        },
    })
}

/// Every resistor of the network's list.
fn resistors(build: &penstock_dsp::chain::PadBuild, facts: &Facts) -> Vec<Value> {
    let pad = &build.as_built;
    let network = pad.network();
    let row = |(place, branch): (usize, &penstock_dsp::pad::Branch)| {
        let heat = facts.load.heat[place];
        json!({
            "name": format!("R{}", place + 1),
            "position": network.position_name(branch.position),
            "between": branch.ends.map(|end| format!("{end:?}")),
            "ohms": pad.values()[branch.position],
            "parts": part(&build.purchase.parts()[branch.position]),
            "heat_watts": heat,
            "rating_watts": rating_watts(heat),
        })
    };
    network.branches().iter().enumerate().map(row).collect()
}

fn part(part: &Part) -> Value {
    let (how, values) = match part {
        Part::Single(a) => ("single", vec![*a]),
        Part::Series(a, b) => ("series", vec![*a, *b]),
        Part::Parallel(a, b) => ("parallel", vec![*a, *b]),
    };
    json!({ "how": how, "ohms": values })
}

fn purchase_of(purchase: &Purchase) -> Value {
    json!({
        "cost": purchase.cost,
        "resistors": purchase.resistors(),
        "different": purchase.different(),
        "values": purchase.parts().iter().map(part).collect::<Vec<_>>(),
    })
}

fn spread(spread: &Spread) -> Value {
    let one = |deviation: &Deviation| json!({ "low": deviation.low, "high": deviation.high, "rss": deviation.rss });
    json!({
        "loss_db": one(&spread.loss_db),
        "in_ohms": one(&spread.in_ohms),
        "out_ohms": one(&spread.out_ohms),
    })
}

fn hum(hum: &Hum) -> Value {
    json!({
        "rejection_db": hum.rejection_db,
        "rejection_rss_db": hum.rejection_rss_db,
        "common_loss_db": hum.common_loss_db,
        "rise_db": hum.rise_db,
        "worst_ohms": hum.worst_ohms,
    })
}
