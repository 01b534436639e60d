//! The whole path, from the bus to its return.

use super::ruler::{Ruler, least};
use super::sound::{RATE_HZ, prepared, tones};
use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;

/// Frames in one measurement.
pub const FRAMES: usize = 24_000;
/// Runs, of which the least counts.
const RUNS: usize = 5;

/// Nanoseconds a frame.
pub fn cost(chain: &mut Chain, audio: &[Vec<f64>], block: usize) -> f64 {
    let mut room = audio.to_vec();
    let ns = least(RUNS, || {
        for (room, audio) in room.iter_mut().zip(audio) {
            room.copy_from_slice(audio);
        }
        chain.reset();
        let mut rest: Vec<&mut [f64]> = room.iter_mut().map(|room| &mut room[..]).collect();
        while !rest[0].is_empty() {
            let length = block.min(rest[0].len());
            let mut piece: Vec<&mut [f64]> = Vec::with_capacity(rest.len());
            for rest in &mut rest {
                let (now, later) = std::mem::take(rest).split_at_mut(length);
                piece.push(now);
                *rest = later;
            }
            chain.process(&mut piece, &mut ());
        }
    });
    ns / audio[0].len() as f64
}

/// By oversampling, level and channels.
pub fn settings(ruler: &Ruler) {
    println!("The path, 20 tones, blocks of 64:");
    for dbu in [4.0, 20.0] {
        for oversampling in Oversampling::ALL {
            for channels in [1, 2] {
                let ns = cost(
                    &mut prepared(channels, oversampling),
                    &tones(channels, dbu, FRAMES),
                    64,
                );
                let sound = if channels == 1 { "mono" } else { "stereo" };
                ruler.line(&format!("{oversampling:?}, {dbu:+} dBu line, {sound}"), ns);
            }
        }
    }
}

/// By block size.
pub fn blocks(ruler: &Ruler) {
    println!("\nStereo at 8x by block size:");
    let audio = tones(2, 4.0, FRAMES);
    let mut chain = prepared(2, Oversampling::Eight);
    for block in [1, 7, 32, 64, 256, 1024, 4096] {
        ruler.line(
            &format!("blocks of {block}"),
            cost(&mut chain, &audio, block),
        );
    }
}

/// By the number of instances that take turns, block by block.
pub fn instances(ruler: &Ruler) {
    println!("\nStereo at 8x by the number of instances, blocks of 64, cost of each:");
    let audio = tones(2, 4.0, FRAMES);
    let frames = 4_096;
    for count in [1, 4, 16, 64] {
        let mut chains = vec![prepared(2, Oversampling::Eight); count];
        let mut room = [[0.0; 64]; 2];
        let ns = least(3, || {
            for from in (0..frames).step_by(64) {
                for chain in &mut chains {
                    for (room, audio) in room.iter_mut().zip(&audio) {
                        room.copy_from_slice(&audio[from..from + 64]);
                    }
                    let [left, right] = &mut room;
                    chain.process(&mut [left, right], &mut ());
                }
            }
        });
        ruler.line(&format!("{count}"), ns / (frames * count) as f64);
    }
}

/// Silence: before the circuit has come to rest, and after.
pub fn silence(ruler: &Ruler) {
    println!("\nStereo at 8x in silence:");
    let audio = tones(2, 4.0, FRAMES);
    let silent = vec![vec![0.0; FRAMES]; 2];
    for (name, seconds) in [("settling", 1), ("settled", 60)] {
        let mut chain = prepared(2, Oversampling::Eight);
        let mut run = |audio: &[Vec<f64>]| {
            let mut room = audio.to_vec();
            let [left, right] = &mut room[..] else { return };
            chain.process(&mut [left, right], &mut ());
        };
        run(&audio);
        for _ in 0..seconds * RATE_HZ as usize / FRAMES {
            run(&silent);
        }
        ruler.line(name, least(3, || run(&silent)) / FRAMES as f64);
    }
}

/// To begin, and to change.
pub fn starts() {
    println!("\nStereo at 8x:");
    let ms = |ns: f64| ns / 1e6;
    let start = least(5, || drop(prepared(2, Oversampling::Eight)));
    println!("to prepare a chain: {:.2} ms", ms(start));
    let mut chain = prepared(2, Oversampling::Eight);
    let audio = tones(2, 4.0, FRAMES);
    let (mut at, mut most, mut usual) = (0, 0.0_f64, f64::INFINITY);
    for gain in ["34", "46", "64", "28", "52", "40"] {
        let mut plan = Plan::default();
        plan.assign(&format!("preamp.gain_db={gain}"))
            .expect("a gain step");
        chain.set(&plan, Oversampling::Eight);
        // The fade is over after 10 ms.
        for _ in 0..30 {
            let mut room: Vec<Vec<f64>> = audio
                .iter()
                .map(|audio| audio[at..at + 32].to_vec())
                .collect();
            let [left, right] = &mut room[..] else { return };
            let ns = least(1, || chain.process(&mut [left, right], &mut ()));
            (most, usual) = (most.max(ns), usual.min(ns));
            at += 32;
        }
    }
    println!(
        "a block of 32 frames: {:.3} ms; the longest in which the gain changes: {:.3} ms",
        ms(usual),
        ms(most)
    );
}
