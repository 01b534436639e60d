//! Harmonics of every setting as bars, H2 to H5.
//!
//! Bars rise from the foot of the scale; settings are told apart by hatching, by their marker
//! below and by their place.

use super::scale::{Linear, extent, multiples};
use super::series::{Shown, marker};
use super::svg::{Anchor, Svg, num};
use super::text::{DASH, decimal};

const WIDTH: f64 = 960.0;
const LEFT: f64 = 52.0;
const TOP: f64 = 26.0;
const BOTTOM: f64 = 268.0;
const HEIGHT: f64 = 326.0;
/// The harmonics drawn.
pub const ORDERS: [u32; 4] = [2, 3, 4, 5];
/// Harmonics below this are left to the table.
const DEEPEST_DB: f64 = -140.0;

/// Draws the bars of settings that share a picture; `all` are those of every picture, so that all
/// have one scale.
pub fn harmonics(id: &str, of: &str, shown: &[Shown<'_>], all: &[Shown<'_>]) -> String {
    let desc = describe(shown);
    let mut svg = Svg::new(id, &format!("Harmonics, {of}"), &desc, WIDTH, HEIGHT);
    let range = range_db(all);
    let y = Linear::new(range, (BOTTOM, TOP));
    for s in shown {
        svg.raw(&pattern(id, s.series.class));
    }
    svg.rect("band", LEFT, TOP, WIDTH - LEFT, BOTTOM - TOP);
    for v in multiples(range.0, range.1, 20.0) {
        svg.line("grid", (LEFT, y.at(v)), (WIDTH, y.at(v)));
        svg.text("ts", Anchor::End, LEFT - 7.0, y.at(v) + 4.0, &decimal(v, 0));
    }
    svg.text("tm", Anchor::End, LEFT - 7.0, TOP - 8.0, "dB");
    svg.text(
        "t b",
        Anchor::Start,
        LEFT,
        TOP - 8.0,
        "Level re the fundamental",
    );
    let group = (WIDTH - LEFT) / ORDERS.len() as f64;
    for (i, order) in ORDERS.into_iter().enumerate() {
        let left = LEFT + group * i as f64;
        if i > 0 {
            svg.line("axis", (left, TOP), (left, HEIGHT - 6.0));
        }
        draw_group(&mut svg, order, shown, (left, group), &y);
        svg.text(
            "t b",
            Anchor::Middle,
            left + group / 2.0,
            BOTTOM + 46.0,
            &format!("H{order}"),
        );
    }
    svg.line("axis", (LEFT, BOTTOM), (WIDTH, BOTTOM));
    svg.finish("fig")
}

fn describe(shown: &[Shown<'_>]) -> String {
    let mut out = String::from("Harmonics re the fundamental in dB.");
    for s in shown {
        out.push_str(&format!(" Setting {}:", s.setting.id));
        for (i, order) in ORDERS.into_iter().enumerate() {
            let comma = if i == 0 { "" } else { "," };
            let level = s.setting.harmonic_db(order);
            let level = level.map_or_else(|| "undefined".to_string(), |v| decimal(v, 1));
            out.push_str(&format!("{comma} H{order} {level}"));
        }
        out.push('.');
    }
    out
}

/// Foot and head of the scale, whole multiples of 20 dB.
fn range_db(shown: &[Shown<'_>]) -> (f64, f64) {
    let all = shown
        .iter()
        .flat_map(|s| ORDERS.map(|o| s.setting.harmonic_db(o)));
    let (low, high) = extent(all.flatten()).unwrap_or((-80.0, -40.0));
    let foot = (((low - 8.0) / 20.0).floor() * 20.0).clamp(DEEPEST_DB, -60.0);
    (
        foot,
        (((high + 8.0) / 20.0).ceil() * 20.0)
            .max(foot + 40.0)
            .max(0.0),
    )
}

fn draw_group(svg: &mut Svg, order: u32, shown: &[Shown<'_>], span: (f64, f64), y: &Linear) {
    let (left, width) = span;
    let pitch = (width * 0.9 / shown.len() as f64).min(64.0);
    let first = left + (width - pitch * shown.len() as f64) / 2.0;
    let decimals = usize::from(pitch >= 46.0);
    for (i, s) in shown.iter().enumerate() {
        let middle = first + pitch * (i as f64 + 0.5);
        let half = (pitch * 0.36).min(20.0);
        let label = match s.setting.harmonic_db(order) {
            Some(v) => {
                let top = y.at(v).clamp(TOP, BOTTOM);
                let pattern = format!("{}-{}", svg.id(), s.series.class);
                let class = format!("bar {}", s.series.class);
                svg.rect("paper", middle - half, top, 2.0 * half, BOTTOM - top);
                svg.rect_filled(
                    &class,
                    Some(&pattern),
                    middle - half,
                    top,
                    2.0 * half,
                    BOTTOM - top,
                );
                (top - 5.0, decimal(v, decimals))
            }
            None => (BOTTOM - 5.0, DASH.to_string()),
        };
        svg.text("ts halo", Anchor::Middle, middle, label.0, &label.1);
        marker(
            svg,
            s.series,
            &s.setting.id.to_string(),
            middle,
            BOTTOM + 16.0,
        );
    }
}

/// The hatching of one setting.
fn pattern(id: &str, class: &str) -> String {
    let (size, lines): (f64, &str) = match class {
        "s0" => (6.0, "M0 0h6v6h-6z"),
        "s1" => (7.0, "M-1 8L8 -1M-1 1L1 -1M6 8L8 6"),
        "s2" => (5.0, "M0 2.5h5"),
        "s3" => (7.0, "M-1 -1L8 8M6 -1L8 1M-1 6L1 8"),
        _ => (6.0, "M0 3h6M3 0v6"),
    };
    let (kind, s) = (if class == "s0" { "hfill" } else { "hline" }, num(size));
    format!(
        "<pattern id=\"{id}-{class}\" width=\"{s}\" height=\"{s}\" \
         patternUnits=\"userSpaceOnUse\"><path class=\"{kind} {class}\" d=\"{lines}\"/></pattern>"
    )
}

#[cfg(test)]
mod tests {
    use super::super::data::{Harmonic, Setting};
    use super::super::series::look;
    use super::*;

    #[test]
    fn missing_and_infinite_harmonics_are_dashes() {
        let harmonics = vec![
            Harmonic {
                order: 2,
                level_db: Some(-42.0),
            },
            Harmonic {
                order: 3,
                level_db: Some(f64::NEG_INFINITY),
            },
            Harmonic {
                order: 4,
                level_db: None,
            },
        ];
        let setting = Setting {
            id: 1,
            harmonics,
            ..Setting::default()
        };
        let shown = [Shown {
            setting: &setting,
            series: look(0),
        }];
        let out = super::harmonics("h", "x", &shown, &shown);
        assert!(!out.contains("NaN") && !out.contains("inf"), "{out}");
        assert_eq!(out.matches("class=\"bar s0\"").count(), 1);
        assert!(out.contains("H2 −42.0, H3 undefined, H4 undefined, H5 undefined."));
    }

    #[test]
    fn the_scale_holds_strong_and_weak_harmonics() {
        let of = |level_db: f64| Setting {
            harmonics: vec![Harmonic {
                order: 2,
                level_db: Some(level_db),
            }],
            ..Setting::default()
        };
        let range = |a: f64, b: f64| {
            let (a, b) = (of(a), of(b));
            let shown = [&a, &b].map(|setting| Shown {
                setting,
                series: look(0),
            });
            range_db(&shown)
        };
        assert_eq!(range(-42.0, -95.0), (-120.0, 0.0));
        assert_eq!(range(3.0, -300.0), (-140.0, 20.0));
    }
}
