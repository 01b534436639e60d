//! Undo and redo of choices.

use super::super::desk::Desk;
use super::{Window, assert_balanced};
use egui::{Key, Modifiers};

#[test]
fn choices_are_undone_and_redone_by_keys_and_buttons() {
    // Wide enough for the gains side by side.
    let mut window = Window::sized(900.0, 620.0);
    window.type_into("pad.loss_db", "46");
    window.key(Key::Enter, Modifiers::NONE);
    let cell = window.id("preamp.gain_db").with(("cell", 5usize));
    let at = window.ctx.read_response(cell).unwrap().rect.center();
    window.click(at);
    window.frames(2);
    assert_eq!(window.decibels("preamp.gain_db"), "58 dB");
    window.key(Key::Z, Modifiers::COMMAND);
    assert_eq!(window.decibels("preamp.gain_db"), "40 dB");
    window.key(Key::Z, Modifiers::COMMAND);
    assert_eq!(window.decibels("pad.loss_db"), "40.0 dB");
    window.key(Key::Z, Modifiers::COMMAND);
    window.key(Key::Y, Modifiers::COMMAND);
    window.key(Key::Z, Modifiers::COMMAND | Modifiers::SHIFT);
    assert_eq!(window.decibels("pad.loss_db"), "46.0 dB");
    assert_eq!(window.decibels("preamp.gain_db"), "58 dB");
    assert_balanced(&window.desk.asked);
}

#[test]
fn facts_of_the_studio_are_not_undone() {
    let mut window = Window::new();
    window.desk.view.rig_open = true;
    window.size.y = 900.0;
    window.frames(3);
    window.type_into("rig.send.full_scale_dbu", "20");
    window.key(Key::Enter, Modifiers::NONE);
    assert!(window.desk.undoable().is_none());
    window.key(Key::Z, Modifiers::COMMAND);
    assert_eq!(window.decibels("rig.send.full_scale_dbu"), "20.0 dBu");
}

#[test]
fn the_text_being_typed_has_an_undo_of_its_own() {
    let mut window = Window::new();
    window.type_into("send.trim_db", "-6");
    window.key(Key::Enter, Modifiers::NONE);
    window.type_into("pad.loss_db", "46");
    window.key(Key::Z, Modifiers::COMMAND);
    assert_eq!(window.decibels("send.trim_db"), "-6.0 dB");
}
