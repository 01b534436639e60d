//! A user at a CLAP's window who wants one thing done, while music plays: `clap_tasks BUNDLE TASK FOLDER`.
//!
//! Prints JSON: how many `actions` it took, and how many `comparing` it with bypass
//! took then, what is `changed` against before (parameters by id, in the
//! plugin's words), what the window `said` of it. Leaves in the folder what was played (`in.wav`), how it
//! sounds then (`out.wav`), and with bypass (`bypassed.wav`). A process of its own, so that the settings folder is
//! its own (`PENSTOCK_CONFIG_FOLDER`); `PENSTOCK_WINDOW_MAP` names the file through which the window says where its
//! controls are.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use penstock::params::rows;
use penstock_tests::Wave;
use penstock_tests::host::{
    Audio, Bundle, Hands, MAP, Plugin, blocks_of, display, number_of, while_playing,
};
use serde_json::json;

const RATE_HZ: u32 = 48_000;
const BLOCK: usize = 480;
/// A passage, played again and again.
const PASSAGE_SECONDS: f64 = 3.0;
/// Its peak, full scale = 1.0.
const PEAK: f64 = 0.5;
/// Note of the window on the loudest passage, and where it shall stand.
const LOUDEST: &str = "Loudest passage:";
const THERE: &str = "at 1 % THD";

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [bundle, task, folder] = words.as_slice() else {
        panic!("wanted: BUNDLE TASK FOLDER");
    };
    let map = PathBuf::from(std::env::var_os(MAP).expect("a file for the map"));
    let _display = display();
    let mut plugin = Bundle::load_from(&PathBuf::from(bundle)).instance();
    if task == "loudness" {
        // The pad has just been chosen, so the return is quieter than the bus.
        plugin.set_texts(&[("pad.loss_db", "46".to_owned())]);
    }
    let before = texts(&mut plugin);
    let passage = Wave::music(RATE_HZ, PEAK, PASSAGE_SECONDS, 1);
    let mut hands = Hands::new(&map);
    let mut running = plugin.activate(f64::from(RATE_HZ), BLOCK as u32, 2);
    let said = while_playing(&mut running, &passage.planar(), |_| {
        let window = plugin.open_window(None);
        let said = carry_out(task, &mut hands);
        let actions = hands.actions;
        // Whatever was set can be compared with bypass.
        for wanted in ["on", "off"] {
            hands.click("Penstock Bypass");
            plugin.text_becomes("bypass", wanted);
        }
        plugin.close_window(window);
        (actions, hands.actions - actions, said)
    });
    let (actions, comparing, said) = said;
    plugin.deactivate(running);
    let now = texts(&mut plugin);
    leave(&mut plugin, &passage, Path::new(folder));
    let changed: BTreeMap<_, _> = now
        .iter()
        .filter(|(id, text)| before.get(*id) != Some(*text))
        .collect();
    println!(
        "{}",
        json!({ "actions": actions, "comparing": comparing, "changed": changed, "said": said })
    );
}

fn texts(plugin: &mut Plugin) -> BTreeMap<&'static str, String> {
    let ids = rows().iter().map(|row| row.id);
    ids.map(|id| (id, plugin.text(number_of(id)))).collect()
}

/// Does it, and gives what the window says then.
fn carry_out(task: &str, hands: &mut Hands) -> String {
    match task {
        "first-rig" => {
            hands.click("+20 dBu");
            hands.click("Remember this rig");
            hands.find("Pad Loss").value
        }
        "rig" => {
            hands.click("Rig");
            for field in ["Rig Send full scale", "Rig Return full scale"] {
                hands.click(field);
                hands.enter("20");
                hands.see(field, "+20 dBu");
            }
            String::new()
        }
        "pad" => {
            hands.click("Pad Loss");
            hands.enter("46");
            hands.see("Pad Loss", "46 dB");
            hands.click("Pad Resistors E24");
            hands.settled("2 x")
        }
        "distortion" => {
            hands.click_first("Notes");
            let mut note = hands.read(LOUDEST, |_| true);
            while !note.contains(THERE) {
                hands.click_move(LOUDEST);
                note = hands.read(LOUDEST, |now| now != note);
            }
            note
        }
        "loudness" => {
            hands.click("Compare");
            hands.click("Measure loudness");
            listen();
            hands.click_move("Loudness over");
            hands.read("Loudness over", |text| text.contains("alike"))
        }
        other => panic!("no task '{other}'"),
    }
}

/// As long as the passage lasts, twice.
fn listen() {
    thread::sleep(Duration::from_secs_f64(2.0 * PASSAGE_SECONDS));
}

/// Writes what was played, how it sounds now, and with bypass; without the latency.
fn leave(plugin: &mut Plugin, passage: &Wave, folder: &Path) {
    passage.write(&folder.join("in.wav"));
    let bypass = number_of("bypass");
    for (name, on) in [("out.wav", 0.0), ("bypassed.wav", 1.0)] {
        plugin.set(bypass, on);
        let got = through(plugin, passage);
        Wave::from_planar(RATE_HZ, &got).write(&folder.join(name));
    }
    plugin.set(bypass, 0.0);
    // 1 kHz at the passage's peak, and half a dB around it, before any converter clips.
    plugin.set(number_of("rig.converters_clip"), 0.0);
    for (name, db) in [("under", -0.5), ("at", 0.0), ("over", 0.5)] {
        let peak = passage.peak() * 10f64.powf(db / 20.0);
        let tone = Wave::sine(RATE_HZ, 1_000.0, peak, 1.0);
        let got = through(plugin, &Wave::stereo(&tone, &tone));
        let file = folder.join(format!("tone-{name}.wav"));
        Wave::from_planar(RATE_HZ, &got).write(&file);
    }
}

fn through(plugin: &mut Plugin, wave: &Wave) -> Audio {
    let latency = plugin.latency();
    let mut input = wave.planar();
    for channel in &mut input {
        channel.extend(vec![0.0; latency]);
    }
    let mut running = plugin.activate(f64::from(RATE_HZ), BLOCK as u32, 2);
    let mut got = running.run(&input, blocks_of(BLOCK), &[]);
    plugin.deactivate(running);
    for channel in &mut got {
        channel.drain(..latency);
    }
    got
}
