//! The bundles load, say who they are, and go again without a trace.

use std::process::Command;
use std::thread;

use penstock::params::{RowKind, rows};
use penstock_tests::host::vst3::Module;
use penstock_tests::host::{Bundle, blocks_of, number_of};
use penstock_tests::run::finish;
use penstock_tests::tools::{missing, settings_dir};
use penstock_tests::{TempDir, Wave, bundle};

const VERSION: &str = env!("CARGO_PKG_VERSION");

#[test]
fn clap_says_who_it_is() {
    let plugins = Bundle::load().plugins();
    assert_eq!(plugins.len(), 1);
    let about = &plugins[0];
    // Ids are in every saved project; they never change.
    assert_eq!(about.id, "org.penstock.penstock");
    assert_eq!(
        (about.name.as_str(), about.vendor.as_str()),
        ("Penstock", "Penstock")
    );
    assert_eq!(about.version, VERSION);
    assert!(!about.description.is_empty());
    for feature in ["audio-effect", "mono", "stereo"] {
        assert!(
            about.features.iter().any(|word| word == feature),
            "{feature}"
        );
    }
}

#[test]
fn clap_has_a_stereo_and_a_mono_layout() {
    let bundle = Bundle::load();
    let mut plugin = bundle.instance();
    let layouts = [("Stereo".to_owned(), 2), ("Mono".to_owned(), 1)];
    assert_eq!(plugin.layouts(), layouts);
    for channels in [2u32, 1, 2] {
        plugin.choose_channels(channels as usize);
        assert_eq!(plugin.ports(true), [channels]);
        assert_eq!(plugin.ports(false), [channels]);
    }
}

#[test]
fn vst3_says_who_it_is() {
    let module = Module::load();
    assert_eq!(module.vendor(), "Penstock");
    let classes = module.classes();
    assert_eq!(classes.len(), 1);
    let class = &classes[0];
    // The class id is in every saved project; it never changes.
    assert_eq!(&class.id, b"PenstockPadPreAm");
    assert_eq!(class.category, "Audio Module Class");
    assert_eq!(class.subcategories, "Fx|Distortion|Tools");
    assert_eq!(
        (class.name.as_str(), class.vendor.as_str()),
        ("Penstock", "Penstock")
    );
    assert_eq!(class.version, VERSION);
}

#[test]
fn vst3_takes_stereo_and_mono_and_is_late_as_clap_is() {
    let module = Module::load();
    let component = module.component(&module.classes()[0]);
    assert_eq!(component.channels(), [2, 2]);
    for channels in [1, 2, 1] {
        assert!(component.takes(channels, channels));
        assert_eq!(component.channels(), [channels as i32; 2]);
    }
    for (inputs, outputs) in [(2, 1), (3, 3), (6, 6)] {
        assert!(!component.takes(inputs, outputs), "{inputs} to {outputs}");
    }
    let bundle = Bundle::load();
    let mut clap = bundle.instance();
    for rate in [44_100.0, 48_000.0, 96_000.0, 192_000.0] {
        let latency = component.latency_at(rate);
        assert!(latency > 0, "{rate}");
        let running = clap.activate(rate, 512, 2);
        assert_eq!(latency as usize, clap.latency(), "{rate}");
        clap.deactivate(running);
    }
    // Five more side by side with the first, in another order of going.
    let others: Vec<_> = (0..5)
        .map(|_| module.component(&module.classes()[0]))
        .collect();
    drop(component);
    drop(others);
}

#[test]
fn vst3_describes_every_parameter() {
    let module = Module::load();
    let component = module.component(&module.classes()[0]);
    let params = component.params();
    assert!(params.len() >= rows().len());
    for row in rows() {
        let id = number_of(row.id);
        let found: Vec<_> = params.iter().filter(|param| param.id == id).collect();
        assert_eq!(found.len(), 1, "{} in VST3", row.id);
        assert_eq!(found[0].title, row.name);
        let text = &found[0].default_text;
        let is_none = matches!(row.kind, RowKind::Number { none: Some(none), .. } if text == none);
        assert!(is_none || text.contains(row.unit), "{text}");
        assert!(!found[0].units.starts_with(' '), "{:?}", found[0].units);
        // Vst::ParameterInfo::kCanAutomate and kIsBypass of VST3's `ivsteditcontroller.h`.
        assert_eq!(found[0].flags & 1, 1, "{} can be automated", row.id);
        assert_eq!(
            found[0].flags & (1 << 16) != 0,
            row.id == "bypass",
            "{}",
            row.id
        );
    }
}

/// Ardour's own scanner (Debian package `ardour`), which decides whether Ardour shows a plugin.
#[test]
fn ardour_lists_the_vst3() {
    let folders = std::fs::read_dir("/usr/lib").expect("a Debian system");
    let mut folders: Vec<_> = folders.flatten().map(|entry| entry.path()).collect();
    folders.retain(|path| path.join("ardour-vst3-scanner").is_file());
    let what = "Ardour's VST3 scanner (Debian package ardour)";
    let folder = folders
        .first()
        .unwrap_or_else(|| panic!("{}", missing(what)));
    let home = TempDir::new();
    let mut scan = Command::new(folder.join("ardour-vst3-scanner"));
    scan.env("PENSTOCK_CONFIG_FOLDER", settings_dir());
    scan.args(["-v", "-f"])
        .arg(bundle("Penstock.vst3"))
        .env("LD_LIBRARY_PATH", folder)
        .env("HOME", home.path())
        .env("XDG_CACHE_HOME", home.path())
        .env("XDG_CONFIG_HOME", home.path());
    let outcome = finish(scan);
    let said = format!("{}{}", outcome.stdout, outcome.stderr);
    assert_eq!(outcome.status, 0, "{said}");
    assert!(said.contains("Found Plugin: Penstock"), "{said}");
    assert!(said.contains(r#"n_inputs="2" n_outputs="2""#), "{said}");
    for word in ["[Error]", "[ERROR]", "[Warning]", "[WARNING]"] {
        assert!(!said.contains(word), "{said}");
    }
}

#[test]
fn sixty_four_instances_at_once_do_not_know_of_each_other() {
    let bundle = Bundle::load();
    let mut plugins: Vec<_> = (0..64).map(|_| bundle.instance()).collect();
    let audio = Wave::music(48_000, 0.5, 0.1, 1).planar();
    // Every other one drives the circuit harder.
    for plugin in plugins.iter_mut().skip(1).step_by(2) {
        plugin.set_texts(&[("preamp.gain_db", "64 dB".to_owned())]);
    }
    let running: Vec<_> = plugins
        .iter_mut()
        .map(|p| p.activate(48_000.0, 256, 2))
        .collect();
    let mut threads: [Vec<_>; 4] = Default::default();
    for (index, running) in running.into_iter().enumerate() {
        threads[index / 16].push((index, running));
    }
    let results: Vec<_> = thread::scope(|scope| {
        let work = |mut some: Vec<_>| {
            let audio = &audio;
            scope.spawn(move || {
                let mut outputs = vec![Vec::new(); some.len()];
                // Taking turns, as a host's threads do.
                for from in (0..audio[0].len()).step_by(240) {
                    for ((_, running), output) in some.iter_mut().zip(&mut outputs) {
                        let running: &mut penstock_tests::host::Running = running;
                        let piece = audio
                            .iter()
                            .map(|channel| channel[from..from + 240].to_vec());
                        let result = running.run(&piece.collect(), blocks_of(240), &[]);
                        output.extend_from_slice(&result[0]);
                    }
                }
                (some, outputs)
            })
        };
        let threads: Vec<_> = threads.into_iter().map(work).collect();
        threads
            .into_iter()
            .map(|t| t.join().expect("it does not panic"))
            .collect()
    });
    let mut outputs = vec![Vec::new(); 64];
    for (some, results) in results {
        for ((index, running), output) in some.into_iter().zip(results) {
            plugins[index].deactivate(running);
            outputs[index] = output;
        }
    }
    assert_ne!(outputs[0], outputs[1]);
    for (index, output) in outputs.iter().enumerate() {
        assert_eq!(output, &outputs[index % 2], "instance {index}");
    }
}

/// In processes of their own, since a failure ends them; several, since it takes two threads that
/// meet in a certain order.
#[test]
fn a_thread_may_outlive_the_bundle_it_used() {
    for run in 0..8 {
        let mut unload = Command::new(env!("CARGO_BIN_EXE_clap_unload"));
        unload.arg(bundle("Penstock.clap"));
        let outcome = finish(unload);
        let said = outcome.stderr;
        assert_eq!(
            outcome.status, 0,
            "run {run} ended (-1 is a signal): {said}"
        );
    }
}
