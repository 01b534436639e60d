//! The rig's form and its line.

use super::super::desk::{Desk, RigMemory};
use super::super::rig::first_summary;
use super::{Window, assert_balanced};
use egui::{Key, Modifiers};

fn first_use(memory: RigMemory) -> Window {
    let [width, height] = super::super::MIN_SIZE;
    let mut window = Window::sized(width, height);
    window.desk.memory = memory;
    window.frames(3);
    window
}

/// A cold user sets both converters to +20 dBu and keeps that: two actions.
#[test]
fn the_first_use_asks_once_and_remembers() {
    let mut window = first_use(RigMemory::Nothing);
    assert!(window.ctx.read_response(window.id("pad.loss_db")).is_none());
    window.press("+20 dBu");
    for id in ["rig.send.full_scale_dbu", "rig.return.full_scale_dbu"] {
        assert_eq!(window.decibels(id), "20.0 dBu");
    }
    window.type_into("rig.send.source_ohms", "120");
    window.key(Key::Enter, Modifiers::NONE);
    assert_eq!(window.decibels("rig.send.source_ohms"), "120 ohm");
    window.press("Remember this rig");
    assert_eq!(window.desk.rig_memory(), RigMemory::Kept);
    assert!(window.ctx.read_response(window.id("pad.loss_db")).is_some());
    let line = first_summary(&window.desk);
    assert!(line.contains("20.0 dBu sent from 120 ohm"), "{line}");
    assert!(window.desk.undoable().is_none(), "facts are no choices");
    assert_balanced(&window.desk.asked);
}

#[test]
fn it_can_be_put_off() {
    let mut window = first_use(RigMemory::Nothing);
    window.press("Not now");
    assert!(window.ctx.read_response(window.id("pad.loss_db")).is_some());
    assert_eq!(window.desk.rig_memory(), RigMemory::Nothing);
    assert!(window.desk.asked.is_empty());
}

#[test]
fn a_damaged_file_is_said_and_the_form_is_there() {
    let why = "/people/ada/.config/penstock/rig.toml: key full_scale".to_owned();
    let mut window = first_use(RigMemory::Damaged(why.clone()));
    let names = window.names();
    assert!(names.iter().any(|name| name.contains(&why)), "{names:?}");
    window.press("Remember this rig");
    assert_eq!(window.desk.rig_memory(), RigMemory::Kept);
}

/// A project with a rig of its own says so, and either can be made the other.
#[test]
fn a_projects_own_rig_can_be_remembered_or_replaced() {
    let mut window = Window::sized(860.0, 900.0);
    window.desk.view.rig_open = true;
    window.frames(3);
    window.type_into("rig.send.full_scale_dbu", "18");
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    let names = window.names();
    assert!(
        names.iter().any(|n| n.contains("Not what new")),
        "{names:?}"
    );
    window.press("Use the remembered");
    assert_eq!(window.decibels("rig.send.full_scale_dbu"), "22.0 dBu");
    window.type_into("rig.send.full_scale_dbu", "18");
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    window.press("Remember this rig");
    let i = window.desk.index("rig.send.full_scale_dbu");
    assert!(
        window
            .desk
            .remembered_rig()
            .contains(&(i, window.desk.at[i]))
    );
    assert_balanced(&window.desk.asked);
}

#[test]
fn the_form_fits_the_smallest_window_and_any_other_is_drawn() {
    let mut window = first_use(RigMemory::Nothing);
    for name in ["+24 dBu", "Remember this rig", "Not now"] {
        let at = window.place(name).unwrap_or_else(|| panic!("{name}"));
        assert!(at.x < 760.0 && at.y < 480.0, "{name} at {at}");
    }
    for (width, height) in [(1.0, 1.0), (253.0, 160.0), (4000.0, 2000.0)] {
        window.size = egui::vec2(width, height);
        window.frames(3);
    }
}
