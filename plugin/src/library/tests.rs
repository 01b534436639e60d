//! Presets of one's own, in a folder of the test's.

use super::*;
use crate::folder::scratch::Scratch;

fn plan(assignments: &[&str]) -> Plan {
    let mut plan = Plan::default();
    for assignment in assignments {
        plan.assign(assignment).unwrap();
    }
    plan
}

fn own(library: &Library) -> Vec<&str> {
    let own = library.entries().iter().filter(|entry| !entry.factory);
    own.map(|entry| entry.name.as_str()).collect()
}

fn taken<T: std::fmt::Debug>(result: Result<T, Trouble>) -> bool {
    matches!(result, Err(Trouble::Taken(_)))
}

#[test]
fn a_preset_is_saved_renamed_and_deleted_and_never_holds_a_rig() {
    let scratch = Scratch::new();
    let mut library = Library::new(Some(scratch.path()));
    assert_eq!(library.entries().len(), FACTORY.len());
    let mine = plan(&[
        "rig.send.full_scale_dbu=18",
        "pad.loss_db=31",
        "preamp.noise=on",
    ]);
    assert_eq!(
        library
            .save(" Choir, close ", &mine, Replace::Never)
            .unwrap(),
        "Choir, close"
    );
    assert_eq!(own(&library), ["Choir, close"]);
    let kept = library.entries().last().unwrap().plan.clone().unwrap();
    assert_eq!(kept, Plan::default().with_choices_of(&mine));
    let path = scratch.path().join("presets/Choir, close.toml");
    let text = fs::read_to_string(&path).unwrap();
    assert!(
        text.contains("loss_db = 31") && !text.contains("rig"),
        "{text}"
    );
    // The same name again: asked first.
    let other = plan(&["pad.loss_db=20"]);
    assert!(taken(library.save("Choir, close", &other, Replace::Never)));
    assert!(taken(library.save("choir, CLOSE", &other, Replace::Asked)));
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
    library
        .save("Choir, close", &other, Replace::Asked)
        .unwrap();
    library.save("Brass", &mine, Replace::Never).unwrap();
    assert_eq!(own(&library), ["Brass", "Choir, close"]);
    assert!(taken(library.rename("Brass", "Choir, close")));
    library.rename("Brass", "brass").unwrap();
    library.rename("brass", "Wind").unwrap();
    assert_eq!(own(&library), ["Choir, close", "Wind"]);
    library.delete("Wind").unwrap();
    assert!(library.delete("Wind").is_err());
    assert_eq!(own(&library), ["Choir, close"]);
}

#[test]
fn names_that_no_file_can_have_are_refused() {
    let scratch = Scratch::new();
    let mut library = Library::new(Some(scratch.path()));
    let long = "x".repeat(61);
    let bad = [
        "", "  ", "a/b", "../up", "a\\b", "c:d", "what?", ".hidden", "end.", "CON", "com1",
        "lpt9.x", "a\nb", &long,
    ];
    for name in bad {
        let refused = library.save(name, &Plan::default(), Replace::Asked);
        assert!(
            matches!(refused, Err(Trouble::Words(_))),
            "{name:?}: {refused:?}"
        );
    }
    for name in [FACTORY[0].name(), &FACTORY[0].name().to_uppercase()] {
        let refused = library.save(name, &Plan::default(), Replace::Asked);
        assert!(matches!(refused, Err(Trouble::Words(_))), "{name}");
        assert!(
            library
                .save("mine", &Plan::default(), Replace::Asked)
                .is_ok()
        );
        assert!(taken(library.rename("mine", name)), "{name}");
    }
    for name in ["Contrabass", "com", "Größe 2,5", "a.b"] {
        let saved = library.save(name, &Plan::default(), Replace::Never);
        assert_eq!(saved.as_deref(), Ok(name));
    }
    assert_eq!(scratch.names(), ["presets"]);
}

#[test]
fn damaged_files_are_shown_and_left_alone() {
    let scratch = Scratch::new();
    let folder = scratch.path().join("presets");
    fs::create_dir_all(folder.join("folder.toml")).unwrap();
    fs::write(folder.join("broken.toml"), "[pad\n").unwrap();
    fs::write(folder.join("far.toml"), "[pad]\nloss_db = 900\n").unwrap();
    fs::write(folder.join("bytes.toml"), [0xff, 0xfe]).unwrap();
    fs::write(folder.join("notes.txt"), "not ours").unwrap();
    fs::write(folder.join(".half.toml"), "").unwrap();
    let mut library = Library::new(Some(scratch.path()));
    assert_eq!(own(&library), ["broken", "bytes", "far"]);
    for entry in library.entries().iter().filter(|entry| !entry.factory) {
        let words = entry.plan.as_ref().unwrap_err();
        assert!(words.contains(&format!("{}.toml", entry.name)), "{words}");
    }
    assert!(taken(library.save(
        "broken",
        &Plan::default(),
        Replace::Never
    )));
    assert_eq!(
        fs::read_to_string(folder.join("broken.toml")).unwrap(),
        "[pad\n"
    );
}

#[test]
fn plans_go_out_whole_and_come_in_without_their_rig() {
    let scratch = Scratch::new();
    let mut library = Library::new(Some(scratch.path()));
    let mine = plan(&["rig.send.full_scale_dbu=18", "pad.loss_db=31"]);
    let out = scratch.path().join("Session 12");
    let out = out.to_str().unwrap();
    let path = library.export(out, &mine, Replace::Never).unwrap();
    assert_eq!(path, scratch.path().join("Session 12.toml"));
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(Plan::from_toml(&text), Ok(mine));
    assert!(taken(library.export(out, &Plan::default(), Replace::Never)));
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
    let typed = format!(" \"{}\" ", path.display());
    assert_eq!(
        library.import(&typed, Replace::Never).unwrap(),
        "Session 12"
    );
    assert!(taken(library.import(&typed, Replace::Never)));
    let entry = library.entries().last().unwrap();
    let came = entry.plan.clone().unwrap();
    assert_eq!(came, Plan::default().with_choices_of(&mine));
    assert_eq!(came.rig, Plan::default().rig);
    // What is no whole path, no file, no plan.
    let folder = scratch.path().join("nowhere/plan.toml");
    for typed in ["", "plan.toml", "~", "/", folder.to_str().unwrap()] {
        let refused = library.import(typed, Replace::Never);
        assert!(
            matches!(refused, Err(Trouble::Words(_))),
            "{typed}: {refused:?}"
        );
        let refused = library.export(typed, &mine, Replace::Never);
        assert!(
            matches!(refused, Err(Trouble::Words(_))),
            "{typed}: {refused:?}"
        );
    }
    assert_eq!(scratch.names(), ["Session 12.toml", "presets"]);
}

#[test]
fn without_settings_there_are_those_of_the_program() {
    let mut library = Library::new(None);
    assert_eq!(library.entries().len(), FACTORY.len());
    let words = library
        .save("mine", &Plan::default(), Replace::Never)
        .unwrap_err()
        .words();
    assert!(words.contains("HOME"), "{words}");
}

#[test]
fn a_search_takes_words_in_any_order() {
    let entry = &Library::new(None).entries()[0].clone();
    assert!(entry.matches("") && entry.matches("BUS") && entry.matches("harmonic bus"));
    assert!(!entry.matches("bus zither"));
}
