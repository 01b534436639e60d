//! The window as a whole: sizes, places, what the Tab key reaches, whatever a user may do.

use super::super::desk::{Desk, Kind, Note};
use super::super::{Stops, View, row};
use super::{Window, assert_balanced, random};
use egui::{Event, Key, Modifiers, Pos2, Rect};

#[test]
fn fields_lie_inside_the_smallest_window_and_apart() {
    let mut window = Window::new();
    window.desk.view.details_open = true;
    window.frames(2);
    let screen = Rect::from_min_size(Pos2::ZERO, window.size);
    let mut rects: Vec<(&str, Rect)> = Vec::new();
    for control in window.desk.controls() {
        let Some(response) = window.ctx.read_response(window.id(control.id)) else {
            continue;
        };
        for (other, rect) in &rects {
            assert!(
                !rect.intersects(response.rect),
                "{other} and {}",
                control.id
            );
        }
        assert!(screen.contains_rect(response.rect), "{}", control.id);
        rects.push((control.id, response.rect));
    }
    assert!(rects.len() >= 6);
}

#[test]
fn every_size_is_drawn() {
    for (width, height) in [
        (1.0, 1.0),
        (120.0, 90.0),
        (253.0, 160.0),
        (500.0, 300.0),
        (4000.0, 2000.0),
    ] {
        let mut window = Window::sized(width, height);
        window.desk.readout.bypassed = true;
        window.desk.readout.error = Some("a sentence".to_owned());
        window.desk.readout.notes = vec![Note {
            text: "another".to_owned(),
            unwise: true,
            step: Some((3, 0.5)),
        }];
        window.desk.view.notes_open = true;
        window.desk.view.harmonics_open = true;
        window.desk.view.compare_open = true;
        window.desk.view.load_shown = true;
        window.desk.view.dark = true;
        window.desk.view.rig_open = true;
        window.frames(3);
    }
}

#[test]
fn random_events_leave_nothing_open_and_nothing_out_of_range() {
    let mut window = Window::sized(820.0, 700.0);
    window.desk.view.rig_open = true;
    let mut random = random(1);
    let keys = [
        Key::Tab,
        Key::Enter,
        Key::Escape,
        Key::ArrowUp,
        Key::ArrowLeft,
        Key::Delete,
        Key::Space,
    ];
    for _ in 0..1_000 {
        let at = egui::pos2(random(820) as f32, random(700) as f32);
        match random(6) {
            0 => window.button(at, true),
            1 => window.button(at, false),
            2 => window.click(at),
            3 => window.key(keys[random(7) as usize], Modifiers::NONE),
            4 => window.frame(vec![Event::Text(random(100).to_string())]),
            _ => window.frame(vec![Event::PointerMoved(at)]),
        }
    }
    window.button(egui::pos2(1.0, 1.0), false);
    window.frames(2);
    assert!(window.desk.asked.len() > 50, "{}", window.desk.asked.len());
    assert_balanced(&window.desk.asked);
    assert!(window.desk.at.iter().all(|at| (0.0..=1.0).contains(at)));
}

#[test]
fn a_broken_view_is_put_right() {
    let view: View =
        serde_json::from_str(r#"{"size":[-5.0,1e9],"zoom_percent":9000,"x":1}"#).unwrap();
    let view = view.clamped();
    assert_eq!(view.zoom_percent, 300);
    assert!(view.size[0] > 200.0 && view.size[1] < 9000.0);
    let text = serde_json::to_string(&view).unwrap();
    assert_eq!(serde_json::from_str::<View>(&text).unwrap(), view);
}

#[test]
fn a_control_without_effect_can_still_be_set() {
    let mut window = Window::new();
    let pad = window.desk.index("pad.network");
    window.desk.at[pad] = 0.0;
    window.frames(2);
    window.type_into("pad.loss_db", "20");
    window.key(Key::Enter, Modifiers::NONE);
    assert_eq!(window.decibels("pad.loss_db"), "20.0 dB");
    let loss = window.desk.index("pad.loss_db");
    assert!(row::tip(&window.desk, loss).contains("There is no pad."));
}

/// Whoever has no mouse: the Tab key comes by every control once, and back to the first.
#[test]
fn the_tab_key_reaches_every_control() {
    let mut window = Window::sized(860.0, 1200.0);
    window.desk.view.rig_open = true;
    window.desk.view.details_open = true;
    window.frames(3);
    let mut reached = std::collections::HashSet::new();
    for _ in 0..80 {
        window.key(Key::Tab, Modifiers::NONE);
        window.frames(1);
        reached.extend(window.ctx.memory(|memory| memory.focused()));
    }
    for (i, control) in window.desk.controls().iter().enumerate() {
        let id = window.id(control.id);
        let by = match &control.kind {
            Kind::Continuous { .. } | Kind::List(_) => vec![id],
            Kind::Steps(texts) => {
                let k = Stops::of_steps(texts.clone()).nearest(window.desk.at[i]);
                vec![id, id.with(("cell", k))]
            }
            // A check box has the id of its place; it is looked for by its count below.
            Kind::Toggle | Kind::Listed => continue,
        };
        assert!(by.iter().any(|id| reached.contains(id)), "{}", control.id);
    }
    let toggles = window.desk.controls().iter();
    let toggles = toggles.filter(|c| c.kind == Kind::Toggle).count();
    // Beside the controls: the menus of tone and view, the rig's line, the details' line, the three
    // folds of the footer.
    assert_eq!(
        reached.len(),
        window.desk.controls().len() + 7,
        "{toggles} toggles"
    );
}

#[test]
fn folded_details_say_how_many_are_set() {
    let mut window = Window::new();
    let kind = window.desk.index("pad.loss_kind");
    assert!(
        window
            .ctx
            .read_response(window.id("pad.loss_kind"))
            .is_none()
    );
    window.desk.at[kind] = 1.0;
    window.frames(2);
    let text = format!("{:?}", window.names());
    assert!(text.contains("Pad Details, 1 set"), "{text}");
}

/// Nothing that is named reaches over the window's sides, whatever is unfolded and however long the notes are.
#[test]
fn nothing_is_cut_at_the_sides() {
    for (width, height) in [
        (760.0, 480.0),
        (860.0, 620.0),
        (1080.0, 700.0),
        (1280.0, 800.0),
    ] {
        let mut window = Window::sized(width, height);
        let gain = window.desk.index("pad.loss_kind");
        let note = |unwise| {
            Note {
            text: "Preamp out passes the return converter's full scale by 1.8 dB (6948 frames so far): a \
                   return pad spares it, and this sentence goes on for longer than any that is said."
                .to_owned(),
            unwise,
            step: Some((gain, 1.0)),
        }
        };
        window.desk.readout.notes = vec![note(true), note(false)];
        window.desk.readout.holds_loudest = true;
        window.desk.readout.measures_loudness = true;
        window.desk.readout.loudness = Some(note(false));
        window.desk.readout.hardest =
            "V2 with T2, the output stage, works hardest: 0.034 % THD before it, 0.43 % behind."
                .to_owned();
        window.desk.view.notes_open = true;
        window.desk.view.harmonics_open = true;
        window.desk.view.compare_open = true;
        window.desk.view.load_shown = true;
        window.frames(4);
        let mut named = 0;
        for (name, rect) in window.nodes() {
            let Some(rect) = rect.filter(|rect| rect.is_finite()) else {
                continue;
            };
            named += 1;
            assert!(
                rect.left() >= -0.5 && rect.right() <= width + 0.5,
                "{name}: {rect:?} in {width}"
            );
        }
        assert!(named > 30, "{named}");
    }
}

/// A window of this size with everything in it that is long.
fn full(width: f32, height: f32, scale: f32, unfolded: bool) -> Window {
    let mut window = Window::sized(width, height);
    window.scale = scale;
    let kind = window.desk.index("pad.loss_kind");
    let note = |unwise| {
        Note {
        text: "Preamp out passes the return converter's full scale by 1.8 dB (6948 frames so far): a return \
               pad spares it."
            .to_owned(),
        unwise,
        step: Some((kind, 1.0)),
    }
    };
    window.desk.readout.notes = vec![note(true), note(false)];
    window.desk.readout.holds_loudest = true;
    window.desk.readout.clipped_send_frames = 12_345;
    window.desk.readout.clipped_return_frames = 9;
    let view = &mut window.desk.view;
    view.notes_open = unfolded;
    view.harmonics_open = unfolded;
    view.compare_open = unfolded;
    view.details_open = unfolded;
    view.rig_open = unfolded;
    view.load_shown = unfolded;
    window.frames(6);
    window
}

/// Names that are in sight, each with its place: what has scrolled under the line at the bottom is not.
fn in_sight(window: &mut Window) -> Vec<(String, Rect)> {
    use egui::accesskit::Role;
    let kinds = [
        Role::Label,
        Role::Heading,
        Role::Button,
        Role::CheckBox,
        Role::RadioButton,
        Role::ComboBox,
        Role::Slider,
        Role::TextInput,
        Role::DisclosureTriangle,
        Role::ListBoxOption,
    ];
    let mut all: Vec<(String, Rect)> = Vec::new();
    for node in window.roles() {
        let name = node.label().or(node.value()).map(str::to_owned);
        let (Some(name), Some(b)) = (name, node.bounds()) else {
            continue;
        };
        let at = |x: f64, y: f64| egui::pos2(x as f32, y as f32);
        let rect = Rect::from_min_max(at(b.x0, b.y0), at(b.x1, b.y1));
        if kinds.contains(&node.role()) && rect.is_finite() && !name.is_empty() {
            all.push((name, rect));
        }
    }
    let is_foot = |name: &str| name.contains("Phantom power off");
    let folds = ["Notes: 2", "Harmonics", "Compare"];
    let line = all
        .iter()
        .find(|(name, _)| is_foot(name))
        .map(|(_, rect)| rect.top());
    let line = line.expect("the caution is in sight");
    let folds_top = all
        .iter()
        .filter(|(name, rect)| folds.contains(&name.as_str()) && (rect.top() - line).abs() < 40.0);
    let top = folds_top.map(|(_, rect)| rect.top()).fold(line, f32::min) - 2.0;
    let foot = |(name, rect): &(String, Rect)| {
        is_foot(name) || (folds.contains(&name.as_str()) && rect.top() >= top)
    };
    all.into_iter()
        .filter_map(|one| {
            if foot(&one) {
                return Some(one);
            }
            let (name, mut rect) = one;
            rect.max.y = rect.max.y.min(top);
            rect.is_positive().then_some((name, rect))
        })
        .collect()
}

/// At every size and at 200 % no two names lie upon one another, folded and unfolded; 430 x 345 points are what a
/// screen leaves of the default window at 200 % where it cannot grow.
#[test]
fn nothing_named_lies_upon_another() {
    let sizes = [
        (760.0, 480.0, 1.0),
        (860.0, 620.0, 1.0),
        (1280.0, 800.0, 1.0),
        (760.0, 480.0, 2.0),
        (860.0, 620.0, 2.0),
        (1280.0, 800.0, 2.0),
        (430.0, 345.0, 2.0),
    ];
    for (width, height, scale) in sizes {
        for unfolded in [false, true] {
            let mut window = full(width, height, scale, unfolded);
            assert_eq!(window.ctx.pixels_per_point(), scale);
            let all = in_sight(&mut window);
            assert!(all.len() > 20, "{}", all.len());
            for (n, (name, rect)) in all.iter().enumerate() {
                for (other, place) in &all[..n] {
                    let both = rect.intersect(*place);
                    assert!(
                        both.width() <= 0.5 || both.height() <= 0.5,
                        "{name} {rect:?} upon {other} {place:?} in {width} x {height} at {scale}"
                    );
                }
            }
        }
    }
}

/// What is needed most fits the smallest window without scrolling: every section, the pad as built, the rig.
#[test]
fn the_smallest_window_shows_all_that_is_not_unfolded() {
    let mut window = full(760.0, 480.0, 1.0, false);
    let all = in_sight(&mut window);
    let foot = all
        .iter()
        .find(|(name, _)| name.contains("Phantom"))
        .unwrap()
        .1;
    for wanted in ["Pad built", "Rig", "Pad Details", "Resistors"] {
        let found = all.iter().find(|(name, _)| name == wanted);
        let rect = found.unwrap_or_else(|| panic!("no {wanted}")).1;
        assert!(
            rect.height() > 12.0 && rect.bottom() < foot.top(),
            "{wanted}: {rect:?}"
        );
    }
}
