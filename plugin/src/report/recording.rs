//! The section of one recording: listen, levels, waveforms, spectra, harmonics, trims, pads,
//! plans.

use super::data::{Fact, PadBuild, Recording, Setting};
use super::diagram::diagrams;
use super::player::audio;
use super::series::{Shown, legend, pictures};
use super::text::{
    DASH, decimal, decimal_or_dash, duration, esc, grouped, signed, signed_or_dash, with_unit,
};
use super::{fact_list, harmonics, spectrum, tables, waveform};

/// The label an invented recording carries, unless its name says so already.
fn label(recording: &Recording) -> Option<&'static str> {
    let said = recording.name.to_lowercase().contains("invented");
    (recording.invented && !said).then_some("invented demo material")
}

/// Name with its label in brackets, for places that hold plain text only.
pub fn plain_name(recording: &Recording) -> String {
    let label = label(recording).map_or_else(String::new, |label| format!(" ({label})"));
    format!("{}{label}", recording.name)
}

/// Name with its label, as markup.
pub fn display_name(recording: &Recording) -> String {
    let label = label(recording).map_or_else(String::new, |label| {
        format!(" <span class=\"label\">{label}</span>")
    });
    format!("{}{label}", esc(&recording.name))
}

/// The whole section; `number` counts from 1 and makes its ids.
pub fn section(number: usize, recording: &Recording) -> String {
    let id = format!("r{number}");
    let mut out = format!(
        "<section class=\"recording\" id=\"{id}\">\n<h2>{}</h2>\n",
        display_name(recording)
    );
    out.push_str(&fact_list("facts", &facts(recording)));
    out.push_str(&reduction(recording));
    let pictures = pictures(recording);
    out.push_str(&listen(&id, recording, &pictures));
    out.push_str(&drawn(&id, recording, &pictures));
    out.push_str(&pads(recording));
    out.push_str(&plans(&id, &pictures));
    out.push_str("</section>\n");
    out
}

fn facts(recording: &Recording) -> Vec<Fact> {
    let fact = |name: &str, value: String| Fact {
        name: name.to_string(),
        value,
    };
    let channels = match recording.channels {
        1 => "1 (mono)".to_string(),
        2 => "2 (stereo)".to_string(),
        n => n.to_string(),
    };
    let rate = with_unit(
        &grouped(recording.sample_rate_hz.max(0.0).round() as u64),
        "Hz",
    );
    vec![
        fact("Length", duration(recording.seconds)),
        fact("Sample rate", rate),
        fact("Channels", channels),
        fact(
            "Loudness",
            with_unit(&decimal_or_dash(recording.lufs, 1), "LUFS"),
        ),
        fact(
            "Sample peak",
            with_unit(&decimal_or_dash(recording.peak_dbfs, 1), "dBFS"),
        ),
        fact("Settings", recording.settings.len().to_string()),
    ]
}

/// Says when everything had to come down.
fn reduction(recording: &Recording) -> String {
    let down = recording.common_reduction_db;
    if !down.is_finite() || down.abs() < 0.005 {
        return String::new();
    }
    format!(
        "<p>Every player and every render of this recording, the source\u{2019}s player included, \
         is {} lower than the source, so that no peak clips. The differences between them stay as \
         they are.</p>\n",
        with_unit(&decimal(down, 2), "dB")
    )
}

fn listen(id: &str, recording: &Recording, pictures: &[Vec<Shown<'_>>]) -> String {
    let mut table = tables::Table::new(&format!(
        "Players and renders: {}",
        esc(&plain_name(recording))
    ));
    table.head(&[
        ("Signal", ""),
        ("player", "player left"),
        ("THD, %", ""),
        ("loudness, LUFS", ""),
        ("peak, dBFS", ""),
        ("trim, dB", ""),
        ("full render", "left"),
    ]);
    let name = format!("source, {}", esc(&plain_name(recording)));
    let down = recording.common_reduction_db;
    let trim = (down != 0.0).then_some(-down);
    table.raw(&listen_row(
        &tables::source_header(&format!("{id}-ls")),
        &audio(&recording.player_wav, "S", &name),
        &[
            DASH.to_string(),
            decimal_or_dash(recording.played_lufs(), 1),
            decimal_or_dash(recording.played_peak_dbfs(), 1),
            signed_or_dash(trim, 2),
        ],
        DASH,
    ));
    for (i, s) in pictures.iter().flatten().enumerate() {
        let setting = s.setting;
        let name = format!("setting {}, {}", setting.id, esc(&setting.name));
        let header = tables::setting_header(&format!("{id}-l{i}"), s);
        let file = esc(&setting.file_name);
        let file = if file.is_empty() {
            DASH.into()
        } else {
            format!("<code>{file}</code>")
        };
        table.raw(&listen_row(
            &format!("{header}{}", changes(setting)),
            &audio(&setting.player_wav, &setting.id.to_string(), &name),
            &[
                decimal_or_dash(setting.thd_percent, 3),
                decimal_or_dash(setting.lufs, 1),
                decimal_or_dash(setting.peak_dbfs, 1),
                signed(setting.trim_db, 2),
            ],
            &file,
        ));
    }
    format!(
        "<div class=\"listen\">\n<h3>Listen</h3>\n<p class=\"small\">{} Start with the monitors \
         low.</p>\n<div class=\"switch\" role=\"group\" aria-label=\"Switch at the same position\" \
         hidden=\"\"><span>Switch at the same position:</span></div>\n{}</div>\n",
        excerpt_words(recording),
        table.finish()
    )
}

/// What part of the recording the players hold.
fn excerpt_words(recording: &Recording) -> String {
    let excerpt = recording.excerpt;
    if excerpt.seconds >= recording.seconds - 0.05 {
        return "The players hold the whole recording.".to_string();
    }
    format!(
        "The players hold {} from {} on, where the recording is loudest.",
        duration(excerpt.seconds),
        duration(excerpt.start_seconds)
    )
}

/// A row of the players' table: THD, loudness, peak and trim stand in `figures`.
fn listen_row(header: &str, player: &str, figures: &[String; 4], file: &str) -> String {
    let [thd, lufs, peak, trim] = figures;
    format!(
        "<tr><th scope=\"row\">{header}</th><td class=\"player\">{player}</td><td>{thd}</td>\
         <td>{lufs}</td><td>{peak}</td><td>{trim}</td><td class=\"left\">{file}</td></tr>\n"
    )
}

/// The changed keys under a setting's name.
fn changes(setting: &Setting) -> String {
    let lines: Vec<String> = setting
        .changes
        .iter()
        .map(|c| format!("<code>{} = {}</code>", esc(&c.key), esc(&c.value)))
        .collect();
    if lines.is_empty() {
        return String::new();
    }
    format!("<span class=\"keys\">{}</span>", lines.join("<br/>"))
}

/// Draws a picture or its table: id, what it is of, the settings in it.
type Draw<'a> = &'a dyn Fn(&str, &str, &[Shown<'_>]) -> String;

/// One kind of picture with its table.
struct Part<'a> {
    key: &'a str,
    title: &'a str,
    lead: &'a str,
    picture: Draw<'a>,
    table: Draw<'a>,
    legend: Legend,
}

/// What a picture's legend names.
#[derive(Clone, Copy, PartialEq)]
enum Legend {
    /// The picture carries its names itself.
    None,
    Settings,
    SourceAndSettings,
}

/// The pictures, each with its legend and its table.
fn drawn(id: &str, recording: &Recording, pictures: &[Vec<Shown<'_>>]) -> String {
    let all = pictures.concat();
    let parts = [
        Part {
            key: "levels",
            title: "Levels along the chain",
            lead: LEVELS_LEAD,
            picture: &|id, of, shown| diagrams(id, of, shown, &all),
            table: &tables::levels,
            legend: Legend::None,
        },
        Part {
            key: "harm",
            title: "Harmonics",
            lead: HARMONICS_LEAD,
            picture: &|id, of, shown| harmonics::harmonics(id, of, shown, &all),
            table: &tables::harmonics,
            legend: Legend::Settings,
        },
        Part {
            key: "waves",
            title: "Waveforms and trims",
            lead: WAVES_LEAD,
            picture: &|id, of, shown| waveform::waveforms(id, of, recording, shown),
            table: &|id, of, shown| tables::trims(id, of, recording, shown),
            legend: Legend::None,
        },
        Part {
            key: "spectra",
            title: "Spectra",
            lead: SPECTRA_LEAD,
            picture: &|id, of, shown| spectrum::spectra(id, of, recording, shown, &all),
            table: &|id, of, shown| tables::spectra(id, of, recording, shown),
            legend: Legend::SourceAndSettings,
        },
    ];
    let name = plain_name(recording);
    parts
        .iter()
        .map(|part| draw_part(id, &name, part, pictures))
        .collect()
}

fn draw_part(id: &str, name: &str, part: &Part<'_>, pictures: &[Vec<Shown<'_>>]) -> String {
    let Part {
        key, title, lead, ..
    } = part;
    let mut out =
        format!("<h3 id=\"{id}-{key}\">{title}</h3>\n<p class=\"small lead-in\">{lead}</p>\n");
    for (i, shown) in pictures.iter().enumerate() {
        let part_id = format!("{id}-{key}{i}");
        let some = if pictures.len() > 1 {
            format!(", {}", numbers(shown))
        } else {
            String::new()
        };
        let of = format!("{name}{some}");
        let picture = (part.picture)(&part_id, &of, shown);
        let key_list = match part.legend {
            Legend::None => String::new(),
            Legend::Settings => legend(&part_id, shown, None),
            Legend::SourceAndSettings => legend(&part_id, shown, Some("source")),
        };
        if !picture.is_empty() {
            out.push_str(&format!(
                "<figure>\n<div class=\"scroll\" role=\"region\" tabindex=\"0\" \
                 aria-label=\"{title}, picture\">{picture}</div>\n{key_list}</figure>\n"
            ));
        }
        out.push_str(&(part.table)(&format!("{part_id}t"), &esc(&of), shown));
    }
    out
}

const LEVELS_LEAD: &str = "Thick line: programme peak, as the sine of the same peak. Dashed: RMS. Hatched: \
    a converter clips. Ticks: the sine that distorts by 0.1, 1 and 3 % at 1\u{a0}kHz and 50\u{a0}Hz by \
    what lies before the point. Lowest line: noise, 20\u{a0}Hz to 20\u{a0}kHz. All settings on one scale.";
const HARMONICS_LEAD: &str = "Of a 1\u{a0}kHz sine with the programme\u{2019}s peak at the bus.";
const WAVES_LEAD: &str = "As the players sound, all on one scale.";
const SPECTRA_LEAD: &str = "At equal loudness, so the lower panel holds the change of tone alone.";

fn numbers(shown: &[Shown<'_>]) -> String {
    let ids: Vec<String> = shown.iter().map(|s| s.setting.id.to_string()).collect();
    list("setting", &ids)
}

/// "setting 1", "settings 1 and 2", "settings 1, 2 and 3".
fn list(noun: &str, ids: &[String]) -> String {
    match ids {
        [] => String::new(),
        [one] => format!("{noun} {one}"),
        [most @ .., last] => format!("{noun}s {} and {last}", most.join(", ")),
    }
}

/// The pads, each once, with the settings that share it.
fn pads(recording: &Recording) -> String {
    let mut builds: Vec<(Option<&PadBuild>, Vec<String>)> = Vec::new();
    for s in &recording.settings {
        let pad = s.pad.as_ref();
        match builds.iter_mut().find(|(known, _)| *known == pad) {
            Some((_, ids)) => ids.push(s.id.to_string()),
            None => builds.push((pad, vec![s.id.to_string()])),
        }
    }
    if builds.is_empty() {
        return String::new();
    }
    let mut out = String::from("<h3>Pads as built</h3>\n");
    for (pad, ids) in builds {
        let whose = list("setting", &ids);
        match pad {
            Some(pad) => out.push_str(&tables::pad(&esc(&whose), pad)),
            None => out.push_str(&format!("<p>No pad in {}.</p>\n", esc(&whose))),
        }
    }
    out
}

fn plans(id: &str, pictures: &[Vec<Shown<'_>>]) -> String {
    if pictures.is_empty() {
        return String::new();
    }
    let mut out = String::from("<h3>Plans</h3>\n");
    for (i, s) in pictures.iter().flatten().enumerate() {
        out.push_str(&format!(
            "<details>\n<summary>{}</summary>\n<pre>{}</pre>\n</details>\n",
            tables::setting_header(&format!("{id}-p{i}"), s),
            esc(s.setting.plan_toml.trim_end())
        ));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_that_share_a_pad_share_its_table() {
        let pad = Some(PadBuild {
            network: "U".into(),
            ..PadBuild::default()
        });
        let with = |id: u32, pad: &Option<PadBuild>| Setting {
            id,
            pad: pad.clone(),
            ..Setting::default()
        };
        let recording = Recording {
            settings: vec![with(1, &pad), with(2, &None), with(3, &pad)],
            ..Recording::default()
        };
        let out = pads(&recording);
        assert_eq!(out.matches("<table").count(), 1);
        assert!(out.contains("U pad of settings 1 and 3"), "{out}");
        assert!(out.contains("No pad in setting 2."), "{out}");
    }

    #[test]
    fn invented_material_is_named_so() {
        let recording = Recording {
            name: "field & yard".into(),
            invented: true,
            ..Recording::default()
        };
        assert!(plain_name(&recording).ends_with("(invented demo material)"));
        assert!(display_name(&recording).contains("field &amp; yard <span"));
        let said = Recording {
            name: "Invented supper".into(),
            ..recording
        };
        assert_eq!(plain_name(&said), "Invented supper");
    }
}
