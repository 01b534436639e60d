//! The whole path, from the bus to its return.

use super::ruler::{Rows, least};
use super::sound::{RATE_HZ, prepared, tones};
use penstock_dsp::chain::{Chain, Observer};
use penstock_dsp::meter::{MeterKind, MetersAlong};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use std::hint::black_box;

/// Frames in one measurement.
pub const FRAMES: usize = 24_000;
/// Frames of each instance, of many.
const SHORT: usize = 4_096;

/// Sends a sound through a chain as it is after a reset.
pub fn play(chain: &mut Chain, audio: &[Vec<f64>], room: &mut [Vec<f64>], block: usize) {
    play_to(chain, audio, room, block, &mut ());
}

/// The same while somebody listens.
fn play_to(
    chain: &mut Chain,
    audio: &[Vec<f64>],
    room: &mut [Vec<f64>],
    block: usize,
    observer: &mut impl Observer,
) {
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
        chain.process(&mut piece, observer);
    }
}

/// A run of that.
fn playing(mut chain: Chain, audio: Vec<Vec<f64>>, block: usize) -> impl FnMut() {
    let mut room = audio.clone();
    move || play(&mut chain, &audio, &mut room, block)
}

/// By oversampling, level and channels.
pub fn settings(rows: &mut Rows<'_>) {
    let mut heading = Some("The path, 20 tones, blocks of 64:");
    for dbu in [4.0, 20.0] {
        for oversampling in Oversampling::ALL {
            for channels in [1, 2] {
                let audio = tones(channels, dbu, FRAMES);
                let run = playing(prepared(channels, oversampling), audio, 64);
                let sound = if channels == 1 { "mono" } else { "stereo" };
                let name = format!("{oversampling:?}, {dbu:+} dBu line, {sound}");
                match heading.take() {
                    Some(heading) => rows.begin(heading, name, FRAMES, run),
                    None => rows.add(name, FRAMES, run),
                }
            }
        }
    }
}

/// By block size.
pub fn blocks(rows: &mut Rows<'_>) {
    let audio = tones(2, 4.0, FRAMES);
    let playing = |block| playing(prepared(2, Oversampling::Eight), audio.clone(), block);
    let heading = "Stereo at 8x by block size:";
    rows.begin(heading, "blocks of 1", FRAMES, playing(1));
    for block in [7, 32, 64, 256, 1024, 4096] {
        rows.add(format!("blocks of {block}"), FRAMES, playing(block));
    }
}

/// With the meters of an open window at each point, read twenty times a second as the window does.
pub fn watched(rows: &mut Rows<'_>) {
    const READ_FRAMES: usize = RATE_HZ as usize / 20;
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    let audio = tones(2, 4.0, READ_FRAMES);
    let oversampling = Oversampling::Eight;
    let heading = "Stereo at 8x with the window's meters at eight points (3 % more allowed):";
    let closed = playing(prepared(2, oversampling), audio.clone(), 64);
    rows.begin(heading, "window closed", READ_FRAMES, closed);
    for kind in MeterKind::ALL {
        let mut meters = MetersAlong::prepare(kind, rate, oversampling.factor(rate), 2);
        let (mut chain, mut room) = (prepared(2, oversampling), audio.clone());
        let audio = audio.clone();
        rows.add(kind.label(), READ_FRAMES, move || {
            play_to(&mut chain, &audio, &mut room, 64, &mut meters);
            black_box([meters.take(0), meters.take(1)]);
        });
    }
}

/// By the number of instances that take turns, block by block.
pub fn instances(rows: &mut Rows<'_>) {
    let audio = tones(2, 4.0, SHORT);
    let taking_turns = |count: usize| {
        let mut chains = vec![prepared(2, Oversampling::Eight); count];
        let audio = audio.clone();
        move || {
            let mut room = [[0.0; 64]; 2];
            for from in (0..SHORT).step_by(64) {
                for chain in &mut chains {
                    for (room, audio) in room.iter_mut().zip(&audio) {
                        room.copy_from_slice(&audio[from..from + 64]);
                    }
                    let [left, right] = &mut room;
                    chain.process(&mut [left, right], &mut ());
                }
            }
        }
    };
    let heading = "Stereo at 8x by the number of instances, blocks of 64, cost of each:";
    rows.begin(heading, "1", SHORT, taking_turns(1));
    for count in [4, 16, 64] {
        rows.add(format!("{count}"), SHORT * count, taking_turns(count));
    }
}

/// Silence: before the circuit has come to rest, and after.
pub fn silence(rows: &mut Rows<'_>) {
    let settling = |seconds: usize| {
        let mut chain = prepared(2, Oversampling::Eight);
        let mut run = move |mut room: Vec<Vec<f64>>| {
            let [left, right] = &mut room[..] else { return };
            chain.process(&mut [left, right], &mut ());
        };
        run(tones(2, 4.0, FRAMES));
        let silent = vec![vec![0.0; FRAMES]; 2];
        for _ in 0..seconds * RATE_HZ as usize / FRAMES {
            run(silent.clone());
        }
        move || run(silent.clone())
    };
    let heading = "Stereo at 8x in silence:";
    rows.begin(heading, "settling", FRAMES, settling(1));
    rows.add("settled", FRAMES, settling(60));
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
