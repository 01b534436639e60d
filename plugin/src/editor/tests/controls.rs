//! Every control, whatever it is: value with unit, name and role, wheel, keys, fine drag, default, tooltip.

use super::super::choice::Stops;
use super::super::desk::{Desk, Kind};
use super::super::gesture::position_of;
use super::super::row::{accessible_name, tip};
use super::{Window, assert_balanced};
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, Rect, vec2};

/// Something done to a control.
type Move<'a> = &'a dyn Fn(&mut Window);

/// Everything unfolded and in sight.
fn window() -> Window {
    let mut window = Window::sized(860.0, 1400.0);
    window.desk.view.rig_open = true;
    window.desk.view.details_open = true;
    window.frames(4);
    window
}

/// Indices and ids of the controls of a kind.
fn of_kind(window: &Window, wanted: impl Fn(&Kind) -> bool) -> Vec<(usize, &'static str)> {
    let all = window.desk.controls().iter().enumerate();
    all.filter(|(_, control)| wanted(&control.kind))
        .map(|(i, control)| (i, control.id))
        .collect()
}

fn ranges(window: &Window) -> Vec<(usize, &'static str)> {
    of_kind(window, |kind| matches!(kind, Kind::Continuous { .. }))
}

fn put(window: &mut Window, i: usize, at: f32) {
    window.desk.at[i] = at;
    // What the last gesture holds is let go.
    window.frames(20);
}

fn wheel(window: &mut Window, rect: Rect, notches: f32, modifiers: Modifiers) {
    let held = Event::ModifiersChanged(modifiers);
    window.frame(vec![held, Event::PointerMoved(rect.center())]);
    window.frame(vec![Event::MouseWheel {
        unit: egui::MouseWheelUnit::Line,
        delta: vec2(0.0, notches),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Unknown,
        modifiers,
    }]);
    window.frames(2);
}

fn double_click(window: &mut Window, rect: Rect) {
    window.frames(30);
    window.click(rect.center());
    window.click(rect.center());
    window.frames(20);
}

#[test]
fn every_control_has_a_name_a_role_a_value_and_a_tooltip() {
    let mut window = window();
    let nodes = window.roles();
    let find = |role: Role, name: &str| {
        let found: Vec<_> = nodes
            .iter()
            .filter(|node| node.role() == role && node.label() == Some(name))
            .collect();
        assert_eq!(found.len(), 1, "{role:?} {name}");
        found[0]
    };
    for (i, control) in window.desk.controls().iter().enumerate() {
        let name = accessible_name(control);
        match &control.kind {
            Kind::Continuous { .. } => {
                let text = window.desk.text(i, window.desk.at[i]);
                let unit = text.split(' ').next_back().unwrap_or_default();
                assert!(
                    ["dB", "dBu", "ohm", "kohm"].contains(&unit),
                    "{name}: {text}"
                );
                assert_eq!(find(Role::Slider, &name).value(), Some(text.as_str()));
            }
            Kind::Steps(texts) if control.detail && texts.len() > 3 => {
                find(Role::ComboBox, &name);
            }
            Kind::Steps(texts) => {
                for text in texts {
                    find(Role::RadioButton, &format!("{name} {text}"));
                }
            }
            Kind::Toggle => {
                find(Role::CheckBox, &name);
            }
            Kind::List(_) => {
                find(Role::TextInput, &name);
            }
            Kind::Listed => {}
        }
        let said = tip(&window.desk, i);
        let mut lines = said.lines();
        let sentence = lines.next().unwrap_or_default();
        assert!(sentence.ends_with('.') && sentence.len() > 20, "{said}");
        let default = lines.next().unwrap_or_default();
        assert!(default.starts_with("Default: "), "{said}");
    }
}

#[test]
fn every_range_takes_wheel_keys_and_drags_coarse_and_fine() {
    let mut window = window();
    for (i, name) in ranges(&window) {
        let rect = window.rect(name);
        let moved = |window: &mut Window, make: Move| {
            put(window, i, 0.5);
            make(window);
            window.desk.at[i] - 0.5
        };
        let pairs: [[Move; 2]; 3] = [
            [
                &|window| wheel(window, rect, 1.0, Modifiers::NONE),
                &|window| wheel(window, rect, 1.0, Modifiers::SHIFT),
            ],
            [
                &|window| {
                    window.focus(name);
                    window.key(Key::ArrowUp, Modifiers::NONE);
                },
                &|window| {
                    window.focus(name);
                    window.key(Key::ArrowRight, Modifiers::SHIFT);
                },
            ],
            [
                &|window| window.drag(rect.center(), vec2(60.0, 0.0), Modifiers::NONE),
                &|window| window.drag(rect.center(), vec2(60.0, 0.0), Modifiers::SHIFT),
            ],
        ];
        for [coarse, fine] in pairs {
            let (coarse, fine) = (moved(&mut window, coarse), moved(&mut window, fine));
            assert!(coarse > 0.0 && fine > 0.0, "{name}: {coarse}, {fine}");
            // On a grid, so not exactly.
            assert!(
                (coarse / fine - 10.0).abs() < 1.5,
                "{name}: {coarse}, {fine}"
            );
        }
    }
    assert_balanced(&window.desk.asked);
}

#[test]
fn every_range_comes_back_to_its_default_by_a_double_click_and_by_delete() {
    let mut window = window();
    for (i, name) in ranges(&window) {
        let default = window.desk.default_normalized(i);
        put(&mut window, i, 0.9);
        let rect = window.rect(name);
        double_click(&mut window, rect);
        assert_eq!(window.desk.at[i], default, "{name}");
        put(&mut window, i, 0.9);
        window.focus(name);
        window.key(Key::Delete, Modifiers::NONE);
        window.frames(2);
        assert_eq!(window.desk.at[i], default, "{name}");
    }
    assert_balanced(&window.desk.asked);
}

#[test]
fn every_choice_takes_wheel_keys_and_its_default() {
    let mut window = window();
    let choices = of_kind(&window, |kind| matches!(kind, Kind::Steps(_)));
    assert!(choices.len() > 5);
    for (i, name) in choices {
        let Kind::Steps(texts) = window.desk.controls()[i].kind.clone() else {
            unreachable!("it is a choice");
        };
        let count = texts.len();
        let id = window.id(name);
        let place = |window: &Window, k: usize| {
            let cell = window.ctx.read_response(id.with(("cell", k)));
            cell.or_else(|| window.ctx.read_response(id)).unwrap()
        };
        let stops = Stops::of_steps(vec![String::new(); count]);
        let k = |window: &Window| stops.nearest(window.desk.at[i]);
        put(&mut window, i, 0.0);
        let rect = place(&window, 0).rect;
        wheel(&mut window, rect, 1.0, Modifiers::NONE);
        assert_eq!(k(&window), 1, "{name}");
        put(&mut window, i, 0.0);
        let focus = place(&window, 0).id;
        window.ctx.memory_mut(|memory| memory.request_focus(focus));
        window.frames(2);
        window.key(Key::ArrowRight, Modifiers::NONE);
        assert_eq!(k(&window), 1, "{name}");
        let default = stops.nearest(window.desk.default_normalized(i));
        let other = if default == 0 { 1 } else { 0 };
        put(&mut window, i, position_of(other, count));
        let focus = place(&window, other).id;
        window.ctx.memory_mut(|memory| memory.request_focus(focus));
        window.frames(2);
        window.key(Key::Delete, Modifiers::NONE);
        assert_eq!(k(&window), default, "{name}");
        // By a double click on its label too, where that is beside it.
        put(&mut window, i, position_of(other, count));
        let label = window.desk.controls()[i].label.clone();
        let middle = place(&window, 0).rect.center().y;
        let near = |rect: &Rect| (rect.center().y - middle).abs() < 25.0;
        let labels = window.places(&label);
        let label = labels
            .into_iter()
            .find(near)
            .unwrap_or_else(|| panic!("{name}"));
        double_click(&mut window, label);
        assert_eq!(k(&window), default, "{name}");
    }
    assert_balanced(&window.desk.asked);
}

#[test]
fn every_switch_is_pressed_by_mouse_and_by_space() {
    let mut window = window();
    let switches = of_kind(&window, |kind| *kind == Kind::Toggle);
    assert!(switches.len() >= 2);
    for (i, name) in switches {
        let before = window.desk.at[i];
        let spoken = accessible_name(&window.desk.controls()[i]);
        let at = window.place(&spoken).unwrap_or_else(|| panic!("{name}"));
        window.click(at);
        window.frames(2);
        assert_eq!(window.desk.at[i], 1.0 - before, "{name}");
        let reached = (0..80).any(|_| {
            window.key(Key::Tab, Modifiers::NONE);
            window.frames(1);
            let focused = window.ctx.memory(|memory| memory.focused());
            let place = focused.and_then(|id| window.ctx.read_response(id));
            place.is_some_and(|place| place.rect.contains(at))
        });
        assert!(reached, "{name}");
        window.key(Key::Space, Modifiers::NONE);
        window.frames(2);
        assert_eq!(window.desk.at[i], before, "{name}");
    }
    assert_balanced(&window.desk.asked);
}
