//! A user at a CLAP's window while audio runs: `clap_hands BUNDLE ROUNDS`. In each round the window is
//! opened, a value is typed, a switch clicked, the window resized and closed. Exits with 0 when each
//! round did what it should and neither files nor threads have grown. A process of its own, so that the
//! count is its own; `PENSTOCK_WINDOW_MAP` names the file through which the window says where its
//! controls are.

use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use penstock_tests::Wave;
use penstock_tests::host::{Bundle, Hands, MAP, Picture, Plugin, display, while_playing};

const RATE_HZ: f64 = 48_000.0;
const BLOCK: usize = 480;

fn entries(folder: &str) -> usize {
    fs::read_dir(folder).expect("Linux's process files").count()
}

/// Files and threads this process has open.
fn usage() -> (usize, usize) {
    (entries("/proc/self/fd"), entries("/proc/self/task"))
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [bundle, rounds] = words.as_slice() else {
        panic!("wanted: BUNDLE ROUNDS");
    };
    let rounds: usize = rounds.parse().expect("a number of rounds");
    let map = PathBuf::from(std::env::var_os(MAP).expect("a file for the map"));
    let _display = display();
    let mut plugin = Bundle::load_from(&PathBuf::from(bundle)).instance();
    let mut running = plugin.activate(RATE_HZ, BLOCK as u32, 2);
    let piece = Wave::music(48_000, 0.5, 0.5, 1).planar();
    let mut first = None;
    while_playing(&mut running, &piece, |played| {
        for round in 0..rounds {
            // Said where it stands, should it fail.
            eprintln!("round {round}");
            let before = played.frames();
            let _ = fs::remove_file(&map);
            in_round(&mut plugin, &map, round);
            assert!(played.frames() > before, "no audio ran in round {round}");
            // The first rounds load libraries and start the framework's own worker.
            if round == 2 {
                first = Some(usage());
            }
        }
    });
    plugin.deactivate(running);
    // A helper of the graphics library may still be on its way out.
    plugin.idle(Duration::from_millis(500));
    let (files, threads) = first.expect("a third round");
    let (files_now, threads_now) = usage();
    println!(
        "after 3 rounds {files} files, {threads} threads; after {rounds} {files_now}, {threads_now}"
    );
    assert!(files_now <= files + 8, "{files} files became {files_now}");
    assert!(
        threads_now <= threads + 4,
        "{threads} threads became {threads_now}"
    );
}

fn in_round(plugin: &mut Plugin, map: &std::path::Path, round: usize) {
    let mut hands = Hands::new(map);
    let mut window = plugin.open_window(None);
    let loss = format!("{} dB", 30 + round % 20);
    hands.click("Pad Loss");
    hands.enter(&loss);
    hands.see("Pad Loss", &loss);
    plugin.text_becomes("pad.loss_db", &loss);
    hands.click("Penstock Bypass");
    plugin.text_becomes("bypass", if round.is_multiple_of(2) { "on" } else { "off" });
    let (width, height) = window.size;
    let larger = (width + 80, height + 40);
    let size = plugin.resize_window(&mut window, larger.0, larger.1);
    assert_eq!(size, larger, "round {round}");
    let picture = plugin.picture_when(&window, |picture| {
        picture.is_drawn() && picture.width == size.0 as usize
    });
    assert_eq!(picture.height, size.1 as usize, "round {round}");
    let back = plugin.resize_window(&mut window, width, height);
    assert_eq!(back, (width, height), "round {round}");
    let _ = plugin.picture_when(&window, Picture::is_drawn);
    plugin.close_window(window);
}
