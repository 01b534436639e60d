//! Tables of the page of levels: statistics of a recording, distortion of the stages, response.

use super::level_page::SideFigures;
use super::text::{
    DASH, NBSP, decimal, decimal_or_dash, esc, signed, signed_or_dash, typeset, with_unit,
};
use penstock_dsp::analysis::StageDistortion;
use penstock_dsp::chain::Point;
use penstock_dsp::diagram::LimitKind;
use penstock_dsp::statistics::{Above, Percentiles, PointStatistics};
use penstock_dsp::units::Db;

/// So many passages of a channel are listed, those above the most tolerant ceiling first.
const PASSAGES: usize = 24;
/// What words in the last column begin with.
const WHEN: &str = "<span class=\"when\">";
/// Harmonics in the table.
const HARMONICS: std::ops::RangeInclusive<usize> = 2..=10;

/// Heads, and rows of a name and cells.
pub struct SideTable {
    pub heads: Vec<String>,
    pub rows: Vec<(String, Vec<String>)>,
}

/// As markup, in a frame that scrolls sideways where the page is too narrow.
pub fn table(name: &str, of: &SideTable) -> String {
    let caption = if name.is_empty() {
        String::new()
    } else {
        format!("<caption class=\"side\">{}</caption>", esc(name))
    };
    let words = |(_, cells): &(String, Vec<String>)| cells.iter().any(|cell| cell.contains(WHEN));
    let words = if of.rows.iter().any(words) {
        " words"
    } else {
        ""
    };
    let mut text = format!(
        "<div class=\"scroll\"><table class=\"levels{words}\">{caption}<thead><tr><th></th>"
    );
    for head in &of.heads {
        text += &format!("<th scope=\"col\">{}</th>", esc(&typeset(head)));
    }
    text += "</tr></thead>\n<tbody>\n";
    for (name, cells) in &of.rows {
        text += &format!("<tr><th scope=\"row\">{name}</th>");
        for cell in cells {
            text += &format!("<td>{cell}</td>");
        }
        text += "</tr>\n";
    }
    text + "</tbody></table></div>\n"
}

fn heads(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

/// Largest sample, true peak and short-term level; at bus and return in dBFS.
pub fn levels(side: &SideFigures) -> Option<SideTable> {
    let row = |point: &PointStatistics| {
        let (unit, shift) = match point.point {
            Point::Bus => ("dBFS", side.full_scales[0].0),
            Point::Return => ("dBFS", side.full_scales[1].0),
            _ => ("dBu", 0.0),
        };
        let level = |dbu: f64| signed(dbu - shift, 1);
        let maybe = |dbu: Option<f64>| signed_or_dash(dbu.map(|dbu| dbu - shift), 1);
        let rms = &point.short_term;
        let name = format!("{}, {unit}", point.point.label());
        let mut cells = vec![level(point.peak.0), level(point.true_peak.0)];
        cells.extend([rms.p10, rms.p50, rms.p95, rms.most].map(maybe));
        (name, cells)
    };
    Some(SideTable {
        heads: heads(&[
            "largest sample",
            "true peak",
            "RMS over 3 s: 10 %",
            "50 %",
            "95 %",
            "largest",
        ]),
        rows: side.statistics.as_ref()?.iter().map(row).collect(),
    })
}

/// Short-term loudness of both channels together.
pub fn loudness(places: &[(&'static str, Percentiles); 2]) -> String {
    if places.iter().all(|(_, lufs)| lufs.most.is_none()) {
        return "<p class=\"small\">There is no short-term level of less than 3 s.</p>\n"
            .to_owned();
    }
    let row = |(name, lufs): &(&'static str, Percentiles)| {
        let cells = [lufs.p10, lufs.p50, lufs.p95, lufs.most];
        (
            (*name).to_owned(),
            cells.map(|v| signed_or_dash(v, 1)).to_vec(),
        )
    };
    let found = SideTable {
        heads: heads(&["short-term loudness, LUFS: 10 %", "50 %", "95 %", "largest"]),
        rows: places.iter().map(row).collect(),
    };
    format!(
        "{}<p class=\"small\">{}</p>\n",
        table("", &found),
        typeset("10, 50 and 95 %: the programme lies below for that share of the time.")
    )
}

/// Seconds, of short times milliseconds.
fn time(seconds: f64) -> String {
    if seconds <= 0.0 {
        "0".to_owned()
    } else if seconds < 0.1 {
        with_unit(&decimal(seconds * 1e3, 2), "ms")
    } else {
        with_unit(&decimal(seconds, 2), "s")
    }
}

/// A place in a recording, minutes and seconds.
fn place(seconds: f64) -> String {
    let hundredths = (seconds.max(0.0) * 100.0).round() as u64;
    let (minutes, rest) = (hundredths / 6000, hundredths % 6000);
    format!("{minutes}:{:02}.{:02}", rest / 100, rest % 100)
}

fn kind_name(kind: LimitKind) -> String {
    match kind {
        LimitKind::Thd(percent) => format!("{percent}{NBSP}%"),
        LimitKind::Clip => "converter clips".to_owned(),
        LimitKind::Grid => "grid conducts".to_owned(),
        LimitKind::DataSheet => "data sheet".to_owned(),
    }
}

/// How long, by point and ceiling.
pub fn above(side: &SideFigures) -> Option<SideTable> {
    let cell = |point: &PointStatistics, kind: LimitKind| {
        let above = point.above.iter().find(|above| above.limit.kind == kind);
        above.map_or_else(|| DASH.to_owned(), |above| time(above.seconds))
    };
    let row = |point: &PointStatistics| {
        let cells = LimitKind::ALL.map(|kind| cell(point, kind));
        (point.point.label().to_owned(), cells.to_vec())
    };
    Some(SideTable {
        heads: LimitKind::ALL.map(kind_name).to_vec(),
        rows: side.statistics.as_ref()?.iter().map(row).collect(),
    })
}

/// When; the passages of all ceilings from the first on.
pub fn passages(side: &SideFigures) -> Option<SideTable> {
    let statistics = side.statistics.as_ref()?;
    let all = statistics.iter().flat_map(|point| {
        let passed = point.above.iter().filter(|above| above.passages > 0);
        passed.map(move |above| (point, above))
    });
    let row = |(point, above): (&PointStatistics, &Above)| {
        let shown = above.kept.iter().take(PASSAGES);
        let mut when: Vec<String> = shown
            .map(|passage| {
                format!(
                    "{}{NBSP}({})",
                    place(passage.start_seconds),
                    time(passage.seconds)
                )
            })
            .collect();
        let more = above.passages as usize - when.len();
        if more > 0 {
            when.push(format!("and {more} more"));
        }
        let cells = vec![
            kind_name(above.limit.kind),
            signed(above.limit.level.0, 1),
            decimal(above.over.0, 2),
            above.passages.to_string(),
            format!("{WHEN}{}</span>", when.join(", ")),
        ];
        (point.point.label().to_owned(), cells)
    };
    let rows: Vec<(String, Vec<String>)> = all.map(row).collect();
    (!rows.is_empty()).then(|| SideTable {
        heads: heads(&[
            "ceiling",
            "at, dBu",
            "passed by up to, dB",
            "passages",
            "beginning (and length), min:s",
        ]),
        rows,
    })
}

/// Harmonics, THD, THD+N and intermodulation of each stage.
pub fn distortion(stages: &[StageDistortion]) -> String {
    if stages.is_empty() {
        return String::new();
    }
    let mut names = heads(&["peak, dBu", "THD, %", "THD+N, %"]);
    names.extend(HARMONICS.map(|order| format!("H{order}, dB")));
    names.extend(heads(&["60 Hz + 7 kHz, %", "19 + 20 kHz, %"]));
    let percent = |value: Option<f64>| decimal_or_dash(value, 3);
    let row = |stage: &StageDistortion| {
        // Below this there is nothing but rounding.
        let heard = |db: Db| (db.0 > -160.0).then_some(db.0);
        let order = |n: usize| signed_or_dash(stage.harmonic(n).and_then(heard), 0);
        let mut cells = vec![
            signed(stage.peak.0, 1),
            percent(stage.thd_percent),
            percent(stage.thd_n_percent),
        ];
        cells.extend(HARMONICS.map(order));
        cells.extend([stage.smpte_percent, stage.ccif_percent].map(percent));
        (stage.point.label().to_owned(), cells)
    };
    let found = SideTable {
        heads: names,
        rows: stages.iter().map(row).collect(),
    };
    format!(
        "<h2>Distortion of each stage at the programme's level</h2>\n<p class=\"small\">{}</p>\n{}",
        typeset(
            "Of a 1 kHz sine with the programme's peak at the point, without converter clipping; both kinds of \
             intermodulation (IEC 60268-3) at the same peak. THD and harmonics re the fundamental; a dash is below \
             \u{2212}160 dB. THD+N by AES17."
        ),
        table("", &found)
    )
}

/// Third octaves, side by side.
pub fn response(response: &[(f64, Db)]) -> String {
    const COLUMNS: usize = 8;
    if response.is_empty() {
        return String::new();
    }
    let mut text =
        "<h2>Response from send to preamp out, dB re 1\u{a0}kHz</h2>\n<div class=\"scroll\">\
                    <table class=\"levels response\"><tbody>\n"
            .to_owned();
    for steps in response.chunks(COLUMNS) {
        let head = |(hz, _): &(f64, Db)| format!("<th scope=\"col\">{}</th>", third_octave(*hz));
        let cell = |(_, gain): &(f64, Db)| format!("<td>{}</td>", signed(gain.0, 2));
        let heads: String = steps.iter().map(head).collect();
        let cells: String = steps.iter().map(cell).collect();
        text += &format!("<tr class=\"head\">{heads}</tr>\n<tr>{cells}</tr>\n");
    }
    text + "</tbody></table></div>\n"
}

/// A third octave as it is called (IEC 61260-1, table of nominal midband frequencies).
fn third_octave(hz: f64) -> String {
    const NAMES: [&str; 10] = ["1", "1.25", "1.6", "2", "2.5", "3.15", "4", "5", "6.3", "8"];
    let tenths = (10.0 * hz.log10()).round();
    let decade = (tenths / 10.0).floor();
    let name = NAMES[((tenths - 10.0 * decade) as usize).min(9)];
    if decade >= 3.0 {
        let size = name.parse().unwrap_or(hz) * 10_f64.powf(decade - 3.0);
        with_unit(
            format!("{size:.2}")
                .trim_end_matches('0')
                .trim_end_matches('.'),
            "kHz",
        )
    } else {
        let size = name.parse().unwrap_or(hz) * 10_f64.powf(decade);
        with_unit(format!("{size:.1}").trim_end_matches(".0"), "Hz")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_at_a_glance() {
        assert_eq!(time(0.0), "0");
        assert_eq!(time(0.0123), "12.30\u{a0}ms");
        assert_eq!(time(2.5), "2.50\u{a0}s");
        assert_eq!(place(83.456), "1:23.46");
    }

    #[test]
    fn third_octaves_have_their_names() {
        for (exact, name) in [
            (19.953, "20\u{a0}Hz"),
            (31.623, "31.5\u{a0}Hz"),
            (1_000.0, "1\u{a0}kHz"),
            (1_258.9, "1.25\u{a0}kHz"),
            (12_589.3, "12.5\u{a0}kHz"),
            (19_952.6, "20\u{a0}kHz"),
        ] {
            assert_eq!(third_octave(exact), name);
        }
    }
}
