//! A picture of a CLAP's window: `clap_window BUNDLE PICTURE.ppm [--state FILE] [--seconds N]
//! [--scale S] [--size WxH]`, on the display of `DISPLAY`. Noise at -18 dBFS runs through the plugin meanwhile.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use penstock_tests::host::{Audio, Bundle, Picture, Running, blocks_of, display};
use penstock_tests::random::Random;

const RATE_HZ: f64 = 48_000.0;

fn main() {
    let mut words = std::env::args().skip(1);
    let mut path = |what: &str| PathBuf::from(words.next().unwrap_or_else(|| panic!("no {what}")));
    let (bundle, target) = (path("bundle"), path("file for the picture"));
    let options: Vec<String> = words.collect();
    let option = |name: &str| {
        let at = options.iter().position(|word| word == name)?;
        Some(
            options
                .get(at + 1)
                .unwrap_or_else(|| panic!("{name} wants a value")),
        )
    };
    let number = |name: &str| option(name).map(|text| text.parse::<f64>().expect("a number"));
    let _display = display();
    let mut plugin = Bundle::load_from(&bundle).instance();
    if let Some(state) = option("--state") {
        let bytes = fs::read(Path::new(state)).expect("the state can be read");
        assert!(plugin.load(&bytes), "the plugin takes the state");
    }
    let mut running = plugin.activate(RATE_HZ, 480, 2);
    let mut window = plugin.open_window(number("--scale"));
    if let Some((width, height)) = option("--size").and_then(|size| size.split_once('x')) {
        let pixels = |text: &str| text.parse().expect("a number of pixels");
        let _ = plugin.resize_window(&mut window, pixels(width), pixels(height));
    }
    let stop = AtomicBool::new(false);
    thread::scope(|scope| {
        scope.spawn(|| play(&mut running, &stop));
        plugin.idle(Duration::from_secs_f64(number("--seconds").unwrap_or(2.0)));
        plugin
            .picture_when(&window, Picture::is_drawn)
            .write(&target);
        stop.store(true, Ordering::SeqCst);
    });
    plugin.close_window(window);
    plugin.deactivate(running);
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
