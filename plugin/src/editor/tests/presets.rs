//! The browser of presets, by mouse and by keys.

use super::super::desk::Desk;
use super::super::presets::{entry_id, is_open, line_id, search_id};
use super::{Window, assert_balanced, random};
use crate::folder::scratch::Scratch;
use crate::library::Library;
use crate::presets::FACTORY;
use egui::{Event, Key, Modifiers};
use penstock_dsp::plan::Plan;

/// A window with a library in a folder of the test's.
fn window(scratch: &Scratch) -> Window {
    let [width, height] = super::super::MIN_SIZE;
    let mut window = Window::sized(width, height);
    window.desk.library = Some(Library::new(Some(scratch.path())));
    window.frames(2);
    window
}

fn open(window: &mut Window) {
    window.press("Presets");
    assert!(is_open(&window.ctx));
}

fn write(window: &mut Window, text: &str) {
    window.key(Key::A, Modifiers::COMMAND);
    window.frame(vec![Event::Text(text.to_owned())]);
    window.frames(2);
}

fn names(window: &mut Window) -> Vec<String> {
    let library = window.desk.library().unwrap();
    let own = library.entries().iter().filter(|entry| !entry.factory);
    own.map(|entry| entry.name.clone()).collect()
}

fn says(window: &mut Window, part: &str) {
    let names = window.names();
    let said = names.iter().any(|name| name.contains(part));
    assert!(said, "no {part} in {names:?}");
}

#[test]
fn a_preset_is_found_applied_and_undone_in_one_step() {
    let scratch = Scratch::new();
    let mut window = window(&scratch);
    let rig = window.desk.index("rig.send.full_scale_dbu");
    window.desk.at[rig] = 0.25;
    window.type_into("send.trim_db", "-6");
    window.key(Key::Enter, Modifiers::NONE);
    let before = window.desk.at.clone();
    open(&mut window);
    window
        .ctx
        .memory_mut(|memory| memory.request_focus(search_id()));
    window.frames(1);
    write(&mut window, "strong bus");
    let id = entry_id(true, "Bus, strong");
    let at = window.ctx.read_response(id).unwrap().rect.center();
    assert!(
        window
            .ctx
            .read_response(entry_id(true, "Bus, light"))
            .is_none()
    );
    window.click(at);
    window.frames(2);
    says(&mut window, "Pad Loss 40.0 dB to 25.0 dB");
    assert_eq!(window.desk.at, before, "choosing changes nothing");
    window.press("Apply");
    assert_eq!(window.decibels("pad.loss_db"), "25.0 dB");
    assert_eq!(window.decibels("preamp.gain_db"), "28 dB");
    assert_eq!(window.decibels("send.trim_db"), "0.0 dB");
    assert_eq!(window.desk.at[rig], 0.25, "the rig stays");
    says(&mut window, "All choices stand like this now.");
    assert_balanced(&window.desk.asked);
    let after = window.desk.at.clone();
    window.press("Undo");
    assert_eq!(window.desk.at, before);
    window.press("Redo");
    assert_eq!(window.desk.at, after);
    assert_balanced(&window.desk.asked);
}

/// Without a mouse: Tab to the list, arrows, Enter; Escape closes.
#[test]
fn keys_alone_do_it() {
    let scratch = Scratch::new();
    let mut window = window(&scratch);
    open(&mut window);
    let first = entry_id(true, FACTORY[0].name());
    for _ in 0..60 {
        window.key(Key::Tab, Modifiers::NONE);
        if window.ctx.memory(|memory| memory.has_focus(first)) {
            break;
        }
    }
    assert!(window.ctx.memory(|memory| memory.has_focus(first)));
    window.key(Key::Enter, Modifiers::NONE);
    window.key(Key::ArrowDown, Modifiers::NONE);
    window.frames(2);
    window.key(Key::ArrowDown, Modifiers::NONE);
    window.frames(2);
    let third = entry_id(true, FACTORY[2].name());
    assert!(window.ctx.memory(|memory| memory.has_focus(third)));
    assert_eq!(window.decibels("pad.loss_db"), "40.0 dB");
    window.key(Key::Enter, Modifiers::NONE);
    assert_eq!(window.decibels("pad.loss_db"), "25.0 dB");
    window.key(Key::Home, Modifiers::NONE);
    window.frames(2);
    assert!(window.ctx.memory(|memory| memory.has_focus(first)));
    window.key(Key::End, Modifiers::NONE);
    window.frames(2);
    window.key(Key::Enter, Modifiers::NONE);
    assert_eq!(window.decibels("pad.loss_db"), "16.0 dB");
    window.key(Key::Escape, Modifiers::NONE);
    window.frames(2);
    assert!(!is_open(&window.ctx));
    assert_balanced(&window.desk.asked);
}

#[test]
fn ones_own_are_saved_renamed_and_deleted_only_when_asked() {
    let scratch = Scratch::new();
    let mut window = window(&scratch);
    open(&mut window);
    for round in 0..2 {
        window.press("Save");
        assert!(window.ctx.memory(|memory| memory.has_focus(line_id())));
        write(&mut window, "Choir");
        window.key(Key::Enter, Modifiers::NONE);
        window.frames(2);
        assert_eq!(names(&mut window), ["Choir"]);
        if round == 1 {
            says(&mut window, "is there already");
            // Enter again replaces nothing.
            window.key(Key::Enter, Modifiers::NONE);
            window.frames(2);
            says(&mut window, "is there already");
            window.press("Replace it");
        }
        says(&mut window, "is in your presets");
    }
    window.press("Rename");
    write(&mut window, "Choir, far");
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    assert_eq!(names(&mut window), ["Choir, far"]);
    window.press("Delete");
    says(&mut window, "Delete \u{201c}Choir, far\u{201d} for good?");
    window.key(Key::Escape, Modifiers::NONE);
    window.frames(2);
    assert!(is_open(&window.ctx));
    assert_eq!(names(&mut window), ["Choir, far"]);
    window.press("Delete");
    window.press("Delete");
    assert_eq!(names(&mut window), Vec::<String>::new());
    assert_eq!(scratch.names(), ["presets"]);
}

#[test]
fn plans_go_out_and_come_in() {
    let scratch = Scratch::new();
    let mut window = window(&scratch);
    open(&mut window);
    let out = scratch.path().join("mine.toml");
    let typed = out.to_str().unwrap().to_owned();
    window.press("Export");
    write(&mut window, &typed);
    window.press("Export");
    let text = std::fs::read_to_string(&out).unwrap();
    assert!(text.contains("[rig.send]"), "{text}");
    assert_eq!(Plan::from_toml(&text), Ok(window.desk.plan()));
    window.press("Import");
    write(&mut window, &typed);
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    assert_eq!(names(&mut window), ["mine"]);
    window.press("Import");
    write(&mut window, "nowhere.toml");
    window.key(Key::Enter, Modifiers::NONE);
    window.frames(2);
    says(&mut window, "whole path");
    window.press("Cancel");
    assert_eq!(names(&mut window), ["mine"]);
}

/// Nothing is drawn beyond the window, and every button can be reached, at any size the window takes.
#[test]
fn it_fits_the_smallest_window() {
    for (width, height) in [(760.0, 480.0), (860.0, 620.0), (1520.0, 960.0)] {
        let scratch = Scratch::new();
        let mut window = Window::sized(width, height);
        window.desk.library = Some(Library::new(Some(scratch.path())));
        window.frames(2);
        open(&mut window);
        let at = window.ctx.read_response(entry_id(true, FACTORY[1].name()));
        window.click(at.unwrap().rect.center());
        window.frames(2);
        for name in [
            "Apply", "Save", "Import", "Export", "Close", "Presets", "View",
        ] {
            let at = window.place(name).unwrap_or_else(|| panic!("{name}"));
            assert!(at.x > 0.0 && at.x < width, "{name} at {at}");
            assert!(at.y > 0.0 && at.y < height, "{name} at {at} of {height}");
        }
    }
    for (width, height) in [(1.0, 1.0), (253.0, 160.0), (430.0, 300.0)] {
        let scratch = Scratch::new();
        let mut window = window(&scratch);
        open(&mut window);
        window.size = egui::vec2(width, height);
        window.frames(3);
    }
}

/// Whatever is clicked and typed in the browser: no panic, no gesture left open, nothing outside its folder.
#[test]
fn random_events_in_the_browser_leave_nothing_open() {
    let scratch = Scratch::new();
    let mut window = window(&scratch);
    let mut random = random(7);
    let keys = [
        Key::Tab,
        Key::Enter,
        Key::Escape,
        Key::ArrowUp,
        Key::ArrowDown,
        Key::Space,
    ];
    for _ in 0..600 {
        if !is_open(&window.ctx) {
            window.button(egui::pos2(1.0, 1.0), false);
            open(&mut window);
        }
        let at = egui::pos2(random(760) as f32, 200.0 + random(280) as f32);
        match random(5) {
            0 => window.button(at, true),
            1 => window.button(at, false),
            2 => window.click(at),
            3 => window.key(keys[random(6) as usize], Modifiers::NONE),
            _ => window.frame(vec![Event::Text(
                ["a", "B", "/", "."][random(4) as usize].into(),
            )]),
        }
    }
    window.button(egui::pos2(1.0, 1.0), false);
    window.frames(2);
    assert_balanced(&window.desk.asked);
    let elsewhere = scratch.names().into_iter().filter(|name| name != "presets");
    assert_eq!(elsewhere.count(), 0);
}
