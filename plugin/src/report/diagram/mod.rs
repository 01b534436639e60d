//! The level diagram: the chain from left to right, level from bottom to top.
//!
//! A level holds across its point, so it is drawn as a flat piece as wide as the point, and every
//! setting has a fixed place on that piece for its marker: markers never cover one another however
//! close the levels are. Exact figures stand below, each under its point.

mod draw;
mod strip;

use super::data::{LevelPoint, Scale};
use super::scale::{Linear, extent};
use super::series::Shown;
use super::svg::Svg;
use super::text::signed;

const WIDTH: f64 = 960.0;
const LEFT: f64 = 92.0;
const RIGHT: f64 = 46.0;
const TOP: f64 = 58.0;
const PLOT_HEIGHT: f64 = 400.0;
const ROW: f64 = 21.0;
/// Levels further below the highest one are drawn at the lower edge.
const DEEPEST_DB: f64 = 130.0;

/// A point of the chain as a column of the diagram.
struct Column<'a> {
    name: &'a str,
    label: &'a str,
    scale: Scale,
    left: f64,
    right: f64,
}

impl Column<'_> {
    fn middle(&self) -> f64 {
        (self.left + self.right) / 2.0
    }

    /// Left and right end of a setting's own place.
    fn slot(&self, position: usize, count: usize) -> (f64, f64) {
        let width = (self.right - self.left) / count as f64;
        let left = self.left + width * position as f64;
        (left, left + width)
    }
}

/// Which level of a point is meant.
#[derive(Clone, Copy)]
enum Reading {
    Peak,
    Rms,
}

/// Full scale that places a digital point; 0 for an analogue one.
fn full_scale_dbu(shown: &Shown<'_>, scale: Scale) -> f64 {
    match scale {
        Scale::Dbu => 0.0,
        Scale::SendDbfs => shown.setting.send_full_scale_dbu,
        Scale::ReturnDbfs => shown.setting.return_full_scale_dbu,
    }
}

/// Place of a level on the dBu scale.
fn place_dbu(shown: &Shown<'_>, name: &str, reading: Reading) -> Option<f64> {
    let point = find(shown, name)?;
    let (dbfs, dbu) = match reading {
        Reading::Peak => (point.peak_dbfs, point.peak_sine_dbu),
        Reading::Rms => (point.rms_dbfs, point.rms_dbu),
    };
    let digital = dbfs.filter(|_| point.scale != Scale::Dbu);
    let placed = digital
        .map(|v| v + full_scale_dbu(shown, point.scale))
        .or(dbu);
    placed.filter(|v| v.is_finite())
}

fn ceiling_dbu(shown: &Shown<'_>, name: &str) -> Option<f64> {
    find(shown, name)?.ceiling_dbu.filter(|v| v.is_finite())
}

fn find<'a>(shown: &Shown<'a>, name: &str) -> Option<&'a LevelPoint> {
    shown.setting.points.iter().find(|p| p.name == name)
}

/// Columns in the order the points first appear in any setting.
fn columns<'a>(shown: &[Shown<'a>]) -> Vec<Column<'a>> {
    let mut out: Vec<Column<'a>> = Vec::new();
    for s in shown {
        let mut after = 0;
        for p in &s.setting.points {
            if let Some(at) = out.iter().position(|c| c.name == p.name) {
                after = at + 1;
                continue;
            }
            let (name, label) = (p.name.as_str(), p.label.as_str());
            out.insert(
                after,
                Column {
                    name,
                    label,
                    scale: p.scale,
                    left: 0.0,
                    right: 0.0,
                },
            );
            after += 1;
        }
    }
    let pitch = (WIDTH - LEFT - RIGHT) / (out.len() as f64 - 0.35).max(1.0);
    let band = (0.65 * pitch).min(110.0);
    let pitch = (WIDTH - LEFT - RIGHT - band) / (out.len() as f64 - 1.0).max(1.0);
    for (i, column) in out.iter_mut().enumerate() {
        column.left = LEFT + pitch * i as f64;
        column.right = column.left + band;
    }
    out
}

/// The dBu range that holds every level and ceiling, in whole tens.
fn range_dbu(shown: &[Shown<'_>]) -> (f64, f64) {
    let mut all = Vec::new();
    for s in shown {
        for p in &s.setting.points {
            all.extend(place_dbu(s, &p.name, Reading::Peak));
            all.extend(place_dbu(s, &p.name, Reading::Rms));
            all.extend(ceiling_dbu(s, &p.name));
        }
    }
    let (low, high) = extent(all).unwrap_or((-55.0, 25.0));
    let high = ((high + 4.0) / 10.0).ceil() * 10.0;
    let low = ((low - 2.0) / 10.0).floor() * 10.0;
    (low.max(high - DEEPEST_DB).min(high - 30.0), high)
}

/// Draws the diagram for settings that share a picture; empty when they have no points.
///
/// `all` are the settings of every picture of the recording, so that all have one scale.
pub fn diagram(id: &str, of: &str, shown: &[Shown<'_>], all: &[Shown<'_>]) -> String {
    let columns = columns(shown);
    if columns.is_empty() {
        return String::new();
    }
    let range = range_dbu(all);
    let y = Linear::new((range.0, range.1), (TOP + PLOT_HEIGHT, TOP));
    let notes = strip::notes(shown, &columns);
    let note_rows = notes.iter().map(Vec::len).max().unwrap_or(0) as f64;
    let strip = TOP + PLOT_HEIGHT + 20.0;
    let height = strip + 40.0 + ROW * shown.len() as f64 + 14.0 * note_rows;
    let desc = describe(shown, &columns);
    let mut svg = Svg::new(id, &format!("Level diagram of {of}"), &desc, WIDTH, height);
    draw::frame(&mut svg, &columns, range, &y);
    draw::sections(&mut svg, &columns);
    draw::digital_scales(&mut svg, shown, &columns, range, &y);
    for reading in [Reading::Rms, Reading::Peak] {
        for s in shown {
            draw::line(&mut svg, s, &columns, &y, reading);
        }
    }
    draw::ceilings(&mut svg, shown, &columns, &y);
    draw::markers(&mut svg, shown, &columns, &y);
    strip::draw(&mut svg, shown, &columns, &notes, strip);
    svg.finish("fig")
}

/// The picture in words: every setting's peaks along the chain.
fn describe(shown: &[Shown<'_>], columns: &[Column<'_>]) -> String {
    let mut out = String::from("Peak level along the chain, as the sine of the same peak, in dBu.");
    for s in shown {
        out.push_str(&format!(" Setting {}:", s.setting.id));
        for (i, c) in columns.iter().enumerate() {
            let level = place_dbu(s, c.name, Reading::Peak);
            let level = level.map_or_else(|| "undefined".to_string(), |v| signed(v, 1));
            let comma = if i == 0 { "" } else { "," };
            out.push_str(&format!("{comma} {} {level}", c.label));
        }
        out.push('.');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::data::Setting;
    use super::super::series::look;
    use super::*;

    fn point(name: &str, peak_sine_dbu: Option<f64>) -> LevelPoint {
        let (name, label) = (name.to_string(), name.to_string());
        LevelPoint {
            name,
            label,
            peak_sine_dbu,
            ..LevelPoint::default()
        }
    }

    fn setting(id: u32, points: Vec<LevelPoint>) -> Setting {
        Setting {
            id,
            send_full_scale_dbu: 22.0,
            points,
            ..Setting::default()
        }
    }

    fn shown(settings: &[Setting]) -> Vec<Shown<'_>> {
        let with_look = |(i, setting)| Shown {
            setting,
            series: look(i),
        };
        settings.iter().enumerate().map(with_look).collect()
    }

    #[test]
    fn the_bus_stands_where_the_send_puts_it() {
        let bus = LevelPoint {
            name: "bus".into(),
            scale: Scale::SendDbfs,
            peak_dbfs: Some(-18.0),
            ..LevelPoint::default()
        };
        let settings = [setting(1, vec![bus])];
        assert_eq!(
            place_dbu(&shown(&settings)[0], "bus", Reading::Peak),
            Some(4.0)
        );
    }

    #[test]
    fn markers_of_equal_levels_have_places_of_their_own() {
        let settings: Vec<Setting> = (1..=5)
            .map(|id| {
                setting(
                    id,
                    vec![point("line_out", Some(3.0)), point("mic_in", Some(-30.0))],
                )
            })
            .collect();
        let shown = shown(&settings);
        let columns = columns(&shown);
        let y = Linear::new((-60.0, 30.0), (TOP + PLOT_HEIGHT, TOP));
        for c in &columns {
            let places: Vec<f64> = (0..5).map(|i| c.slot(i, 5).0).collect();
            assert!(places.windows(2).all(|w| w[1] - w[0] >= 14.0), "{places:?}");
        }
        assert_eq!(draw::level_areas(&shown, &columns[0], &y).len(), 10);
    }

    #[test]
    fn points_missing_from_one_setting_keep_the_order_of_the_other() {
        let a = setting(
            1,
            vec![
                point("bus", None),
                point("mic_in", None),
                point("return", None),
            ],
        );
        let b = setting(
            2,
            ["bus", "mic_in", "grid_1", "return"]
                .map(|n| point(n, None))
                .into(),
        );
        let settings = [a, b];
        let names: Vec<&str> = columns(&shown(&settings)).iter().map(|c| c.name).collect();
        assert_eq!(names, ["bus", "mic_in", "grid_1", "return"]);
    }

    #[test]
    fn silence_and_infinities_leave_no_trace_of_nan() {
        let settings = [setting(
            1,
            vec![
                point("bus", Some(f64::NEG_INFINITY)),
                point("mic_in", Some(f64::NAN)),
            ],
        )];
        let out = diagram("d", "silence", &shown(&settings), &shown(&settings));
        assert!(!out.contains("NaN") && !out.contains("inf"), "{out}");
        assert!(
            out.contains("Setting 1: bus undefined, mic_in undefined."),
            "{out}"
        );
    }
}
