//! Judges of whole pages, for tests: balanced tags, unique ids, nothing that is not finite.

use super::data::*;

/// Elements that have no end tag.
const VOID: [&str; 3] = ["meta", "br", "hr"];

/// Checks that every tag is closed in order, every attribute quoted, every id unique and every
/// reference met. Returns what is wrong.
pub fn faults(page: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let mut open: Vec<&str> = Vec::new();
    let mut ids: Vec<&str> = Vec::new();
    let mut wanted: Vec<&str> = Vec::new();
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        let Some(end) = rest.find('>') else {
            faults.push(format!("unclosed tag: {}", start_of(rest)));
            break;
        };
        let tag = &rest[..end];
        rest = &rest[end + 1..];
        if tag.starts_with('!') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            if open.pop() != Some(name) {
                faults.push(format!("</{name}> closes nothing"));
            }
            continue;
        }
        let (tag, alone) = tag.strip_suffix('/').map_or((tag, false), |t| (t, true));
        let name = tag.split_whitespace().next().unwrap_or_default();
        attributes(tag[name.len()..].trim(), &mut ids, &mut wanted, &mut faults);
        if !alone && !VOID.contains(&name) {
            open.push(name);
            if name == "script" || name == "style" {
                let close = format!("</{name}>");
                rest = &rest[rest.find(&close).unwrap_or(rest.len())..];
            }
        }
    }
    faults.extend(open.iter().map(|name| format!("<{name}> is never closed")));
    let mut sorted = ids.clone();
    sorted.sort_unstable();
    faults.extend(
        sorted
            .windows(2)
            .filter(|w| w[0] == w[1])
            .map(|w| format!("id {} twice", w[0])),
    );
    for id in wanted {
        if !ids.contains(&id) {
            faults.push(format!("no element has the id {id}"));
        }
    }
    faults
}

fn start_of(text: &str) -> String {
    text.chars().take(30).collect()
}

fn attributes<'a>(
    text: &'a str,
    ids: &mut Vec<&'a str>,
    wanted: &mut Vec<&'a str>,
    faults: &mut Vec<String>,
) {
    let mut rest = text;
    while !rest.is_empty() {
        let parts = rest.split_once("=\"").and_then(|(name, tail)| {
            tail.split_once('"')
                .map(|(value, tail)| (name.trim(), value, tail.trim_start()))
        });
        let Some((name, value, tail)) = parts else {
            faults.push(format!("attribute without quotes: {}", start_of(rest)));
            return;
        };
        if name.contains(char::is_whitespace) || name.is_empty() {
            faults.push(format!("attribute without value: {name}"));
        }
        match name {
            "id" => ids.push(value),
            "aria-labelledby" => wanted.extend(value.split(' ')),
            "href" => wanted.extend(value.strip_prefix('#')),
            _ => {
                if let Some(id) = value.strip_prefix("url(#") {
                    wanted.push(id.trim_end_matches(')'));
                }
            }
        }
        rest = tail;
    }
}

/// A point of the chain with everything filled from one level.
pub fn point(name: &str, scale: Scale, peak_sine_dbu: f64, full_scale_dbu: f64) -> LevelPoint {
    let digital = scale != Scale::Dbu;
    let volts = |dbu: f64| 0.6f64.sqrt() * 10f64.powf(dbu / 20.0);
    LevelPoint {
        name: name.into(),
        label: name.replace('_', " "),
        scale,
        rms_dbu: Some(peak_sine_dbu - 14.0),
        peak_sine_dbu: Some(peak_sine_dbu),
        volts_rms: Some(volts(peak_sine_dbu - 14.0)),
        volts_peak: Some(volts(peak_sine_dbu) * 2f64.sqrt()),
        rms_dbfs: digital.then_some(peak_sine_dbu - 14.0 - full_scale_dbu),
        peak_dbfs: digital.then_some(peak_sine_dbu - full_scale_dbu),
        ceiling_dbu: Some(22.0),
        ceiling_note: "converter <clips>".into(),
    }
}

/// A small setting with everything that needs escaping in it.
fn small_setting(id: u32, level: Option<f64>) -> Setting {
    Setting {
        id,
        name: format!("pad <{id}> & \"gain\""),
        changes: vec![Change {
            key: "pad.loss_db".into(),
            value: "'34'".into(),
        }],
        plan_toml: "[pad]\nloss_kind = \"loaded\" # <&>\n".into(),
        lufs: level,
        trim_db: level.unwrap_or(-4.0),
        peak_dbfs: level,
        thd_percent: level,
        harmonics: (2..=5)
            .map(|order| Harmonic {
                order,
                level_db: level,
            })
            .collect(),
        points: vec![
            point("bus", Scale::SendDbfs, 12.0, 22.0),
            LevelPoint {
                rms_dbu: level,
                peak_sine_dbu: level,
                volts_peak: level,
                volts_rms: level,
                ceiling_dbu: level,
                ..point("mic_in", Scale::Dbu, -22.0, 0.0)
            },
            LevelPoint {
                rms_dbfs: level,
                peak_dbfs: level,
                ..point("return", Scale::ReturnDbfs, 10.0, 22.0)
            },
        ],
        waveform: Waveform {
            min_max: vec![(level.unwrap_or(-0.1), 0.1), (-0.2, 0.2)],
        },
        spectrum: Spectrum {
            hz_dbfs: vec![(100.0, level.unwrap_or(-30.0)), (1000.0, -40.0)],
            bands: "third-octave bands".into(),
        },
        player_wav: vec![1, 2, 3],
        file_name: format!("{id:02}.wav"),
        pad: Some(PadBuild {
            network: "U".into(),
            resistors: vec![Resistor {
                label: "<series>".into(),
                ohms: 1000.0,
                count: 2,
            }],
            in_ohms: level,
            ..PadBuild::default()
        }),
        warnings: vec!["source & load".into()],
        ..Setting::default()
    }
}

/// A small report; `level` is put wherever a level may be missing or broken.
pub fn small_report(settings: u32, level: Option<f64>) -> Report {
    let recording = Recording {
        name: "yard <3> & \"gate\"".into(),
        invented: true,
        sample_rate_hz: 48_000.0,
        channels: 1,
        seconds: 20.0,
        lufs: level,
        peak_dbfs: level,
        common_reduction_db: 1.0,
        excerpt: Excerpt {
            start_seconds: 3.0,
            seconds: 10.0,
        },
        player_wav: vec![1, 2, 3, 4],
        settings: (1..=settings).map(|id| small_setting(id, level)).collect(),
        ..Recording::default()
    };
    Report {
        program_version: "0.1.0".into(),
        model_version: 2,
        rig: vec![Fact {
            name: "Send <x>".into(),
            value: "0 dBFS = +22 dBu".into(),
        }],
        notes: vec!["a < b".into()],
        warnings: vec!["c > d".into()],
        recordings: vec![recording.clone(), recording],
    }
}

#[cfg(test)]
mod tests {
    use super::super::render;
    use super::*;

    #[test]
    fn the_judge_finds_each_kind_of_fault() {
        assert!(faults("<p class=\"a\">x<br/></p>").is_empty());
        for bad in [
            "<p><b></p></b>",
            "<p>",
            "</p>",
            "<p class=a></p>",
            "<p hidden></p>",
            "<p id=\"a\"></p><p id=\"a\"></p>",
            "<a href=\"#x\"></a>",
            "<p",
        ] {
            assert!(!faults(bad).is_empty(), "{bad}");
        }
    }

    #[test]
    fn pages_are_well_formed_for_any_number_of_settings() {
        for settings in [0, 1, 3, 7] {
            for level in [Some(-20.0), None, Some(f64::NAN), Some(f64::NEG_INFINITY)] {
                let page = render(&small_report(settings, level));
                let found = faults(&page);
                assert!(
                    found.is_empty(),
                    "{settings} settings, {level:?}: {found:?}"
                );
                let shown = page.split("<script>").next().unwrap_or_default();
                for word in ["NaN", ">inf", "-inf", "−inf", "\"inf"] {
                    assert!(
                        !shown.contains(word),
                        "{settings} settings, {level:?}: {word}"
                    );
                }
            }
        }
        assert!(faults(&render(&Report::default())).is_empty());
    }

    #[test]
    fn nothing_is_fetched_and_nothing_slips_through_unescaped() {
        let page = render(&small_report(3, Some(-20.0)));
        for word in [
            "http://", "https://", "<yard", "yard <3>", "pad <1>", "<series>", "<clips>",
        ] {
            assert!(!page.contains(word), "{word}");
        }
        for needed in [
            "data:audio/wav;base64,AQIDBA==",
            "data:audio/wav;base64,AQID\"",
        ] {
            assert!(page.contains(needed), "{needed}");
        }
    }

    #[test]
    fn every_mention_of_the_demo_says_that_it_is_invented() {
        let page = render(&small_report(2, Some(-20.0)));
        let name = "yard &lt;3&gt; &amp; &quot;gate&quot;";
        for after in page.split(name).skip(1) {
            let label = after
                .trim_start()
                .trim_start_matches("<span class=\"label\">");
            let label = label.trim_start_matches('(');
            assert!(
                label.starts_with("invented demo material"),
                "{}",
                start_of(after)
            );
        }
        assert!(page.matches(name).count() > 10);
    }

    #[test]
    fn every_picture_has_a_title_and_a_table_beside_it() {
        let page = render(&small_report(3, Some(-20.0)));
        let pictures = page.matches("<svg").count();
        assert_eq!(pictures, page.matches("role=\"img\"").count());
        assert_eq!(pictures, page.matches("<title id=").count());
        for figure in page.split("</figure>").skip(1) {
            assert!(figure.trim_start().starts_with("<div class=\"scroll\""));
            assert!(figure[..400].contains("<table"));
        }
    }
}
