//! Everything found by its words, reached by keys, typed, undone.

use std::collections::BTreeSet;

use egui::accesskit::Action;
use egui::{Key, Modifiers};
use egui_kittest::kittest::{NodeT, Queryable};
use penstock::editor::{Control, Desk, Kind};
use penstock_window_tests::{Stage, Walk, Window, named};

/// High enough for everything unfolded.
const TALL: [f32; 2] = [1000.0, 1500.0];

/// An instance with our circuit, and one with a unit of the user's own, whose gain has steps.
fn stages() -> [Stage; 2] {
    [
        Stage::default(),
        Stage::with(&[
            ("rig.preamp.kind", "own unit"),
            ("rig.preamp.gain_step_1_db", "20"),
            ("rig.preamp.gain_step_2_db", "35"),
            ("rig.preamp.gain_step_3_db", "50"),
            ("rig.preamp.attenuator_step_1_db", "0"),
            ("rig.preamp.attenuator_step_2_db", "15"),
        ]),
    ]
}

/// What has a place on the window as the others stand.
fn placed(window: &Window) -> Vec<usize> {
    let desk = window.state();
    let all = desk.controls().iter().enumerate();
    all.filter(|(i, control)| control.kind != Kind::Listed && !desk.is_absent(*i))
        .map(|(i, _)| i)
        .collect()
}

/// The texts that control `i` can be put to, where they are few.
fn texts(desk: &impl Desk, i: usize) -> Option<Vec<String>> {
    match &desk.controls()[i].kind {
        Kind::Steps(texts) => Some(texts.clone()),
        _ => desk.stops(i).map(|stops| stops.texts),
    }
}

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
    let mut seen = BTreeSet::new();
    for stage in stages() {
        let window = unfolded(&stage);
        let (desk, places) = (window.state(), placed(&window));
        assert_eq!(desk.controls().len(), stage.params.all.len());
        for (i, control) in desk.controls().iter().enumerate() {
            // The first of its list stands for it.
            if control.kind == Kind::Listed {
                seen.insert(i);
                continue;
            }
            let name = name(control);
            let first = texts(desk, i).map(|texts| format!("{name} {}", texts[0]));
            let first = first.map_or(0, |first| named(&window, &first).len());
            let found = named(&window, &name).len() + first;
            assert_eq!(found, usize::from(places.contains(&i)), "{name}");
            seen.extend((found == 1).then_some(i));
        }
    }
    // With one preamplifier or the other.
    assert_eq!(seen.len(), Stage::default().params.all.len());
}

/// Whoever has no mouse: the Tab key comes by everything that can be operated, and back to the first.
#[test]
fn the_tab_key_reaches_everything() {
    for stage in stages() {
        let mut window = unfolded(&stage);
        // So that everything can be operated that ever can: something to undo, to redo and to remember.
        window.enter("Rig Send source", "75");
        window.enter("Pad Loss", "46");
        window.enter("Return Trim", "-3");
        window.click("Undo");
        let operable: BTreeSet<String> = window
            .query_all_by(|node| node.data().supports_action(Action::Focus) && !node.is_disabled())
            .filter_map(|node| node.accesskit_node().label())
            .collect();
        for button in [
            "Undo",
            "Redo",
            "Remember this rig",
            "Use the remembered",
            "Presets",
        ] {
            assert!(operable.contains(button), "{button} is not in {operable:?}");
        }
        let mut reached = BTreeSet::new();
        for _ in 0..2 * operable.len() {
            window.press(Key::Tab);
            reached.extend(window.focused());
        }
        let missed: Vec<&String> = operable.difference(&reached).collect();
        assert!(missed.is_empty(), "{missed:?} of {operable:?}");
        for i in placed(&window) {
            let name = name(&window.state().controls()[i]);
            // Of values side by side the chosen one is the stop.
            assert!(
                reached.iter().any(|label| label.starts_with(&name)),
                "{name} is not among {reached:?}"
            );
        }
        println!("{} stops: {reached:?}", reached.len());
    }
}

#[test]
fn what_is_typed_is_what_stands_there() {
    for stage in stages() {
        let mut window = unfolded(&stage);
        let desk = window.state();
        let ranges: Vec<(usize, String)> = placed(&window)
            .into_iter()
            .filter(|i| matches!(desk.controls()[*i].kind, Kind::Continuous { .. }))
            .filter(|i| texts(desk, *i).is_none())
            .map(|i| (i, name(&desk.controls()[i])))
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
}

#[test]
fn every_list_and_every_switch_takes_keys() {
    // The kind of preamplifier is one of them, so which have a place changes on the way.
    for stage in stages() {
        let mut window = unfolded(&stage);
        for i in placed(&window) {
            let control = window.state().controls()[i].clone();
            let few = texts(window.state(), i);
            if few.is_none() && control.kind != Kind::Toggle {
                continue;
            }
            if control.id == "rig.preamp.kind" {
                continue;
            }
            takes_keys(&mut window, i, few);
        }
    }
    let stage = Stage::default();
    let mut window = unfolded(&stage);
    let i = index(&window, "rig.preamp.kind");
    let few = texts(window.state(), i);
    takes_keys(&mut window, i, few);
}

fn takes_keys(window: &mut Window, i: usize, few: Option<Vec<String>>) {
    let name = name(&window.state().controls()[i]);
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
    let text = |window: &Window| {
        let desk = window.state();
        desk.text(i, desk.normalized(i))
    };
    if let Some(few) = few {
        window.press(Key::End);
        assert_eq!(Some(&text(window)), few.last(), "{name}");
        window.press(Key::Home);
        assert_eq!(Some(&text(window)), few.first(), "{name}");
    } else {
        window.press(Key::Space);
        assert_eq!(window.state().normalized(i), 1.0 - before, "{name}");
    }
    window.press(Key::Delete);
}

/// A cold user enters a unit of their own: whose it is, a sheet, a gain that it has.
#[test]
fn an_own_preamplifier_is_entered_by_its_data_sheet() {
    let stage = Stage::default();
    let mut window = unfolded(&stage);
    assert!(named(&window, "Rig Preamp gain steps").is_empty());
    window.click("Rig Preamp own unit");
    window.enter("Rig Preamp input", "2k4");
    window.enter("Rig Preamp largest output", "21");
    assert_eq!(window.value("Rig Preamp gain steps"), "none stated");
    window.enter("Preamp Own gain", "41.5");
    window.enter("Rig Preamp gain steps", "20 to 65 by 5");
    assert_eq!(window.value("Rig Preamp gain steps"), "20 to 65 by 5 dB");
    window.enter("Rig Preamp attenuator steps", "0, 15");
    let rig = stage.params.plan().0.rig;
    assert_eq!(rig.unit.gains.list().len(), 10);
    assert_eq!(rig.unit.attenuators.list(), [0.0, 15.0]);
    assert_eq!(rig.unit.most_out.map(|most| most.0), Some(21.0));
    // The nearest of its steps holds, and only steps can be chosen.
    assert_eq!(stage.params.plan().0.preamp.gain.0, 40.0);
    window.click("Preamp Own attenuator 15 dB");
    assert_eq!(stage.params.plan().0.preamp.attenuator.0, 15.0);
    // What cannot be read changes nothing, and says what is taken.
    window.enter("Rig Preamp gain steps", "20, far");
    let said = window.query_all_by(|node| {
        let value = node.value().unwrap_or_default();
        value.contains("no number here") && value.contains("up to 16")
    });
    assert_eq!(said.count(), 1);
    window.press(Key::Escape);
    assert_eq!(stage.params.plan().0.rig, rig);
    window.click("Rig Preamp our circuit");
    assert_eq!(stage.params.plan().0.preamp.gain.0, 40.0);
    assert!(named(&window, "Rig Preamp gain steps").is_empty());
    assert_eq!(named(&window, "Preamp Gain 40 dB").len(), 1);
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
