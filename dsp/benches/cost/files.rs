//! A whole file, as the program sends it through the path, on one core and on two.

use super::ruler::least;
use super::sound::{RATE_HZ, prepared, tones};
use penstock_dsp::oversample::Oversampling;
use std::thread;

const SECONDS: usize = 60;
/// As many frames as the program reads at once.
const BLOCK: usize = 8192;
const RUNS: usize = 2;

/// One file of so many channels, from its first frame to its last.
fn render(channels: usize) {
    let mut chain = prepared(channels, Oversampling::default());
    let audio = tones(channels, 4.0, BLOCK);
    let mut room = audio.clone();
    for _ in 0..SECONDS * RATE_HZ as usize / BLOCK {
        for (room, audio) in room.iter_mut().zip(&audio) {
            room.copy_from_slice(audio);
        }
        let mut block: Vec<&mut [f64]> = room.iter_mut().map(Vec::as_mut_slice).collect();
        chain.process(&mut block, &mut ());
    }
}

/// The same on two threads at once.
fn twice(channels: usize) {
    thread::scope(|scope| {
        scope.spawn(|| render(channels));
        render(channels);
    });
}

/// One file, two files at once, and one file with a channel on each core.
pub fn table() {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    println!("\nA file of {SECONDS} s, stereo at the default oversampling ({cores} cores here):");
    let seconds = |ns: f64| ns / 1e9;
    let line = |what: &str, took: f64, more: &str| {
        let times = SECONDS as f64 / took;
        println!("{what:<52} {took:>8.2} s, {times:.1} times as fast as it plays{more}");
    };
    let one = seconds(least(RUNS, || render(2)));
    line("one file on one core", one, "");
    let two = seconds(least(RUNS, || twice(2)));
    let gain = 2.0 * one / two;
    line(
        "two files on two cores, each",
        two,
        &format!(", {gain:.2} of one core's work"),
    );
    let apart = seconds(least(RUNS, || twice(1)));
    let gain = one / apart;
    line(
        "one file, a channel on each of two cores",
        apart,
        &format!(", {gain:.2} of one core's speed"),
    );
}
