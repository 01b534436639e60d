//! A picture of a CLAP's window: `clap_window BUNDLE PICTURE.png light|dark ZOOM_PERCENT [WIDTHxHEIGHT]
//! [UNFOLDED...]`, on the display of `DISPLAY`. Noise at -18 dBFS runs through the plugin meanwhile. UNFOLDED is
//! `notes`, `harmonics`, `compare`, `details`, `rig`. Needs ImageMagick's `convert`.

use std::path::PathBuf;
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use penstock_tests::host::{Audio, Bundle, Picture, Running, blocks_of, display};
use penstock_tests::random::Random;
use serde_json::{Value, json};

const RATE_HZ: f64 = 48_000.0;
/// Ceilings and harmonics are found by then.
const SOUND: Duration = Duration::from_secs(20);

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [bundle, picture, look, zoom, rest @ ..] = words.as_slice() else {
        panic!("wanted: BUNDLE PICTURE.png light|dark ZOOM_PERCENT [WIDTHxHEIGHT] [UNFOLDED...]");
    };
    let zoom: u16 = zoom.parse().expect("a zoom in percent");
    let _display = display();
    let mut plugin = Bundle::load_from(&PathBuf::from(bundle)).instance();
    let state = with_view(&plugin.save(), look == "dark", zoom, rest);
    assert!(plugin.load(&state), "the plugin takes the state");
    let mut running = plugin.activate(RATE_HZ, 480, 2);
    let window = plugin.open_window(None);
    let stop = AtomicBool::new(false);
    let raw = PathBuf::from(picture).with_extension("ppm");
    thread::scope(|scope| {
        scope.spawn(|| play(&mut running, &stop));
        plugin.idle(SOUND);
        plugin.picture_when(&window, Picture::is_drawn).write(&raw);
        stop.store(true, Ordering::SeqCst);
    });
    plugin.close_window(window);
    plugin.deactivate(running);
    let converted = Command::new("convert").arg(&raw).arg(picture).status();
    assert!(
        converted.is_ok_and(|status| status.success()),
        "convert failed"
    );
    std::fs::remove_file(&raw).expect("the raw picture goes");
}

/// A saved state with another look: eight bytes of length, then JSON.
fn with_view(state: &[u8], dark: bool, zoom_percent: u16, rest: &[String]) -> Vec<u8> {
    let mut state: Value = serde_json::from_slice(&state[8..]).expect("a state is JSON");
    let view = state["fields"]["view"]
        .as_str()
        .expect("a field for the look");
    let mut view: Value = serde_json::from_str(view).expect("the look is JSON");
    view["dark"] = json!(dark);
    view["zoom_percent"] = json!(zoom_percent);
    if let [size, unfolded @ ..] = rest {
        let points = size.split('x').map(|text| text.parse::<f32>());
        let points: Result<Vec<f32>, _> = points.collect();
        view["size"] = json!(points.expect("a width and a height in points"));
        for name in unfolded {
            view[format!("{name}_open")] = json!(true);
        }
    }
    state["fields"]["view"] = json!(view.to_string());
    let text = state.to_string().into_bytes();
    [&(text.len() as u64).to_le_bytes()[..], &text].concat()
}

/// White noise of -18 dBFS (RMS; full scale is a sine of 1) in real time, or nearly.
fn play(running: &mut Running, stop: &AtomicBool) {
    let mut random = Random::new(1);
    // Even between -a and a has an RMS of a over the square root of 3.
    let most = 10f64.powf(-18.0 / 20.0) * 1.5f64.sqrt();
    while !stop.load(Ordering::SeqCst) {
        let mut noise = || {
            (0..480)
                .map(|_| random.between(-most, most) as f32)
                .collect()
        };
        let audio: Audio = vec![noise(), noise()];
        let _ = running.run(&audio, blocks_of(480), &[]);
        thread::sleep(Duration::from_millis(8));
    }
}
