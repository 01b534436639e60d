//! The level diagram as SVG: the drawing commands of `penstock_dsp::diagram`, the same as in the window.

use super::series::{Shown, marker};
use super::svg::{Anchor, Svg, num};
use super::text::esc;
use penstock_dsp::diagram::{Command, Frame, Ink, LevelDiagram, Side, draw_in};

/// Size of a picture in drawing units.
pub const SIZE: [f64; 2] = [960.0, 600.0];
/// Height of one of several.
const SHARED_HEIGHT: f64 = 480.0;
const ABOUT: &str = "Levels in dBu from the bus to the return: ceilings, programme, noise. Every figure \
                     stands in the tables.";

/// One diagram as a picture of its own.
pub fn svg(id: &str, title: &str, diagram: &LevelDiagram, frame: Frame, size: [f64; 2]) -> String {
    let mut svg = Svg::new(id, title, ABOUT, size[0], size[1]);
    for command in draw_in(diagram, frame) {
        put(&mut svg, command);
    }
    svg.finish("fig")
}

/// The settings of a picture, one below the other on one scale: that of `all` settings.
pub fn diagrams(id: &str, of: &str, shown: &[Shown<'_>], all: &[Shown<'_>]) -> String {
    let size = [SIZE[0], SHARED_HEIGHT];
    let every = || all.iter().filter_map(|s| s.setting.diagram.as_ref());
    let Some(frame) = Frame::over(every(), size[0], size[1]) else {
        return String::new();
    };
    let mut out = String::new();
    for s in shown {
        let Some(diagram) = &s.setting.diagram else {
            continue;
        };
        let number = s.setting.id;
        let title = format!(
            "Level diagram of {of}: setting {number}, {}",
            s.setting.name
        );
        let mut sign = Svg::new(
            &format!("{id}-{number}-sign"),
            &title,
            "Its marker.",
            20.0,
            20.0,
        );
        marker(&mut sign, s.series, &number.to_string(), 10.0, 10.0);
        out.push_str(&format!(
            "<h4 class=\"of-setting\">{} {}</h4>\n{}",
            sign.finish("key"),
            esc(&s.setting.name),
            svg(&format!("{id}-{number}"), &title, diagram, frame, size)
        ));
    }
    out
}

fn put(svg: &mut Svg, command: Command) {
    match command {
        Command::Line {
            from,
            to,
            width,
            dash,
            ink,
        } => {
            let dash = dash.map_or_else(String::new, |[on, off]| {
                format!(" stroke-dasharray=\"{} {}\"", num(on), num(off))
            });
            svg.raw(&format!(
                "<line class=\"lv-{}\" stroke-width=\"{}\"{dash} x1=\"{}\" y1=\"{}\" \
                 x2=\"{}\" y2=\"{}\"/>",
                name(ink),
                num(width),
                num(from[0]),
                num(from[1]),
                num(to[0]),
                num(to[1])
            ));
        }
        Command::Text {
            at,
            side,
            bold,
            words,
            ink,
            ..
        } => {
            let anchor = match side {
                Side::Start => Anchor::Start,
                Side::Middle => Anchor::Middle,
                Side::End => Anchor::End,
            };
            let weight = if bold { "lv-heavy" } else { "lv-small" };
            let class = format!("lv-words {weight} lv-on-{}", name(ink));
            svg.text(&class, anchor, at[0], at[1], &words);
        }
    }
}

fn name(ink: Ink) -> &'static str {
    match ink {
        Ink::Scale => "scale",
        Ink::Plain => "plain",
        Ink::Peak => "peak",
        Ink::Rms => "rms",
        Ink::Ceiling => "ceiling",
        Ink::Floor => "floor",
    }
}

#[cfg(test)]
mod tests {
    use super::super::data::Setting;
    use super::super::series::look;
    use super::*;
    use penstock_dsp::plan::Plan;

    fn setting(id: u32, sets: &[&str]) -> Setting {
        let mut plan = Plan::default();
        for set in sets {
            plan.assign(set).expect("a plan");
        }
        Setting {
            id,
            name: format!("<{id}>"),
            diagram: LevelDiagram::of_plan(&plan).ok(),
            ..Setting::default()
        }
    }

    #[test]
    fn all_settings_have_a_picture_each_on_one_scale() {
        let settings = [
            setting(1, &[]),
            setting(2, &["rig.send.full_scale_dbu=30", "pad.loss_db=30"]),
            Setting::default(),
        ];
        let shown: Vec<Shown<'_>> = settings
            .iter()
            .enumerate()
            .map(|(i, setting)| Shown {
                setting,
                series: look(i),
            })
            .collect();
        let out = diagrams("d", "a & b", &shown, &shown);
        // A sign and a picture for each that has one.
        assert_eq!(out.matches("<svg").count(), 4);
        assert!(out.contains("&lt;2&gt;") && !out.contains("NaN"), "{out}");
        // The height of a level is the same in both: of 0 dBu's line, which is the widest of the scale.
        let zero = |n: usize| {
            let picture = out.split("<svg").nth(n).expect("a picture");
            let line = picture
                .split("<line")
                .find(|line| line.contains("lv-scale") && line.contains("stroke-width=\"1\""));
            let y = line.and_then(|line| line.split("y1=\"").nth(1));
            y.and_then(|y| y.split('"').next().map(str::to_owned))
        };
        assert!(zero(2).is_some());
        assert_eq!(zero(2), zero(4));
        assert!(diagrams("d", "none", &shown[2..], &shown[2..]).is_empty());
    }
}
