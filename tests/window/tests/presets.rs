//! Presets on the plugin's own desk, found by their words: searched, looked at, applied, undone; saved, renamed,
//! exported and imported as files of a folder of this process's own.

use egui::{Event, Key, Modifiers};
use egui_kittest::kittest::{NodeT, Queryable};
use penstock::editor::Desk;
use penstock::presets::FACTORY;
use penstock_dsp::plan::Plan;
use penstock_window_tests::{Stage, Walk, Window, named};

/// The window with the browser open.
fn browser(stage: &Stage) -> Window {
    let mut window = stage.open([900.0, 700.0], 1.0, None);
    window.click("Presets");
    window
}

/// Types into what has the keyboard, in place of what stands there.
fn write(window: &mut Window, text: &str) {
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.run_steps(1);
    window.event(Event::Text(text.to_owned()));
    window.run_steps(2);
}

fn says(window: &Window, part: &str) {
    let found = window.query_all_by(|node| node.value().unwrap_or_default().contains(part));
    assert!(found.count() > 0, "nothing says {part}");
}

/// Whether the list has this preset.
fn lists(window: &Window, name: &str) -> bool {
    named(window, &format!("Preset {name}")).len() == 1
}

fn find(window: &mut Window, words: &str) {
    window.click("Search presets");
    write(window, words);
}

fn choose(window: &mut Window, name: &str) {
    window.click(&format!("Preset {name}"));
}

#[test]
fn a_preset_is_searched_looked_at_applied_and_undone() {
    let stage = Stage::with(&[("rig.send.full_scale_dbu", "18"), ("send.trim_db", "-6")]);
    let before = stage.params.plan().0;
    let mut window = browser(&stage);
    for preset in FACTORY {
        assert!(lists(&window, preset.name()), "{}", preset.name());
    }
    find(&mut window, "strong bus");
    assert!(!lists(&window, "Bus, light"));
    choose(&mut window, "Bus, strong");
    says(&window, "Pad Loss 40 dB to 25 dB");
    assert_eq!(stage.params.plan().0, before, "looking changes nothing");
    window.click("Apply");
    let wanted = FACTORY.iter().find(|preset| preset.name() == "Bus, strong");
    let wanted = wanted.expect("it is there").plan();
    assert_eq!(stage.params.plan().0, before.with_choices_of(&wanted));
    window.click("Undo");
    assert_eq!(stage.params.plan().0, before);
    window.click("Redo");
    assert_eq!(stage.params.plan().0, before.with_choices_of(&wanted));
}

/// With a unit of the user's own the nearest of its steps holds, and the unit stays.
#[test]
fn a_preset_meets_an_own_preamplifier() {
    let stage = Stage::with(&[
        ("rig.preamp.kind", "own unit"),
        ("rig.preamp.gain_step_1_db", "20"),
        ("rig.preamp.gain_step_2_db", "35"),
        ("rig.preamp.gain_step_3_db", "50"),
    ]);
    let unit = stage.params.plan().0.rig;
    let mut window = browser(&stage);
    find(&mut window, "mono strong");
    choose(&mut window, "Mono transfer, strong");
    says(&window, "Preamp Own gain 35 dB to 50 dB");
    find(&mut window, "bus light");
    choose(&mut window, "Bus, light");
    window.click("Apply");
    let now = stage.params.plan().0;
    let factory = FACTORY.iter().find(|preset| preset.name() == "Bus, light");
    let asked = factory.expect("a preset").plan().preamp.gain.0;
    let nearest = if (asked - 35.0).abs() < (asked - 50.0).abs() {
        35.0
    } else {
        50.0
    };
    assert_eq!(
        (now.rig, now.preamp.gain.0),
        (unit, nearest),
        "asked {asked}"
    );
}

#[test]
fn ones_own_are_kept_as_plan_files() {
    let stage = Stage::with(&[("pad.loss_db", "33.5"), ("preamp.gain_db", "52")]);
    let mut window = browser(&stage);
    window.click("Save");
    write(&mut window, "Choir of this test");
    window.press(Key::Enter);
    says(&window, "is in your presets");
    let folder = window
        .state_mut()
        .library()
        .and_then(|library| library.folder());
    let folder = folder.expect("a folder").to_owned();
    let read = |path: &std::path::Path| {
        let text = std::fs::read_to_string(path).expect("a plan file");
        Plan::from_toml(&text).expect("a plan")
    };
    let saved = read(&folder.join("Choir of this test.toml"));
    assert_eq!((saved.pad.loss.0, saved.preamp.gain.0), (33.5, 52.0));
    window.click("Rename");
    write(&mut window, "Choir, renamed");
    window.press(Key::Enter);
    assert!(lists(&window, "Choir, renamed"));
    assert!(!lists(&window, "Choir of this test"));
    // Out with the rig, and in again without it.
    let out = folder.join("whole plan.toml");
    window.click("Export");
    write(&mut window, out.to_str().expect("a plain path"));
    window.press(Key::Enter);
    assert_eq!(read(&out), stage.params.plan().0);
    std::fs::rename(
        &out,
        folder.parent().expect("settings").join("Brought in.toml"),
    )
    .expect("it was written");
    window.click("Import");
    let from = folder.parent().expect("settings").join("Brought in.toml");
    write(&mut window, from.to_str().expect("a plain path"));
    window.press(Key::Enter);
    choose(&mut window, "Brought in");
    says(&window, "All choices stand like this now.");
    window.click("Delete");
    says(&window, "for good?");
    // The one that asked cannot be pressed again; the one beside the question can.
    let sure = window.query_all_by_label("Delete");
    let sure: Vec<_> = sure
        .filter(|node| !node.accesskit_node().is_disabled())
        .collect();
    assert_eq!(sure.len(), 1);
    sure[0].click();
    window.run_steps(15);
    assert!(!lists(&window, "Brought in"));
}
