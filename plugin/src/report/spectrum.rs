//! Spectra of the source and of the settings over a logarithmic frequency axis, and below them
//! what each setting changed.

use super::data::{Recording, Spectrum};
use super::scale::{Linear, Log, NAMED_HZ, decade_lines_hz, extent, multiples, round_step, spread};
use super::series::{SOURCE, Series, Shown, marker, outline};
use super::svg::{Anchor, Svg, polyline};
use super::text::{decimal, hertz, signed};

const WIDTH: f64 = 960.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 40.0;
const UPPER: (f64, f64) = (22.0, 300.0);
const LOWER: (f64, f64) = (348.0, 538.0);
const HEIGHT: f64 = 578.0;
/// Bands further below the highest one are left to the table.
const DEEPEST_DB: f64 = 110.0;
/// Differences beyond this are left to the table.
const WIDEST_DIFFERENCE_DB: f64 = 30.0;
/// Nominal octave mid-band frequencies (IEC 61260-1), the rows of the table.
pub const OCTAVES_HZ: [f64; 10] = [
    31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0,
];

/// A line to draw: its look, its number and its points.
struct Curve {
    series: Series,
    number: String,
    points: Vec<(f64, f64)>,
}

/// One of the two panels.
struct Panel<'a> {
    x: &'a Log,
    y: Linear,
    range: (f64, f64),
    span: (f64, f64),
    unit: &'a str,
    title: &'a str,
}

/// Level at a frequency, straight between neighbours over log frequency; `None` outside the data.
pub fn level_at(spectrum: &Spectrum, hz: f64) -> Option<f64> {
    let usable = |p: &&(f64, f64)| p.0 > 0.0 && p.0.is_finite() && p.1.is_finite();
    // The slack lets a nominal frequency meet its exact one at the ends of the data.
    let below = spectrum
        .hz_dbfs
        .iter()
        .filter(usable)
        .rfind(|p| p.0 <= hz * 1.03)?;
    let above = spectrum
        .hz_dbfs
        .iter()
        .filter(usable)
        .find(|p| p.0 >= hz / 1.03)?;
    if above.0 <= below.0 {
        let nearer_below = (below.0 / hz).ln().abs() <= (above.0 / hz).ln().abs();
        return Some(if nearer_below { below.1 } else { above.1 });
    }
    let part = (hz / below.0).ln() / (above.0 / below.0).ln();
    Some(below.1 + part * (above.1 - below.1))
}

/// Draws both panels for settings that share a picture; `all` are those of every picture.
pub fn spectra(
    id: &str,
    of: &str,
    recording: &Recording,
    shown: &[Shown<'_>],
    all: &[Shown<'_>],
) -> String {
    let played = recording.played_spectrum();
    let source = Curve {
        series: SOURCE,
        number: "S".to_string(),
        points: audible(&played),
    };
    let (mut levels, mut differences) = (vec![source], Vec::new());
    for s in all {
        let (series, number) = (s.series, s.setting.id.to_string());
        let points = audible(&s.setting.spectrum);
        let less = |&(hz, level): &(f64, f64)| Some((hz, level - level_at(&played, hz)?));
        let changed = points.iter().filter_map(less).collect();
        levels.push(Curve {
            series,
            number: number.clone(),
            points,
        });
        differences.push(Curve {
            series,
            number,
            points: changed,
        });
    }
    // Scales hold every picture of the recording, lines only this one's settings.
    let (level_range, difference_range) = (level_range(&levels), difference_range(&differences));
    let here =
        |c: &Curve| c.number == "S" || shown.iter().any(|s| s.setting.id.to_string() == c.number);
    levels.retain(here);
    differences.retain(here);
    let x = Log::new((20.0, 20_000.0), (LEFT, WIDTH - RIGHT));
    let desc = format!(
        "Above: level of the source and of {} settings, {}, 20 Hz to 20 kHz. Below: each setting \
         less the source. The figures stand in the table.",
        shown.len(),
        recording.spectrum.bands
    );
    let mut svg = Svg::new(id, &format!("Spectra of {of}"), &desc, WIDTH, HEIGHT);
    let (range, span) = (level_range, UPPER);
    let y = Linear::new(range, (UPPER.1, UPPER.0));
    let title = format!("Level, {}", recording.spectrum.bands);
    let panel = Panel {
        x: &x,
        y,
        range,
        span,
        unit: "dBFS",
        title: &title,
    };
    draw_panel(&mut svg, &panel, &levels, "a");
    let (range, span) = (difference_range, LOWER);
    let y = Linear::new(range, (LOWER.1, LOWER.0));
    let panel = Panel {
        x: &x,
        y,
        range,
        span,
        unit: "dB",
        title: "Difference to the source",
    };
    draw_panel(&mut svg, &panel, &differences, "b");
    svg.finish("fig")
}

fn audible(spectrum: &Spectrum) -> Vec<(f64, f64)> {
    let inside = |p: &&(f64, f64)| (19.0..=20_500.0).contains(&p.0) && p.1.is_finite();
    spectrum.hz_dbfs.iter().filter(inside).copied().collect()
}

fn level_range(curves: &[Curve]) -> (f64, f64) {
    let all = curves.iter().flat_map(|c| c.points.iter().map(|p| p.1));
    let (low, high) = extent(all).unwrap_or((-80.0, 0.0));
    let high = ((high + 3.0) / 10.0).ceil() * 10.0;
    let low = ((low - 1.0) / 10.0).floor() * 10.0;
    (low.max(high - DEEPEST_DB).min(high - 30.0), high)
}

fn difference_range(curves: &[Curve]) -> (f64, f64) {
    let all = curves.iter().flat_map(|c| c.points.iter().map(|p| p.1));
    let (low, high) = extent(all).unwrap_or((0.0, 0.0));
    let largest = (low.abs().max(high.abs()) * 1.1).clamp(1.0, WIDEST_DIFFERENCE_DB);
    let half = round_step(largest, 1)
        .unwrap_or(WIDEST_DIFFERENCE_DB)
        .min(WIDEST_DIFFERENCE_DB);
    (-half, half)
}

fn draw_panel(svg: &mut Svg, panel: &Panel<'_>, curves: &[Curve], which: &str) {
    let (top, bottom) = panel.span;
    let (left, right) = (LEFT, WIDTH - RIGHT);
    svg.rect("band", left, top, right - left, bottom - top);
    for hz in decade_lines_hz() {
        svg.line("grid", (panel.x.at(hz), top), (panel.x.at(hz), bottom));
    }
    for hz in NAMED_HZ {
        svg.text(
            "ts",
            Anchor::Middle,
            panel.x.at(hz),
            bottom + 15.0,
            &hertz(hz),
        );
    }
    let step = round_step(panel.range.1 - panel.range.0, 8).unwrap_or(10.0);
    for v in multiples(panel.range.0, panel.range.1, step) {
        let is_zero = v.abs() < step * 1e-6;
        let class = if is_zero && panel.unit == "dB" {
            "axis"
        } else {
            "grid"
        };
        svg.line(class, (left, panel.y.at(v)), (right, panel.y.at(v)));
        let decimals = if step < 1.0 { 1 } else { 0 };
        let text = if panel.unit == "dB" {
            signed(v, decimals)
        } else {
            decimal(v, decimals)
        };
        svg.text("ts", Anchor::End, left - 7.0, panel.y.at(v) + 4.0, &text);
    }
    svg.text("t b", Anchor::Start, left, top - 8.0, panel.title);
    svg.text("tm", Anchor::End, left - 7.0, top - 8.0, panel.unit);
    let clip = format!("{}-{which}", svg.id());
    svg.clip(&clip, left, top, right - left, bottom - top);
    svg.open_clipped(&clip);
    for curve in curves {
        draw_curve(svg, panel, curve);
    }
    svg.close();
    draw_numbers(svg, panel, curves);
}

fn draw_curve(svg: &mut Svg, panel: &Panel<'_>, curve: &Curve) {
    let points = curve
        .points
        .iter()
        .map(|&(hz, v)| Some((panel.x.at(hz), panel.y.at(v))));
    svg.path(
        &format!("ln {}", curve.series.class),
        curve.series.dash,
        &polyline(points),
    );
    if curve.number == "S" {
        return;
    }
    // Small markers about an octave and a half apart, each setting at frequencies of its own.
    let own = f64::from(curve.series.class.bytes().last().unwrap_or(b'0') - b'0');
    let spectrum = Spectrum {
        hz_dbfs: curve.points.clone(),
        bands: String::new(),
    };
    for i in 0..7 {
        let hz = 28.0 * 2f64.powf(1.5 * f64::from(i) + 0.3 * own);
        if let Some(v) = level_at(&spectrum, hz) {
            let data = outline(curve.series.shape, panel.x.at(hz), panel.y.at(v), 3.2);
            svg.path(&format!("mk {}", curve.series.class), "", &data);
        }
    }
}

/// Numbers at the right ends, moved apart where the lines end close together.
fn draw_numbers(svg: &mut Svg, panel: &Panel<'_>, curves: &[Curve]) {
    let (top, bottom) = panel.span;
    let ends: Vec<(&Curve, (f64, f64))> = curves
        .iter()
        .filter_map(|c| {
            c.points
                .last()
                .map(|&(hz, v)| (c, (panel.x.at(hz), panel.y.at(v))))
        })
        .map(|(c, (x, y))| (c, (x.min(WIDTH - RIGHT), y.clamp(top, bottom))))
        .collect();
    let wished: Vec<f64> = ends.iter().map(|(_, end)| end.1).collect();
    let placed = spread(&wished, 20.0, (top + 6.0, bottom - 6.0));
    for ((curve, end), y) in ends.iter().zip(placed) {
        let x = WIDTH - RIGHT + 24.0;
        svg.line("lead", *end, (x - 10.0, y));
        marker(svg, curve.series, &curve.number, x, y);
    }
}

#[cfg(test)]
mod tests {
    use super::super::data::Setting;
    use super::super::series::look;
    use super::*;

    fn spectrum(points: &[(f64, f64)]) -> Spectrum {
        Spectrum {
            hz_dbfs: points.to_vec(),
            bands: "third-octave bands".into(),
        }
    }

    #[test]
    fn levels_between_bands_are_straight_over_log_frequency() {
        let s = spectrum(&[(100.0, -20.0), (400.0, -40.0)]);
        assert!((level_at(&s, 200.0).unwrap_or(0.0) + 30.0).abs() < 1e-9);
        assert_eq!(level_at(&s, 100.0), Some(-20.0));
        assert_eq!(level_at(&s, 401.0), Some(-40.0));
        assert_eq!(level_at(&s, 1000.0), None);
        assert_eq!(level_at(&s, 50.0), None);
        assert_eq!(
            level_at(&spectrum(&[(f64::NAN, 0.0), (100.0, f64::NAN)]), 100.0),
            None
        );
    }

    #[test]
    fn broken_bands_draw_no_nan() {
        let broken = spectrum(&[(0.0, -3.0), (50.0, f64::NEG_INFINITY), (100.0, f64::NAN)]);
        let recording = Recording {
            spectrum: broken.clone(),
            ..Recording::default()
        };
        let setting = Setting {
            id: 1,
            spectrum: broken,
            ..Setting::default()
        };
        let shown = [Shown {
            setting: &setting,
            series: look(0),
        }];
        let out = spectra("s", "x", &recording, &shown, &shown);
        assert!(!out.contains("NaN") && !out.contains("inf"), "{out}");
    }

    #[test]
    fn difference_axis_fits_small_and_huge_changes() {
        let curve = |v| Curve {
            series: SOURCE,
            number: "1".into(),
            points: vec![(100.0, v)],
        };
        assert_eq!(difference_range(&[curve(0.3)]), (-1.0, 1.0));
        assert_eq!(difference_range(&[curve(-4.0)]), (-5.0, 5.0));
        assert_eq!(difference_range(&[curve(90.0)]), (-30.0, 30.0));
    }
}
