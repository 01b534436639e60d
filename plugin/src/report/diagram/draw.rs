//! The plot of the level diagram: scales, lines, ceilings, markers.

use super::super::data::Scale;
use super::super::scale::{Linear, multiples};
use super::super::series::{Shown, marker, outline};
use super::super::svg::{Anchor, Svg, num, polyline};
use super::super::text::{decimal, signed};
use super::{
    Column, PLOT_HEIGHT, Reading, TOP, WIDTH, ceiling_dbu, find, full_scale_dbu, place_dbu, strip,
};

/// Bands of the points, the dBu scale and its lines.
pub fn frame(svg: &mut Svg, columns: &[Column<'_>], range: (f64, f64), y: &Linear) {
    let right = columns.last().map_or(WIDTH, |c| c.right);
    for c in columns {
        svg.rect("band", c.left, TOP, c.right - c.left, PLOT_HEIGHT);
    }
    let step = if range.1 - range.0 > 100.0 {
        20.0
    } else {
        10.0
    };
    for v in multiples(range.0, range.1, step) {
        let class = if v == 0.0 { "axis" } else { "grid" };
        svg.line(class, (40.0, y.at(v)), (right, y.at(v)));
        svg.text("t", Anchor::End, 36.0, y.at(v) + 4.0, &signed(v, 0));
    }
    svg.text("t b", Anchor::End, 36.0, TOP - 15.0, "dBu");
}

/// Names the part of the insert loop that leads to each point.
pub fn sections(svg: &mut Svg, columns: &[Column<'_>]) {
    let part = |name: &str| match name {
        "line_out" => "Send",
        "mic_in" => "Pad",
        "return" => "Return",
        _ => "Preamp",
    };
    let mut from = 0;
    while from + 1 < columns.len() {
        let title = part(columns[from + 1].name);
        let mut to = from + 1;
        while to + 1 < columns.len() && part(columns[to + 1].name) == title {
            to += 1;
        }
        let (left, right) = (columns[from].middle() + 2.0, columns[to].middle() - 2.0);
        let half = 4.0 + 4.2 * title.chars().count() as f64;
        let middle = (left + right) / 2.0;
        svg.line("axis", (left, 10.0), (left, 22.0));
        svg.line("axis", (right, 10.0), (right, 22.0));
        svg.line("axis", (left, 16.0), (middle - half, 16.0));
        svg.line("axis", (middle + half, 16.0), (right, 16.0));
        svg.text("t b", Anchor::Middle, middle, 20.5, title);
        from = to;
    }
}

/// dBFS rulers at the digital ends, each placed by its converter's alignment.
pub fn digital_scales(
    svg: &mut Svg,
    shown: &[Shown<'_>],
    columns: &[Column<'_>],
    range: (f64, f64),
    y: &Linear,
) {
    for c in columns.iter().filter(|c| c.scale != Scale::Dbu) {
        let Some(first) = shown.first() else { return };
        let full_scale = full_scale_dbu(first, c.scale);
        if !full_scale.is_finite() {
            continue;
        }
        let at_left = c.scale == Scale::SendDbfs;
        let (edge, out) = if at_left {
            (c.left, -1.0)
        } else {
            (c.right, 1.0)
        };
        svg.line("axis", (edge, TOP), (edge, TOP + PLOT_HEIGHT));
        let differs = shown
            .iter()
            .any(|s| full_scale_dbu(s, c.scale) != full_scale);
        let whose = if differs {
            format!("dBFS ({})", first.setting.id)
        } else {
            "dBFS".into()
        };
        let anchor = if at_left { Anchor::End } else { Anchor::Start };
        svg.text(
            "t b",
            anchor,
            edge + if at_left { -2.0 } else { 4.0 },
            TOP - 15.0,
            &whose,
        );
        let top = (range.1 - full_scale).min(20.0);
        for v in multiples(range.0 - full_scale, top, 10.0) {
            let at = y.at(v + full_scale);
            svg.line("axis", (edge, at), (edge + out * 5.0, at));
            svg.text("t halo", anchor, edge + out * 8.0, at + 4.0, &decimal(v, 0));
        }
    }
}

/// Height of a level, kept inside the plot.
fn inside(y: &Linear, dbu: f64) -> f64 {
    y.at(dbu).clamp(TOP, TOP + PLOT_HEIGHT)
}

/// One setting's peak or RMS along the chain.
pub fn line(svg: &mut Svg, s: &Shown<'_>, columns: &[Column<'_>], y: &Linear, reading: Reading) {
    let mut points = Vec::new();
    for c in columns {
        match place_dbu(s, c.name, reading) {
            Some(dbu) => {
                let at = inside(y, dbu);
                points.extend([Some((c.left, at)), Some((c.right, at))]);
            }
            // A point this setting lacks is passed over; a level that is not defined breaks it.
            None if find(s, c.name).is_none() => {}
            None => points.push(None),
        }
    }
    let (class, dash) = match reading {
        Reading::Peak => ("ln", s.series.dash),
        Reading::Rms => ("ln thin", "1.5 3"),
    };
    svg.path(
        &format!("{class} {}", s.series.class),
        dash,
        &polyline(points),
    );
}

/// Ceilings as hatched ticks, each over the place of its setting. A ceiling that all settings share
/// carries its figure where there is room; the others stand in the strip below.
pub fn ceilings(svg: &mut Svg, shown: &[Shown<'_>], columns: &[Column<'_>], y: &Linear) {
    for c in columns {
        let levels: Vec<Option<f64>> = shown.iter().map(|s| ceiling_dbu(s, c.name)).collect();
        for (i, dbu) in levels.iter().enumerate() {
            let (left, right) = c.slot(i, shown.len());
            if let Some(at) = dbu.map(|v| y.at(v)).filter(|at| *at <= TOP + PLOT_HEIGHT) {
                hatch(svg, left, right, at);
            }
        }
        let Some(Some(dbu)) = levels.first() else {
            continue;
        };
        let figures: Vec<String> = shown
            .iter()
            .zip(&levels)
            .map(|(s, v)| strip::figure(*v, s, c))
            .collect();
        let text = &figures[0];
        if figures.iter().any(|figure| figure != text) {
            continue;
        }
        let half = 3.8 * text.chars().count() as f64;
        let at = y.at(*dbu);
        let taken = level_areas(shown, c, y);
        let free = [at - 11.0, at + 14.0].into_iter().find(|base| {
            let area = [
                c.middle() - half,
                base - 10.0,
                c.middle() + half,
                base + 1.0,
            ];
            !taken.iter().any(|other| overlap(&area, other))
        });
        if let Some(base) = free {
            svg.text("ts halo", Anchor::Middle, c.middle(), base, text);
        }
    }
}

fn hatch(svg: &mut Svg, left: f64, right: f64, at: f64) {
    svg.line("ceil", (left, at), (right, at));
    let count = ((right - left) / 6.0).floor().max(1.0) as usize;
    let step = (right - left) / count as f64;
    let mut data = String::new();
    for i in 0..count {
        let x = left + step * i as f64;
        data.push_str(&format!("M{} {}l5 -6", num(x), num(at)));
    }
    svg.path("hatch", "", &data);
}

/// Areas that the levels of a column cover: left, top, right, bottom; a marker each, and the flat
/// piece of line.
pub fn level_areas(shown: &[Shown<'_>], column: &Column<'_>, y: &Linear) -> Vec<[f64; 4]> {
    let mut areas = Vec::new();
    for (i, s) in shown.iter().enumerate() {
        let (left, right) = column.slot(i, shown.len());
        let x = (left + right) / 2.0;
        for (reading, r) in [(Reading::Peak, 10.0), (Reading::Rms, 5.0)] {
            if let Some(dbu) = place_dbu(s, column.name, reading) {
                let at = inside(y, dbu);
                areas.push([x - r, at - r, x + r, at + r]);
                areas.push([column.left, at - 1.0, column.right, at + 1.0]);
            }
        }
    }
    areas
}

fn overlap(a: &[f64; 4], b: &[f64; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// Numbered markers at the peaks, small ones at the RMS levels.
pub fn markers(svg: &mut Svg, shown: &[Shown<'_>], columns: &[Column<'_>], y: &Linear) {
    for (i, s) in shown.iter().enumerate() {
        for c in columns {
            let (left, right) = c.slot(i, shown.len());
            let x = (left + right) / 2.0;
            if let Some(dbu) = place_dbu(s, c.name, Reading::Rms) {
                let data = outline(s.series.shape, x, inside(y, dbu), 3.2);
                svg.path(&format!("mk {}", s.series.class), "", &data);
            }
            if let Some(dbu) = place_dbu(s, c.name, Reading::Peak) {
                marker(svg, s.series, &s.setting.id.to_string(), x, inside(y, dbu));
            }
        }
    }
}
