//! Everything found by its words, reached by keys, typed, undone.

use std::collections::BTreeSet;

use egui::accesskit::Action;
use egui::{Key, Modifiers};
use egui_kittest::kittest::{NodeT, Queryable};
use penstock::editor::{Control, Desk, Kind};
use penstock_window_tests::{Stage, Walk, Window, named};

/// High enough for everything unfolded.
const TALL: [f32; 2] = [1000.0, 1500.0];

/// The window with everything unfolded.
fn unfolded(stage: &Stage) -> Window {
    let mut view = stage.params.view.get();
    (view.rig_open, view.details_open) = (true, true);
    stage.params.view.put(view);
    stage.open(TALL, 1.0, None)
}

fn name(control: &Control) -> String {
    format!("{} {}", control.section.title(), control.label)
}

fn index(window: &Window, id: &str) -> usize {
    let controls = window.state().controls();
    controls
        .iter()
        .position(|control| control.id == id)
        .unwrap_or_else(|| panic!("no control {id}"))
}

fn text(window: &Window, id: &str) -> String {
    let desk = window.state();
    let i = index(window, id);
    desk.text(i, desk.normalized(i))
}

#[test]
fn every_parameter_is_on_the_window_under_its_name() {
    let stage = Stage::default();
    let window = unfolded(&stage);
    for control in window.state().controls() {
        let name = name(control);
        let found = match &control.kind {
            Kind::Continuous { .. } | Kind::Toggle => named(&window, &name).len(),
            Kind::Steps(texts) => {
                let first = format!("{name} {}", texts[0]);
                named(&window, &name).len() + named(&window, &first).len()
            }
        };
        assert_eq!(found, 1, "{name}");
    }
    assert_eq!(window.state().controls().len(), stage.params.all.len());
}

/// Whoever has no mouse: the Tab key comes by everything that can be operated, and back to the first.
#[test]
fn the_tab_key_reaches_everything() {
    let stage = Stage::default();
    let mut window = unfolded(&stage);
    let operable: BTreeSet<String> = window
        .query_all_by(|node| node.data().supports_action(Action::Focus))
        .filter_map(|node| node.accesskit_node().label())
        .collect();
    let mut reached = BTreeSet::new();
    for _ in 0..3 * operable.len() {
        window.press(Key::Tab);
        reached.extend(window.focused());
    }
    for control in window.state().controls() {
        let name = name(control);
        // Of values side by side the chosen one is the stop.
        assert!(
            reached.iter().any(|label| label.starts_with(&name)),
            "{name} is not among {reached:?}"
        );
    }
    println!("{} stops: {reached:?}", reached.len());
}

#[test]
fn what_is_typed_is_what_stands_there() {
    let stage = Stage::default();
    let mut window = unfolded(&stage);
    let ranges: Vec<(usize, String)> = window
        .state()
        .controls()
        .iter()
        .enumerate()
        .filter(|(_, control)| matches!(control.kind, Kind::Continuous { .. }))
        .map(|(i, control)| (i, name(control)))
        .collect();
    assert!(ranges.len() >= 12, "{ranges:?}");
    for (i, name) in ranges {
        for at in [0.11, 0.52, 0.93] {
            let wanted = window.state().text(i, at);
            window.enter(&name, &wanted);
            assert_eq!(window.value(&name), wanted, "{name}");
            let desk = window.state();
            assert_eq!(desk.text(i, desk.normalized(i)), wanted, "{name}");
        }
    }
}

#[test]
fn every_list_and_every_switch_takes_keys() {
    let stage = Stage::default();
    let mut window = unfolded(&stage);
    let choices: Vec<(usize, String, Kind)> = window
        .state()
        .controls()
        .iter()
        .enumerate()
        .filter(|(_, control)| !matches!(control.kind, Kind::Continuous { .. }))
        .map(|(i, control)| (i, name(control), control.kind.clone()))
        .collect();
    for (i, name, kind) in choices {
        let before = window.state().normalized(i);
        let mut turns = 0;
        while !window
            .focused()
            .is_some_and(|label| label.starts_with(&name))
        {
            window.press(Key::Tab);
            turns += 1;
            assert!(turns < 200, "{name} is not reached");
        }
        let ends = if matches!(kind, Kind::Toggle) {
            window.press(Key::Space);
            vec![1.0 - before]
        } else {
            window.press(Key::End);
            let last = window.state().normalized(i);
            window.press(Key::Home);
            assert_eq!(last, 1.0, "{name}");
            vec![0.0]
        };
        assert_eq!(vec![window.state().normalized(i)], ends, "{name}");
        window.press(Key::Delete);
    }
}

#[test]
fn choices_are_undone_by_button_and_by_key() {
    let stage = Stage::default();
    let mut window = stage.open([900.0, 620.0], 1.0, None);
    window.enter("Pad Loss", "46");
    window.click("Preamp Gain 58 dB");
    assert_eq!(text(&window, "preamp.gain_db"), "58 dB");
    window.click("Undo");
    assert_eq!(text(&window, "preamp.gain_db"), "40 dB");
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_steps(2);
    assert_eq!(text(&window, "pad.loss_db"), "40 dB");
    window.key_press_modifiers(Modifiers::COMMAND, Key::Y);
    window.run_steps(2);
    window.click("Redo");
    assert_eq!(text(&window, "pad.loss_db"), "46 dB");
    assert_eq!(text(&window, "preamp.gain_db"), "58 dB");
    // Facts of the studio are no choices.
    let stage = Stage::default();
    let mut window = unfolded(&stage);
    window.enter("Rig Send full scale", "20");
    assert!(window.state().undoable().is_none());
}

/// A host that moves a parameter moves what the window shows.
#[test]
fn automation_is_seen() {
    let stage = Stage::default();
    let mut window = stage.open([900.0, 620.0], 1.0, None);
    let i = index(&window, "pad.loss_db");
    stage.host.automate(i, 0.5);
    window.run_steps(2);
    let wanted = window.state().text(i, 0.5);
    assert_eq!(window.value("Pad Loss"), wanted);
}
