//! The figures beside the pictures, as tables.
//!
//! A table has a caption, one head row (or two) and row headers, so that it reads well aloud too.

use super::data::{LevelPoint, PadBuild, Recording, Scale, Setting};
use super::harmonics::ORDERS;
use super::series::{SOURCE, Series, Shown, badge};
use super::spectrum::{OCTAVES_HZ, level_at};
use super::text::{
    DASH, decimal, decimal_or_dash, esc, grouped, hertz, ohms, signed, signed_or_dash, typeset,
    volts,
};

/// A table under construction; every text given to it is escaped already.
pub struct Table {
    caption: String,
    head: String,
    body: String,
    class: &'static str,
}

impl Table {
    /// An empty table with a caption.
    pub fn new(caption: &str) -> Self {
        Self {
            caption: caption.to_string(),
            head: String::new(),
            body: String::new(),
            class: "figures",
        }
    }

    /// Gives the table a class of its own.
    pub fn class(mut self, class: &'static str) -> Self {
        self.class = class;
        self
    }

    /// The head row: name and class of each column.
    pub fn head(&mut self, columns: &[(&str, &str)]) {
        self.head.push_str("<tr>");
        for (name, class) in columns {
            self.head
                .push_str(&format!("<th scope=\"col\"{}>{name}</th>", class_of(class)));
        }
        self.head.push_str("</tr>\n");
    }

    /// Ready-made head markup, for heads of two rows.
    pub fn raw_head(&mut self, markup: &str) {
        self.head.push_str(markup);
    }

    /// A row: header first, then figures.
    pub fn row(&mut self, header: &str, figures: &[String]) {
        self.body
            .push_str(&format!("<tr><th scope=\"row\">{header}</th>"));
        for figure in figures {
            self.body.push_str(&format!("<td>{figure}</td>"));
        }
        self.body.push_str("</tr>\n");
    }

    /// Ready-made body markup.
    pub fn raw(&mut self, markup: &str) {
        self.body.push_str(markup);
    }

    /// The finished table in a frame that scrolls sideways where the page is too narrow.
    pub fn finish(self) -> String {
        let Self {
            caption,
            head,
            body,
            class,
        } = self;
        let body = if body.starts_with("<tbody") {
            body
        } else {
            format!("<tbody>\n{body}</tbody>\n")
        };
        format!(
            "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"{caption}\">\
             <table class=\"{class}\">\n<caption>{caption}</caption>\n<thead>\n{head}</thead>\n\
             {body}</table></div>\n"
        )
    }
}

fn class_of(class: &str) -> String {
    if class.is_empty() {
        String::new()
    } else {
        format!(" class=\"{class}\"")
    }
}

/// Marker, number and name of a setting as a row header.
pub fn setting_header(id: &str, shown: &Shown<'_>) -> String {
    named(
        id,
        shown.series,
        &shown.setting.id.to_string(),
        &shown.setting.name,
    )
}

/// Marker and name of the source as a row header.
pub fn source_header(id: &str) -> String {
    named(id, SOURCE, "S", "source")
}

fn named(id: &str, series: Series, label: &str, name: &str) -> String {
    format!(
        "<span class=\"who\">{}<span>{}</span></span>",
        badge(id, series, label),
        esc(&typeset(name))
    )
}

/// Levels at every point: per point one row for each setting.
pub fn levels(id: &str, of: &str, shown: &[Shown<'_>]) -> String {
    let mut table = Table::new(&format!("Levels along the chain: {of}")).class("figures levels");
    table.raw_head(
        "<tr><th scope=\"col\" rowspan=\"2\">Point</th><th scope=\"col\" rowspan=\"2\">Setting</th>\
         <th scope=\"colgroup\" colspan=\"3\" class=\"sep\">Peak</th>\
         <th scope=\"colgroup\" colspan=\"3\" class=\"sep\">RMS</th>\
         <th scope=\"colgroup\" colspan=\"3\" class=\"sep\">Ceiling</th></tr>\n\
         <tr><th scope=\"col\" class=\"sep\">dBu, as sine</th><th scope=\"col\">volts peak</th>\
         <th scope=\"col\">dBFS</th><th scope=\"col\" class=\"sep\">dBu</th>\
         <th scope=\"col\">volts</th><th scope=\"col\">dBFS</th>\
         <th scope=\"col\" class=\"sep\">dBu</th><th scope=\"col\">headroom, dB</th>\
         <th scope=\"col\" class=\"words\">what happens there</th></tr>\n",
    );
    let mut names: Vec<&str> = Vec::new();
    for point in shown.iter().flat_map(|s| &s.setting.points) {
        if !names.contains(&point.name.as_str()) {
            names.push(&point.name);
        }
    }
    for (row, name) in names.iter().enumerate() {
        let at = |s: &Shown<'_>| s.setting.points.iter().position(|p| p.name == *name);
        let rows: Vec<(&Shown<'_>, usize)> =
            shown.iter().filter_map(|s| at(s).map(|i| (s, i))).collect();
        let span = rows.len();
        let mut markup = String::from("<tbody>\n");
        for (i, (s, index)) in rows.iter().enumerate() {
            let point = &s.setting.points[*index];
            markup.push_str("<tr>");
            if i == 0 {
                let label = esc(&point.label);
                markup.push_str(&format!(
                    "<th scope=\"rowgroup\" rowspan=\"{span}\">{label}</th>"
                ));
            }
            let mark = badge(
                &format!("{id}-{row}-{i}"),
                s.series,
                &s.setting.id.to_string(),
            );
            markup.push_str(&format!("<th scope=\"row\" class=\"mark\">{mark}</th>"));
            markup.push_str(&level_cells(point));
            markup.push_str("</tr>\n");
        }
        markup.push_str("</tbody>\n");
        table.raw(&markup);
    }
    table.finish()
}

fn level_cells(point: &LevelPoint) -> String {
    // Volts belong to wires; a digital point has none.
    let wire = |v: Option<f64>| volts(v.filter(|_| point.scale == Scale::Dbu));
    let headroom = point
        .ceiling_dbu
        .zip(point.peak_sine_dbu)
        .map(|(c, p)| c - p);
    let headroom = match headroom.filter(|v| v.is_finite()) {
        None => DASH.to_string(),
        Some(v) if v < -0.05 => format!("<strong>{} over</strong>", decimal(-v, 1)),
        Some(v) => decimal(v.max(0.0), 1),
    };
    let note = if point.ceiling_dbu.is_some() {
        esc(&point.ceiling_note)
    } else {
        String::new()
    };
    format!(
        "<td class=\"sep\">{}</td><td>{}</td><td>{}</td><td class=\"sep\">{}</td><td>{}</td>\
         <td>{}</td><td class=\"sep\">{}</td><td>{headroom}</td>\
         <td class=\"words\">{note}</td>",
        signed_or_dash(point.peak_sine_dbu, 1),
        wire(point.volts_peak),
        decimal_or_dash(point.peak_dbfs, 1),
        signed_or_dash(point.rms_dbu, 1),
        wire(point.volts_rms),
        decimal_or_dash(point.rms_dbfs, 1),
        signed_or_dash(point.ceiling_dbu, 1),
    )
}

/// Loudness, trims, peaks and clipped frames.
pub fn trims(id: &str, of: &str, recording: &Recording, shown: &[Shown<'_>]) -> String {
    let mut table = Table::new(&format!("Trims and peaks: {of}"));
    table.head(&[
        ("Signal", ""),
        ("trim, dB", ""),
        ("loudness, LUFS", ""),
        ("to source, LU", ""),
        ("peak, dBFS", ""),
        ("peak less loudness, dB", ""),
        ("clipped in send, frames", ""),
        ("clipped in return, frames", ""),
    ]);
    let (lufs, peak) = (recording.played_lufs(), recording.played_peak_dbfs());
    let reduction = if recording.common_reduction_db == 0.0 {
        DASH.to_string()
    } else {
        signed(-recording.common_reduction_db, 2)
    };
    let spread = |lufs: Option<f64>, peak: Option<f64>| peak.zip(lufs).map(|(p, l)| p - l);
    table.row(
        &source_header(&format!("{id}-s")),
        &[
            reduction,
            decimal_or_dash(lufs, 1),
            DASH.to_string(),
            decimal_or_dash(peak, 1),
            decimal_or_dash(spread(lufs, peak), 1),
            DASH.to_string(),
            DASH.to_string(),
        ],
    );
    for (i, s) in shown.iter().enumerate() {
        let Setting {
            trim_db,
            clipped_send_frames,
            clipped_return_frames,
            ..
        } = s.setting;
        table.row(
            &setting_header(&format!("{id}-{i}"), s),
            &[
                signed(*trim_db, 2),
                decimal_or_dash(s.setting.lufs, 1),
                signed_or_dash(s.setting.lufs.zip(lufs).map(|(a, b)| a - b), 2),
                decimal_or_dash(s.setting.peak_dbfs, 1),
                decimal_or_dash(spread(s.setting.lufs, s.setting.peak_dbfs), 1),
                grouped(*clipped_send_frames),
                grouped(*clipped_return_frames),
            ],
        );
    }
    table.finish()
}

/// The spectra at octave frequencies: the source, then each setting less the source.
pub fn spectra(id: &str, of: &str, recording: &Recording, shown: &[Shown<'_>]) -> String {
    let mut table = Table::new(&format!("Spectra at octave frequencies: {of}"));
    let heads: Vec<String> = OCTAVES_HZ.iter().map(|hz| hertz(*hz)).collect();
    let mut columns = vec![("Signal", ""), ("in", "")];
    columns.extend(heads.iter().map(|h| (h.as_str(), "")));
    table.head(&columns);
    let played = recording.played_spectrum();
    let source = OCTAVES_HZ.map(|hz| level_at(&played, hz));
    let mut figures = vec!["dBFS".to_string()];
    figures.extend(source.iter().map(|v| decimal_or_dash(*v, 1)));
    table.row(&source_header(&format!("{id}-s")), &figures);
    for (i, s) in shown.iter().enumerate() {
        let mut figures = vec!["dB re source".to_string()];
        for (hz, source) in OCTAVES_HZ.into_iter().zip(source) {
            let changed = level_at(&s.setting.spectrum, hz)
                .zip(source)
                .map(|(a, b)| a - b);
            figures.push(signed_or_dash(changed, 1));
        }
        table.row(&setting_header(&format!("{id}-{i}"), s), &figures);
    }
    table.finish()
}

/// THD and every harmonic that was measured.
pub fn harmonics(id: &str, of: &str, shown: &[Shown<'_>]) -> String {
    let mut table = Table::new(&format!(
        "Distortion of a 1 kHz sine with the programme's peak: {of}"
    ));
    let mut orders: Vec<u32> = ORDERS.to_vec();
    orders.extend(
        shown
            .iter()
            .flat_map(|s| s.setting.harmonics.iter().map(|h| h.order)),
    );
    orders.sort_unstable();
    orders.dedup();
    let heads: Vec<String> = orders.iter().map(|o| format!("H{o}, dB")).collect();
    let mut columns = vec![("Setting", ""), ("THD, %", "")];
    columns.extend(heads.iter().map(|h| (h.as_str(), "")));
    table.head(&columns);
    for (i, s) in shown.iter().enumerate() {
        let mut figures = vec![decimal_or_dash(s.setting.thd_percent, 3)];
        figures.extend(
            orders
                .iter()
                .map(|o| decimal_or_dash(s.setting.harmonic_db(*o), 1)),
        );
        table.row(&setting_header(&format!("{id}-{i}"), s), &figures);
    }
    table.finish()
}

/// What a pad is made of and what it does; `whose` names its settings, escaped already.
pub fn pad(whose: &str, pad: &PadBuild) -> String {
    let network = esc(&pad.network);
    let mut table = Table::new(&format!("{network} pad of {whose}")).class("figures pad");
    table.head(&[("Resistor", ""), ("value", ""), ("off", "")]);
    for r in &pad.resistors {
        table.row(
            &esc(&r.label),
            &[ohms(Some(r.ohms)), grouped(u64::from(r.count))],
        );
    }
    let dash_or = |db: Option<f64>| decimal_or_dash(db, 2);
    let facts = [
        ("Asked for", esc(&pad.requested)),
        ("Values from", esc(&pad.series)),
        ("Loss into this preamp, dB", dash_or(pad.loss_loaded_db)),
        ("Load on the line output", ohms(pad.in_ohms)),
        ("Source the preamp sees", ohms(pad.out_ohms)),
    ];
    let mut out = String::from("<div class=\"padbuild\">\n");
    out.push_str(&table.finish());
    out.push_str("<dl class=\"facts\">\n");
    for (name, value) in facts {
        if !value.is_empty() {
            out.push_str(&format!("<div><dt>{name}</dt><dd>{value}</dd></div>\n"));
        }
    }
    out.push_str("</dl></div>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_over_its_ceiling_says_so_in_words() {
        let point = LevelPoint {
            peak_sine_dbu: Some(23.4),
            ceiling_dbu: Some(22.0),
            ceiling_note: "converter \"clips\"".into(),
            ..LevelPoint::default()
        };
        let cells = level_cells(&point);
        assert!(cells.contains("<strong>1.4 over</strong>"), "{cells}");
        assert!(cells.contains("converter &quot;clips&quot;"));
    }

    #[test]
    fn undefined_levels_are_dashes() {
        let point = LevelPoint {
            peak_sine_dbu: Some(f64::NEG_INFINITY),
            rms_dbu: Some(f64::NAN),
            ceiling_dbu: Some(22.0),
            ..LevelPoint::default()
        };
        let cells = level_cells(&point);
        assert!(!cells.contains("inf") && !cells.contains("NaN"), "{cells}");
        assert_eq!(cells.matches(DASH).count(), 7, "{cells}");
    }

    #[test]
    fn trims_are_shown_against_the_source_as_played() {
        let setting = Setting {
            id: 1,
            lufs: Some(-23.2),
            trim_db: -8.4,
            ..Setting::default()
        };
        let recording = Recording {
            lufs: Some(-20.0),
            common_reduction_db: 3.25,
            settings: vec![setting],
            ..Recording::default()
        };
        let pictures = super::super::series::pictures(&recording);
        let out = trims("t", "x", &recording, &pictures[0]);
        assert!(out.contains("<td>−3.25</td><td>−23.2</td>"), "{out}");
        assert!(
            out.contains("<td>−8.40</td><td>−23.2</td><td>+0.05</td>"),
            "{out}"
        );
    }
}
