//! The window inside a host's, on an X display.

use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use penstock_tests::host::{Bundle, MAP, Picture, Session, blocks_of, display, number_of};
use penstock_tests::run::finish;
use penstock_tests::{TempDir, Wave, bundle, long};

/// Opened, typed into, clicked, resized and closed again and again while audio runs; in a process of its
/// own, which counts its own files and threads.
#[test]
fn it_is_used_and_closed_ten_times() {
    let dir = TempDir::new();
    let mut hands = Command::new(env!("CARGO_BIN_EXE_clap_hands"));
    hands
        .arg(bundle("Penstock.clap"))
        .arg(if long() { "200" } else { "10" })
        .env(MAP, dir.file("map.json"))
        .env("XDG_CONFIG_HOME", dir.path())
        .env("HOME", dir.path());
    let outcome = finish(hands);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    println!("{}", outcome.stdout);
}

#[test]
fn it_takes_other_sizes() {
    let _display = display();
    let mut plugin = Bundle::load().instance();
    let mut window = plugin.open_window(None);
    let (width, height) = window.size;
    let _ = plugin.picture_when(&window, Picture::is_drawn);
    for (wider, higher) in [(300, 200), (0, 100), (150, 0), (0, 0)] {
        let wanted = (width + wider, height + higher);
        let size = plugin.resize_window(&mut window, wanted.0, wanted.1);
        assert_eq!(size, wanted);
        let picture = plugin.picture_when(&window, |picture| {
            picture.is_drawn()
                && (picture.width, picture.height) == (size.0 as usize, size.1 as usize)
        });
        // The new part is drawn too: its last column and row are not the host's black.
        let last = picture.pixels[picture.pixels.len() - 1];
        assert_ne!(last, [0, 0, 0], "the corner is black at {size:?}");
    }
    // Absurd sizes end at something that can be shown.
    for wanted in [(1, 1), (10, 2000), (20_000, 20_000)] {
        let size = plugin.resize_window(&mut window, wanted.0, wanted.1);
        assert!(size.0 >= 100 && size.1 >= 100, "{wanted:?} became {size:?}");
    }
    plugin.close_window(window);
}

#[test]
fn it_grows_with_the_screens_scale() {
    let _display = display();
    let mut plugin = Bundle::load().instance();
    let window = plugin.open_window(Some(1.0));
    let (width, height) = window.size;
    plugin.close_window(window);
    let mut plugin = Bundle::load().instance();
    let window = plugin.open_window(Some(2.0));
    assert_eq!(window.size, (2 * width, 2 * height));
    let picture = plugin.picture_when(&window, Picture::is_drawn);
    assert!(picture.width > width as usize, "{}", picture.width);
    plugin.close_window(window);
}

/// A busy host makes the window and shows it when it comes to it: meanwhile the window's timer has asked for a
/// picture more than once.
#[test]
fn it_is_drawn_however_late_it_is_shown() {
    let _display = display();
    for milliseconds in [0, 20, 40, 100, 400] {
        let mut plugin = Bundle::load().instance();
        let window = plugin.open_window_late(None, Duration::from_millis(milliseconds));
        let _ = plugin.picture_when(&window, Picture::is_drawn);
        plugin.close_window(window);
    }
}

#[test]
fn it_opens_and_closes_while_audio_runs() {
    let _display = display();
    let mut session = Session::new(48_000.0, 256, 2, &[]);
    let stop = AtomicBool::new(false);
    let music = Wave::music(48_000, 0.5, 0.5, 1).planar();
    let plugin = &mut session.plugin;
    let running = &mut session.running;
    let blocks = thread::scope(|scope| {
        let audio = scope.spawn(|| {
            let mut runs = 0;
            while !stop.load(Ordering::SeqCst) {
                let got = running.run(&music, blocks_of(256), &[]);
                assert!(got.iter().flatten().all(|x| x.is_finite()));
                runs += 1;
            }
            runs
        });
        for _ in 0..5 {
            let window = plugin.open_window(None);
            let _ = plugin.picture_when(&window, Picture::is_drawn);
            plugin.close_window(window);
        }
        stop.store(true, Ordering::SeqCst);
        audio.join().expect("the audio thread lives")
    });
    assert!(blocks > 1, "audio ran meanwhile");
    session.end();
}

/// The readouts follow the audio: the picture while music runs is not that of silence.
#[test]
fn its_meters_move_with_the_audio() {
    let _display = display();
    let mut session = Session::new(48_000.0, 512, 2, &[]);
    let window = session.plugin.open_window(None);
    let silent = session.plugin.still_picture(&window);
    let music = Wave::music(48_000, 0.5, 0.2, 2).planar();
    let mut moved = false;
    for _ in 0..50 {
        let _ = session.run(&music, blocks_of(512));
        session.plugin.idle(Duration::from_millis(20));
        let now = window.picture();
        moved = now.is_some_and(|now| now.is_drawn() && now.differing(&silent) > 50);
        if moved {
            break;
        }
    }
    assert!(
        moved,
        "the window shows the same with music as with silence"
    );
    session.plugin.close_window(window);
    session.end();
}

#[test]
fn two_instances_show_their_own_values() {
    let _display = display();
    let mut one = Bundle::load().instance();
    let mut other = Bundle::load().instance();
    other.set_texts(&[
        ("preamp.gain_db", "64 dB".to_owned()),
        ("pad.loss_db", "60".to_owned()),
    ]);
    let first = one.open_window(None);
    let second = other.open_window(None);
    let picture = one.still_picture(&first);
    let others = other.still_picture(&second);
    assert!(
        picture.differing(&others) > 50,
        "both windows show the same"
    );
    // One goes, the other stays.
    one.close_window(first);
    drop(one);
    let after = other.still_picture(&second);
    assert_eq!((after.width, after.height), (others.width, others.height));
    other.close_window(second);
}

/// A host's automation is seen in an open window, and a state loaded under it too.
#[test]
fn it_follows_what_the_host_sets() {
    let _display = display();
    let mut plugin = Bundle::load().instance();
    let state = plugin.save();
    let window = plugin.open_window(None);
    let before = plugin.still_picture(&window);
    let value = plugin.value_of("preamp.gain_db", "64");
    plugin.set(number_of("preamp.gain_db"), value);
    let set = plugin.picture_when(&window, |now| now.differing(&before) > 20);
    assert!(plugin.load(&state));
    // Ceilings are worked out beside the window and come when they come, so no earlier picture will do:
    // that of an instance that was never set otherwise gets them too.
    let mut other = Bundle::load().instance();
    let fresh = other.open_window(None);
    let end = Instant::now() + Duration::from_secs(60);
    let mut now = plugin.still_picture(&window);
    while now != other.still_picture(&fresh) {
        assert!(Instant::now() < end, "the state is not what is shown");
        now = plugin.still_picture(&window);
    }
    assert!(now.differing(&set) > 20);
    other.close_window(fresh);
    plugin.close_window(window);
}

/// A click takes the keys from a host whose own window got them while the pointer was over the plugin's. X
/// tells the plugin's window of that as of keys it gets (X Window System Protocol, "FocusIn", detail
/// `NotifyPointer`), though they are gone as soon as the pointer is.
#[test]
fn a_click_takes_the_keys() {
    let _display = display();
    let mut plugin = Bundle::load().instance();
    let window = plugin.open_window(None);
    let _ = plugin.picture_when(&window, Picture::is_drawn);
    for round in 0..3 {
        window.take_keys_under_pointer();
        plugin.idle(Duration::from_millis(300));
        assert!(!window.has_keys(), "round {round}: taken without a click");
        let click = Command::new("xdotool").args(["click", "1"]).status();
        assert!(click.is_ok_and(|status| status.success()), "xdotool");
        let end = Instant::now() + Duration::from_secs(10);
        while !window.has_keys() {
            assert!(
                Instant::now() < end,
                "round {round}: the host keeps the keys"
            );
            plugin.idle(Duration::from_millis(20));
        }
    }
    plugin.close_window(window);
}

/// Light is the plugin's look from the start: what is drawn is never dark first.
#[test]
fn it_opens_in_its_own_colours() {
    let _display = display();
    for round in 0..5 {
        let mut plugin = Bundle::load().instance();
        let window = plugin.open_window(None);
        for _ in 0..60 {
            plugin.idle(Duration::from_millis(5));
            if let Some(picture) = window.picture().filter(Picture::is_drawn) {
                let ground = picture.pixels[0];
                assert!(
                    ground.iter().all(|part| *part > 200),
                    "round {round}: {ground:?}"
                );
            }
        }
        plugin.close_window(window);
    }
}
