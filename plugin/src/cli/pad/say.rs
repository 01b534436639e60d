//! The text answer of `penstock pad`.

use super::facts::{Facts, SELECTED_PERCENT};
use super::job::{Built, Job};
use super::rounding::Rounding;
use crate::advice::PHANTOM;
use crate::cli::text;
use penstock_dsp::pad::truth::{Deviation, Hum, rating_watts};
use penstock_dsp::pad::{LossKind, Network, Pad, Part, Parts, Purchase};
use penstock_dsp::units::Dbu;

/// A table, a line for each loss.
pub(super) fn list(job: &Job, builds: &[Built]) -> String {
    let request = &job.request;
    let network = builds.first().map_or(Network::None, |b| b.request.network);
    let mut head = vec!["loss wanted".to_owned()];
    for position in 0..network.positions() {
        head.push(network.position_name(position).to_owned());
    }
    for name in ["loss built", "off", "input", "output", "cost"] {
        head.push(name.to_owned());
    }
    let mut rows = vec![head];
    for built in builds {
        let pad = &built.build.as_built;
        let loss = pad.loss(request.kind, request.source, request.load);
        let mut row = vec![format!("{} dB", built.request.loss.0)];
        // A list may change its network where a U no longer serves.
        if pad.network() == network {
            row.extend(built.build.purchase.parts().iter().map(part));
        } else {
            row.resize(1 + network.positions(), pad.network().name().to_owned());
        }
        row.push(format!("{:.3} dB", loss.0));
        row.push(format!("{:+.3}", (loss - built.request.loss).0));
        row.push(text::ohms(pad.in_ohms(request.load).0));
        row.push(text::ohms(pad.out_ohms(request.source).0));
        row.push(format!("{:.3}", built.build.purchase.cost));
        rows.push(row);
    }
    // The reason for the network is much the same in every line.
    let why: String = builds
        .first()
        .and_then(|built| built.why.as_ref())
        .into_iter()
        .chain(builds.iter().filter_map(|built| built.gave_way.as_ref()))
        .map(|reason| format!("{reason}.\n"))
        .collect();
    let legs = if network.is_balanced() {
        "; series values are those of each leg, 2 off"
    } else {
        ""
    };
    format!(
        "{} pads of {} from {} into {}, loss {}{legs}\n\n{}\n{}\n{why}{PHANTOM}\n",
        network.name(),
        job.stock_name(),
        text::ohms(request.source.0),
        text::ohms(request.load.0),
        request.kind.name(),
        text::table(&rows),
        weights(job)
    )
}

fn weights(job: &Job) -> String {
    format!(
        "cost = (loss off / {} dB)^2 + (ln input ratio / {})^2 + (ln output ratio / {})^2\n",
        job.weights.loss_db, job.weights.in_ln, job.weights.out_ln
    )
}

/// What is soldered at a position.
pub(super) fn part(part: &Part) -> String {
    match part {
        Part::Single(ohms) => text::ohms(*ohms),
        Part::Series(a, b) => format!("{} + {}", text::ohms(*a), text::ohms(*b)),
        Part::Parallel(a, b) => format!("{} || {}", text::ohms(*a), text::ohms(*b)),
    }
}

/// One pad in full.
pub(super) fn one(job: &Job, built: &Built, facts: &Facts, of_return: bool) -> String {
    let network = built.build.as_built.network();
    let why = match &built.why {
        Some(why) => {
            let way = built.gave_way.as_ref();
            let way = way.map_or_else(String::new, |way| format!(" {way}."));
            format!("Proposed: {why}.{way}\n\n")
        }
        None => String::new(),
    };
    let said = if network == Network::None {
        "No pad: straight in. Line level overdrives a microphone input, and phantom power reaches \
         the line output unhindered.\n"
            .to_owned()
    } else {
        design(job, built)
    };
    let rest = [
        buying(job, built, facts),
        order(built),
        tolerance(facts),
        hum(built, facts),
        other(built, facts),
        if of_return {
            String::new()
        } else {
            phantom(facts)
        },
        remedy(built, facts),
        readings(built, facts),
    ];
    let caution = if of_return {
        "Monitors muted, then patch."
    } else {
        PHANTOM
    };
    format!("{why}{said}{}{caution}\n", rest.concat())
}

fn design(job: &Job, built: &Built) -> String {
    let (ideal, pad) = (&built.build.ideal, &built.build.as_built);
    let (source, load) = (built.request.source, built.request.load);
    let network = pad.network();
    let stock = if built.owned {
        "yours"
    } else {
        job.stock_name()
    };
    let mut rows = vec![vec![
        String::new(),
        "ideal".to_owned(),
        stock.to_owned(),
        String::new(),
    ]];
    for (position, bought) in built.build.purchase.parts().iter().enumerate() {
        let count = match network.count(position) {
            2 => "each leg, 2 off",
            _ => "1 off",
        };
        rows.push(vec![
            network.position_name(position).to_owned(),
            text::ohms(ideal.values()[position]),
            part(bought),
            count.to_owned(),
        ]);
    }
    let mut row = |name: &str, value: &dyn Fn(&Pad) -> String| {
        rows.push(vec![name.to_owned(), value(ideal), value(pad)]);
    };
    row("input, loaded", &|pad| text::ohms(pad.in_ohms(load).0));
    row("output, driven", &|pad| text::ohms(pad.out_ohms(source).0));
    for (name, kind) in [
        ("loss, loaded (V in / V out)", LossKind::Loaded),
        ("loss, unloaded", LossKind::Unloaded),
        ("loss, matched power", LossKind::MatchedPower),
        ("loss, open circuit", LossKind::OpenCircuit),
    ] {
        row(name, &|pad| {
            format!("{:.3} dB", pad.loss(kind, source, load).0)
        });
    }
    format!(
        "{} pad from {} into {}\n{}",
        network.name(),
        text::ohms(source.0),
        text::ohms(load.0),
        text::table(&rows)
    )
}

/// What perfection would cost.
fn buying(job: &Job, built: &Built, facts: &Facts) -> String {
    if facts.choices.is_empty() {
        return String::new();
    }
    let mut rows = vec![
        ["", "resistors", "values", "loss off", "cost"]
            .map(str::to_owned)
            .to_vec(),
    ];
    let request = &built.request;
    for (parts, purchase) in &facts.choices {
        let name = match parts {
            Parts::Nearest => "each nearest",
            Parts::Single => "chosen together",
            Parts::Pair => "two a position",
        };
        let loss = purchase
            .pad
            .loss(request.kind, request.source, request.load);
        rows.push(vec![
            name.to_owned(),
            purchase.resistors().to_string(),
            values(purchase),
            format!("{:+.3} dB", (loss - request.loss).0),
            format!("{:.4}", purchase.cost),
        ]);
    }
    format!("\nBuying\n{}{}", text::table(&rows), weights(job))
}

fn values(purchase: &Purchase) -> String {
    purchase
        .parts()
        .iter()
        .map(part)
        .collect::<Vec<_>>()
        .join(", ")
}

/// In which order an owned pad's values were taken, for that is easily mixed up.
fn order(built: &Built) -> String {
    let pad = &built.build.as_built;
    let [_, middle, last] = pad.values() else {
        return String::new();
    };
    if built.owned && !pad.network().is_pi() && middle > last {
        "\nThe middle value was taken as the shunt, as the network is drawn; it is larger than the \
         output arm. If they are the other way round, swap them.\n"
            .to_owned()
    } else {
        String::new()
    }
}

fn tolerance(facts: &Facts) -> String {
    let of = |deviation: &Deviation, digits: usize, unit: &str| {
        format!(
            "{:+.digits$} to {:+.digits$} {unit} at worst, +-{:.digits$} {unit} root-sum-square",
            deviation.low, deviation.high, deviation.rss
        )
    };
    let pair = |deviation: &Deviation| deviation.high - deviation.low;
    format!(
        "\nTolerance {} %\n  loss: {}\n  input: {}\n  output: {}\n  left against right: up to {:.3} dB; \
         of parts selected to {SELECTED_PERCENT} %: {:.3} dB\n",
        facts.tolerance_percent,
        of(&facts.spread.loss_db, 3, "dB"),
        of(&facts.spread.in_ohms, 1, "ohm"),
        of(&facts.spread.out_ohms, 2, "ohm"),
        pair(&facts.spread.loss_db),
        pair(&facts.selected.loss_db),
    )
}

fn hum(built: &Built, facts: &Facts) -> String {
    let Some(floating) = &facts.hum else {
        return if built.build.as_built.network() == Network::None {
            String::new()
        } else {
            "\nHum: an unbalanced pad rejects nothing; a difference of grounds is signal.\n"
                .to_owned()
        };
    };
    let line = |name: &str, hum: &Hum| {
        format!(
            "  {name}: legs reject {:.1} dB at worst ({:.1} root-sum-square); against the programme, \
             hum that the preamp itself lets through rises by {:.1} dB\n",
            hum.rejection_db, hum.rejection_rss_db, hum.rise_db
        )
    };
    let tapped = facts.hum_tapped.as_ref();
    format!(
        "\nHum, {} from each leg to ground at the preamp\n{}{}",
        text::ohms(facts.common_mode_ohms),
        line("floating shunt", floating),
        tapped.map_or_else(String::new, |hum| line("centre-tapped, grounded", hum)),
    )
}

fn other(built: &Built, facts: &Facts) -> String {
    let at = |hz: f64| {
        let found = facts.response.iter().min_by(|a, b| {
            let off = |point: &(f64, f64)| (point.0 / hz).ln().abs();
            off(a).total_cmp(&off(b))
        });
        found.map_or(0.0, |point| point.1)
    };
    let pad = &built.build.as_built;
    let mut heat = Vec::new();
    for (place, branch) in pad.network().branches().iter().enumerate() {
        let watts = facts.load.heat[place];
        let rating = rating_watts(watts).map_or("over 5 W".to_owned(), |r| format!("{r} W"));
        let line = format!(
            "{} {}: {:.1} mW, buy {rating}",
            pad.network().position_name(branch.position),
            text::ohms(pad.values()[branch.position]),
            watts * 1e3
        );
        if !heat.contains(&line) {
            heat.push(line);
        }
    }
    let ein = facts.ein.map_or_else(String::new, |(pad, microphone)| {
        format!(
            "; with the preamp {:.1} dBu against {:.1} from 150 ohm",
            pad.0, microphone.0
        )
    });
    format!(
        "\nFull scale ({} dBu unloaded): the output gives {} dBu, {} and {:.2} mA\n  {}\n\
         \nResponse at the preamp's terminals, cables of {:.0} and {:.0} pF: 20 Hz {:+.2} dB, \
         20 kHz {:+.2} dB, 100 kHz {:+.2} dB\n\
         Noise of the pad, 20 Hz to 20 kHz: {:.1} dBu, {:+.1} dB against a 150 ohm microphone{ein}\n",
        text::db(facts.unloaded.0),
        text::db(Dbu::from_volts(facts.load.volts).0),
        text::volts(facts.load.volts.0),
        facts.load.amps * 1e3,
        heat.join("\n  "),
        facts.cables.line_farads * 1e12,
        facts.cables.mic_farads * 1e12,
        at(20.0),
        at(20_000.0),
        at(100_000.0),
        facts.noise.open.0,
        // Plus zero, so that nothing is "-0.0".
        (facts.noise.over_150_ohm.0 * 10.0).round() / 10.0 + 0.0,
    )
}

fn phantom(facts: &Facts) -> String {
    format!(
        "Phantom power left on: {:.2} mA from each leg's feed, {:.2} mA into the line output\n",
        facts.phantom.hot_amps * 1e3,
        facts.phantom.source_amps * 1e3,
    )
}

fn remedy(built: &Built, facts: &Facts) -> String {
    let remedy = &facts.remedy;
    if !built.owned || remedy.off.0.abs() < 0.005 {
        return String::new();
    }
    format!(
        "\nThis pad loses {:+.2} dB more than the {} dB wanted. Any one of these puts it right: send trim \
         {:+.2} dB; send converter aligned to {} dBu full scale; preamp gain {} dB with return trim \
         {:+.2} dB\n",
        remedy.off.0,
        built.request.loss.0,
        remedy.off.0,
        text::db(remedy.send_full_scale.0),
        remedy.gain.0,
        remedy.rest.0
    )
}

fn readings(built: &Built, facts: &Facts) -> String {
    if built.build.as_built.network() == Network::None {
        return String::new();
    }
    let readings = &facts.readings;
    format!(
        "\nOhmmeter, nothing connected: input pins 2 to 3 {} (output open), {} (output shorted); output \
         pins 2 to 3 {} (input open), {} (input shorted); pin 2 to pin 2 {}, pin 3 to pin 3 {}\n",
        text::ohms(readings.in_open_ohms),
        text::ohms(readings.in_shorted_ohms),
        text::ohms(readings.out_open_ohms),
        text::ohms(readings.out_shorted_ohms),
        text::ohms(readings.hot_ohms),
        text::ohms(readings.cold_ohms),
    )
}

/// Whether rounding matters, in numbers.
pub(super) fn rounding(rounding: &[Rounding]) -> String {
    if rounding.is_empty() {
        return String::new();
    }
    let shown = |value: Option<f64>| value.map_or("-".to_owned(), |v| format!("{v:+.2} dB"));
    let heads = ["", "loss", "input", "output", "two pads", "H2", "H3"];
    let mut rows = vec![heads.map(str::to_owned).to_vec()];
    for one in rounding {
        rows.push(vec![
            format!(
                "{}, {} %",
                one.series.name(),
                Rounding::usual_percent(one.series)
            ),
            format!("{:+.3} dB", one.loss.0),
            format!("{:+.2} %", one.in_percent),
            format!("{:+.2} %", one.out_percent),
            format!("{:.2} dB", one.pair.0),
            shown(one.second_db),
            shown(one.third_db),
        ]);
    }
    format!(
        "\nDoes rounding matter? Changes against the ideal pad, and two pads against one another at \
         worst\n{}",
        text::table(&rows)
    )
}
