//! The window as a function, driven by events over a mock desk.

mod access;
mod choices;
mod controls;
mod notes;
mod presets;
mod rig;
mod whole;

use super::desk::{Desk, Kind};
use super::field::field_id;
use super::gesture::position_of;
use super::mock::{Asked, Mock};
use super::{Tracked, ui};
use egui::{Context, Event, Id, Key, Modifiers, PointerButton, Pos2, RawInput, Rect, vec2};

/// A window without a screen.
struct Window {
    ctx: Context,
    desk: Tracked<Mock>,
    size: egui::Vec2,
    /// Pixels a point.
    scale: f32,
    seconds: f64,
}

impl Window {
    fn new() -> Self {
        let [width, height] = super::MIN_SIZE;
        Self::sized(width, height)
    }

    fn sized(width: f32, height: f32) -> Self {
        let mut window = Self {
            ctx: Context::default(),
            desk: Tracked::new(Mock::new(1.0)),
            size: vec2(width, height),
            scale: 1.0,
            seconds: 0.0,
        };
        window.frames(3);
        window
    }

    fn frame(&mut self, events: Vec<Event>) {
        let modifiers = events
            .iter()
            .rev()
            .find_map(|event| match event {
                Event::PointerButton { modifiers, .. }
                | Event::MouseWheel { modifiers, .. }
                | Event::ModifiersChanged(modifiers) => Some(*modifiers),
                _ => None,
            })
            .unwrap_or_default();
        self.seconds += 1.0 / 30.0;
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, self.size)),
            time: Some(self.seconds),
            focused: true,
            events,
            ..RawInput::default()
        };
        self.show_on(&mut input);
        if modifiers != Modifiers::NONE {
            input.events.insert(0, Event::ModifiersChanged(modifiers));
        }
        let desk = &mut self.desk;
        let output = self.ctx.run_ui(input, |root| ui(root, desk));
        output.drop_without_applying_deltas();
    }

    fn show_on(&self, input: &mut RawInput) {
        let screen = input.viewports.entry(input.viewport_id).or_default();
        screen.native_pixels_per_point = Some(self.scale);
    }

    fn frames(&mut self, count: usize) {
        for _ in 0..count {
            self.frame(Vec::new());
        }
    }

    fn id(&self, name: &str) -> Id {
        field_id(&self.desk, self.desk.index(name))
    }

    fn rect(&self, name: &str) -> Rect {
        self.ctx.read_response(self.id(name)).unwrap().rect
    }

    fn button(&mut self, at: Pos2, pressed: bool) {
        let event = Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        };
        self.frame(vec![Event::PointerMoved(at), event]);
    }

    fn click(&mut self, at: Pos2) {
        self.button(at, true);
        self.button(at, false);
    }

    /// Clicks what has this name, wherever it is.
    fn press(&mut self, name: &str) {
        let at = self.place(name);
        let at = at.unwrap_or_else(|| panic!("no {name} in {:?}", self.names()));
        self.click(at);
        self.frames(3);
    }

    fn drag(&mut self, from: Pos2, by: egui::Vec2, modifiers: Modifiers) {
        self.button(from, true);
        for k in 1..=20 {
            let at = from + by * (k as f32 / 20.0);
            self.frame(vec![
                Event::ModifiersChanged(modifiers),
                Event::PointerMoved(at),
            ]);
        }
        self.button(from + by, false);
        self.frames(2);
    }

    fn key(&mut self, key: Key, modifiers: Modifiers) {
        let event = |pressed| Event::Key {
            key,
            physical_key: None,
            pressed,
            repeat: false,
            modifiers,
        };
        self.frame(vec![Event::ModifiersChanged(modifiers), event(true)]);
        self.frame(vec![event(false), Event::ModifiersChanged(Modifiers::NONE)]);
    }

    fn type_into(&mut self, name: &str, text: &str) {
        let at = self.rect(name).center();
        self.click(at);
        self.frames(2);
        self.frame(vec![Event::Text(text.to_owned())]);
    }

    fn focus(&mut self, name: &str) {
        let id = self.id(name);
        self.ctx.memory_mut(|memory| memory.request_focus(id));
        self.frames(2);
    }

    fn at(&self, name: &str) -> f32 {
        self.desk.at[self.desk.index(name)]
    }

    fn decibels(&self, name: &str) -> String {
        let i = self.desk.index(name);
        self.desk.text(i, self.desk.at[i])
    }
}

/// Every gesture is closed, none is nested, and nothing is set outside of one.
fn assert_balanced(asked: &[Asked]) {
    let mut open = None;
    for what in asked {
        match *what {
            Asked::Begin(i) => {
                assert_eq!(open, None, "{asked:?}");
                open = Some(i);
            }
            Asked::Set(i, at) => {
                assert_eq!(open, Some(i), "{asked:?}");
                assert!((0.0..=1.0).contains(&at), "{at}");
            }
            Asked::End(i) => {
                assert_eq!(open.take(), Some(i), "{asked:?}");
            }
            Asked::Clear => {}
        }
    }
    assert_eq!(open, None, "{asked:?}");
}

#[test]
fn a_drag_is_one_gesture_of_the_distance_travelled() {
    let mut window = Window::new();
    let from = window.rect("pad.loss_db").center();
    window.drag(from, vec2(40.0, 0.0), Modifiers::NONE);
    // The first 6 points tell a drag from a click; 34 of 400 are 6.8 of 80 dB.
    assert_eq!(window.decibels("pad.loss_db"), "46.8 dB");
    assert_balanced(&window.desk.asked);
    let begun = window.desk.asked.iter();
    assert_eq!(begun.filter(|a| matches!(a, Asked::Begin(_))).count(), 1);
}

#[test]
fn a_drag_with_shift_is_ten_times_finer_and_upwards_is_more() {
    let mut window = Window::new();
    let from = window.rect("pad.loss_db").center();
    window.drag(from, vec2(0.0, -56.0), Modifiers::SHIFT);
    // 50 points of 4000 are 1.0 of 80 dB.
    assert_eq!(window.decibels("pad.loss_db"), "41.0 dB");
}

#[test]
fn keys_move_by_steps_and_shift_by_tenths() {
    let mut window = Window::new();
    window.focus("pad.loss_db");
    window.key(Key::ArrowUp, Modifiers::NONE);
    window.key(Key::ArrowRight, Modifiers::NONE);
    window.key(Key::ArrowDown, Modifiers::SHIFT);
    assert_eq!(window.decibels("pad.loss_db"), "41.9 dB");
    window.key(Key::PageDown, Modifiers::NONE);
    assert_eq!(window.decibels("pad.loss_db"), "31.9 dB");
    window.key(Key::End, Modifiers::NONE);
    assert_eq!(window.at("pad.loss_db"), 1.0);
    window.key(Key::Delete, Modifiers::NONE);
    assert_eq!(window.decibels("pad.loss_db"), "40.0 dB");
    assert_balanced(&window.desk.asked);
}

#[test]
fn keys_add_up_while_the_host_is_late() {
    let mut window = Window::new();
    window.desk.follows = false;
    window.focus("pad.loss_db");
    for _ in 0..3 {
        window.key(Key::ArrowUp, Modifiers::NONE);
    }
    let i = window.desk.index("pad.loss_db");
    let last = window.desk.asked.iter().rev().find_map(|a| match a {
        Asked::Set(index, at) if *index == i => Some(*at),
        _ => None,
    });
    assert_eq!(window.desk.text(i, last.unwrap()), "43.0 dB");
}

#[test]
fn the_wheel_moves_what_is_under_the_pointer() {
    let mut window = Window::new();
    let wheel = |y, modifiers| Event::MouseWheel {
        unit: egui::MouseWheelUnit::Line,
        delta: vec2(0.0, y),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Unknown,
        modifiers,
    };
    let over = window.rect("pad.loss_db").center();
    window.frame(vec![Event::PointerMoved(over)]);
    window.frame(vec![wheel(-2.0, Modifiers::NONE)]);
    assert_eq!(window.decibels("pad.loss_db"), "38.0 dB");
    window.frame(vec![wheel(1.0, Modifiers::SHIFT)]);
    assert_eq!(window.decibels("pad.loss_db"), "38.1 dB");
    assert_balanced(&window.desk.asked);
}

#[test]
fn typed_values_round_trip_on_every_range() {
    let mut window = Window::new();
    window.desk.view.rig_open = true;
    window.size.y = 900.0;
    window.frames(3);
    let ranges: Vec<(usize, &'static str)> = window
        .desk
        .controls()
        .iter()
        .enumerate()
        .filter(|(_, control)| matches!(control.kind, Kind::Continuous { .. }))
        .map(|(i, control)| (i, control.id))
        .collect();
    assert!(ranges.len() >= 8);
    for (i, name) in ranges {
        for wanted in [0.13, 0.5, 0.87] {
            let text = window.desk.text(i, wanted);
            window.type_into(name, &text);
            window.key(Key::Enter, Modifiers::NONE);
            window.frames(15);
            assert_eq!(window.desk.text(i, window.desk.at[i]), text, "{name}");
        }
    }
    assert_balanced(&window.desk.asked);
}

#[test]
fn what_cannot_be_read_changes_nothing_and_escape_leaves() {
    let mut window = Window::new();
    window.type_into("pad.loss_db", "many");
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    assert!(window.desk.asked.is_empty());
    let entry = window.id("pad.loss_db").with("entry");
    assert!(window.ctx.memory(|memory| memory.has_focus(entry)));
    window.key(Key::Escape, Modifiers::NONE);
    window.frames(2);
    assert!(!window.ctx.memory(|memory| memory.has_focus(entry)));
    assert!(window.desk.asked.is_empty());
    assert_eq!(window.decibels("pad.loss_db"), "40.0 dB");
}

#[test]
fn a_value_typed_and_left_by_a_click_elsewhere_is_taken() {
    let mut window = Window::new();
    window.type_into("pad.loss_db", "46");
    window.click(egui::pos2(500.0, 200.0));
    window.frames(2);
    assert_eq!(window.decibels("pad.loss_db"), "46.0 dB");
}

#[test]
fn a_digit_over_a_focused_field_starts_typing() {
    let mut window = Window::new();
    window.focus("pad.loss_db");
    window.frame(vec![Event::Text("5".to_owned())]);
    window.frames(2);
    window.frame(vec![Event::Text("2".to_owned())]);
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    assert_eq!(window.decibels("pad.loss_db"), "52.0 dB");
    // From the keyboard the focus returns to where it was.
    let id = window.id("pad.loss_db");
    assert!(window.ctx.memory(|memory| memory.has_focus(id)));
}

#[test]
fn a_double_click_restores_the_default() {
    let mut window = Window::new();
    let i = window.desk.index("pad.loss_db");
    window.desk.at[i] = 0.9;
    window.frames(1);
    let at = window.rect("pad.loss_db").center();
    window.click(at);
    window.click(at);
    window.frames(3);
    assert_eq!(window.decibels("pad.loss_db"), "40.0 dB");
    let entry = window.id("pad.loss_db").with("entry");
    assert!(!window.ctx.memory(|memory| memory.has_focus(entry)));
    assert_balanced(&window.desk.asked);
}

#[test]
fn every_step_of_a_row_can_be_clicked_and_arrowed() {
    let mut window = Window::new();
    let id = window.id("pad.network");
    for k in [0usize, 4, 1] {
        let cell = window.ctx.read_response(id.with(("cell", k))).unwrap().rect;
        window.click(cell.center());
        window.frames(2);
        assert_eq!(window.at("pad.network"), position_of(k, 5));
    }
    let cell = id.with(("cell", 1usize));
    window.ctx.memory_mut(|memory| memory.request_focus(cell));
    window.frames(2);
    window.key(Key::ArrowRight, Modifiers::NONE);
    window.key(Key::ArrowRight, Modifiers::NONE);
    assert_eq!(window.at("pad.network"), position_of(3, 5));
    assert_balanced(&window.desk.asked);
}

#[test]
fn a_list_opens_and_takes_arrows() {
    let mut window = Window::new();
    window.desk.view.details_open = true;
    window.frames(2);
    window.focus("pad.loss_kind");
    window.key(Key::ArrowDown, Modifiers::NONE);
    assert_eq!(window.at("pad.loss_kind"), position_of(1, 4));
    let at = window.rect("pad.loss_kind").center();
    window.click(at);
    window.frames(2);
    assert!(egui::Popup::is_any_open(&window.ctx));
    window.key(Key::Escape, Modifiers::NONE);
    window.frames(2);
    assert!(!egui::Popup::is_any_open(&window.ctx));
}

#[test]
fn no_gesture_stays_open_when_its_control_goes_away() {
    let mut window = Window::new();
    window.desk.view.rig_open = true;
    window.size.y = 900.0;
    window.frames(3);
    let from = window.rect("rig.send.source_ohms").center();
    window.button(from, true);
    window.frame(vec![Event::PointerMoved(from + vec2(30.0, 0.0))]);
    window.frame(vec![Event::PointerMoved(from + vec2(40.0, 0.0))]);
    assert!(matches!(window.desk.asked.last(), Some(Asked::Set(..))));
    window.desk.view.rig_open = false;
    window.frames(2);
    assert_balanced(&window.desk.asked);
}

#[test]
fn a_dying_window_ends_its_gestures() {
    let mut desk = Tracked::new(Mock::new(1.0));
    desk.begin(3);
    desk.begin(3);
    desk.set(3, 0.5);
    desk.end_all();
    desk.end(3);
    let asked = vec![Asked::Begin(3), Asked::Set(3, 0.5), Asked::End(3)];
    assert_eq!(desk.inner().asked, asked);
}

#[test]
fn a_click_clears_the_counters() {
    let mut window = Window::new();
    window.desk.readout.clipped_return_frames = 12;
    window.frames(2);
    let id = super::clips::counter_id("return");
    let at = window.ctx.read_response(id).unwrap().rect.center();
    window.click(at);
    window.frames(1);
    assert_eq!(window.desk.readout.clipped_return_frames, 0);
    assert_eq!(window.desk.asked, vec![Asked::Clear]);
}

/// For tests, which look at the mock's own fields.
impl std::ops::Deref for Tracked<Mock> {
    type Target = Mock;

    fn deref(&self) -> &Mock {
        self.inner()
    }
}

impl std::ops::DerefMut for Tracked<Mock> {
    fn deref_mut(&mut self) -> &mut Mock {
        self.inner_mut()
    }
}

/// Numbers under a bound, the same ones every time: a linear congruential generator (Knuth's MMIX constants).
fn random(mut state: u64) -> impl FnMut(u32) -> u32 {
    move |below| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) as u32) % below
    }
}
