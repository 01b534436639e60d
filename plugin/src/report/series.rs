//! How settings are told apart in every picture: by number, by dash and by marker shape. Colour
//! only helps.

use super::data::{Recording, Setting};
use super::svg::{Anchor, Svg, num};
use super::text::{esc, typeset};

/// Settings that share one picture at most; more are split over several pictures.
pub const MOST_PER_PICTURE: usize = 5;

/// Shape of a marker.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A circle.
    Circle,
    /// A square on its side.
    Square,
    /// A square on its corner.
    Diamond,
    /// A triangle pointing up.
    Triangle,
    /// A hexagon.
    Hexagon,
}

/// The look of one line.
#[derive(Debug, Clone, Copy)]
pub struct Series {
    /// Style class: `s0` to `s4`, `src` for the source.
    pub class: &'static str,
    /// Dash pattern, empty for an unbroken line.
    pub dash: &'static str,
    /// Marker.
    pub shape: Shape,
    /// Dash and marker in words, for those who cannot see the picture.
    pub words: &'static str,
}

const LOOKS: [Series; MOST_PER_PICTURE] = [
    Series {
        class: "s0",
        dash: "",
        shape: Shape::Circle,
        words: "unbroken line, circle",
    },
    Series {
        class: "s1",
        dash: "11 4",
        shape: Shape::Square,
        words: "long dashes, square",
    },
    Series {
        class: "s2",
        dash: "4 3",
        shape: Shape::Diamond,
        words: "short dashes, diamond",
    },
    Series {
        class: "s3",
        dash: "11 3 2 3",
        shape: Shape::Triangle,
        words: "dash and dot, triangle",
    },
    Series {
        class: "s4",
        dash: "11 3 2 3 2 3",
        shape: Shape::Hexagon,
        words: "dash and two dots, hexagon",
    },
];

/// The source in a picture.
pub const SOURCE: Series = Series {
    class: "src",
    dash: "",
    shape: Shape::Square,
    words: "wide pale line, S",
};

/// The look of the setting at a position of its recording, counted from 0.
pub fn look(position: usize) -> Series {
    LOOKS[position % MOST_PER_PICTURE]
}

/// A setting with its look.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// The setting.
    pub setting: &'a Setting,
    /// Its look.
    pub series: Series,
}

/// The settings of a recording, split evenly into pictures.
pub fn pictures(recording: &Recording) -> Vec<Vec<Shown<'_>>> {
    let shown: Vec<Shown<'_>> = recording
        .settings
        .iter()
        .enumerate()
        .map(|(i, setting)| Shown {
            setting,
            series: look(i),
        })
        .collect();
    if shown.is_empty() {
        return Vec::new();
    }
    let count = shown.len().div_ceil(MOST_PER_PICTURE);
    shown
        .chunks(shown.len().div_ceil(count))
        .map(<[Shown<'_>]>::to_vec)
        .collect()
}

/// Outline of a marker with half-size `r` around a centre.
pub fn outline(shape: Shape, x: f64, y: f64, r: f64) -> String {
    let corners: &[(f64, f64)] = match shape {
        Shape::Circle => {
            let (left, y, across, r) = (num(x - r), num(y), num(2.0 * r), num(r));
            return format!("M{left} {y}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z");
        }
        Shape::Square => &[(-0.92, -0.92), (0.92, -0.92), (0.92, 0.92), (-0.92, 0.92)],
        Shape::Diamond => &[(0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0)],
        Shape::Triangle => &[(0.0, -1.4), (1.35, 0.95), (-1.35, 0.95)],
        Shape::Hexagon => &[
            (-1.15, 0.0),
            (-0.6, -1.0),
            (0.6, -1.0),
            (1.15, 0.0),
            (0.6, 1.0),
            (-0.6, 1.0),
        ],
    };
    let mut data = String::new();
    for (i, (dx, dy)) in corners.iter().enumerate() {
        let verb = if i == 0 { 'M' } else { 'L' };
        data.push_str(&format!("{verb}{} {}", num(x + dx * r), num(y + dy * r)));
    }
    data.push('z');
    data
}

/// Draws a marker with its number inside.
pub fn marker(svg: &mut Svg, series: Series, label: &str, x: f64, y: f64) {
    if !x.is_finite() || !y.is_finite() {
        return;
    }
    svg.path(
        &format!("mk {}", series.class),
        "",
        &outline(series.shape, x, y, 7.0),
    );
    let lower = if series.shape == Shape::Triangle {
        4.6
    } else {
        3.4
    };
    let class = if label.chars().count() > 2 {
        "mt mt3"
    } else {
        "mt"
    };
    svg.text(class, Anchor::Middle, x, y + lower, label);
}

/// A marker alone, for tables and headings; `id` must be unique in the page.
pub fn badge(id: &str, series: Series, label: &str) -> String {
    let title = if label == "S" {
        "Source".to_string()
    } else {
        format!("Setting {label}")
    };
    let mut svg = Svg::new(id, &title, series.words, 22.0, 20.0);
    marker(&mut svg, series, label, 11.0, 10.0);
    svg.finish("badge")
}

/// One entry of a legend: a piece of the line with its marker, then the name.
fn legend_entry(id: &str, series: Series, label: &str, name: &str) -> String {
    let title = if label == "S" {
        "Source".to_string()
    } else {
        format!("Setting {label}")
    };
    let mut svg = Svg::new(id, &title, series.words, 66.0, 20.0);
    svg.path(&format!("ln {}", series.class), series.dash, "M2 10L64 10");
    marker(&mut svg, series, label, 33.0, 10.0);
    format!(
        "<li>{}<span>{}</span></li>\n",
        svg.finish("key"),
        esc(&typeset(name))
    )
}

/// The legend under a picture; `source` is the source's name where the source is drawn too.
pub fn legend(id: &str, shown: &[Shown<'_>], source: Option<&str>) -> String {
    let mut out = String::from("<ul class=\"legend\">\n");
    if let Some(name) = source {
        out.push_str(&legend_entry(&format!("{id}-ks"), SOURCE, "S", name));
    }
    for (i, s) in shown.iter().enumerate() {
        let key_id = format!("{id}-k{i}");
        let name = &s.setting.name;
        out.push_str(&legend_entry(
            &key_id,
            s.series,
            &s.setting.id.to_string(),
            name,
        ));
    }
    out.push_str("</ul>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recording(settings: usize) -> Recording {
        let settings = vec![Setting::default(); settings];
        Recording {
            settings,
            ..Recording::default()
        }
    }

    #[test]
    fn many_settings_are_split_evenly() {
        let sizes = |n| {
            pictures(&recording(n))
                .iter()
                .map(Vec::len)
                .collect::<Vec<_>>()
        };
        assert_eq!(sizes(0), Vec::<usize>::new());
        assert_eq!(sizes(3), [3]);
        assert_eq!(sizes(6), [3, 3]);
        assert_eq!(sizes(7), [4, 3]);
        assert_eq!(sizes(11), [4, 4, 3]);
    }

    #[test]
    fn no_two_lines_of_a_picture_look_alike() {
        for picture in pictures(&recording(14)) {
            for (i, a) in picture.iter().enumerate() {
                for b in &picture[..i] {
                    assert_ne!(a.series.dash, b.series.dash);
                    assert_ne!(a.series.shape, b.series.shape);
                }
            }
        }
    }
}
