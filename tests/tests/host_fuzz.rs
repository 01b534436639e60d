//! Everything moves at once, for a long time; and gains move slowly, unheard.

use penstock::params::rows;
use penstock_tests::clicks::{self, click_db};
use penstock_tests::host::{
    Change, Session, assert_bounded, assert_same, blocks_of, number_of, random_blocks,
    random_value, rms,
};
use penstock_tests::random::Random;
use penstock_tests::{Wave, long};

/// Every few milliseconds one parameter or all of them take random values.
fn storm(random: &mut Random, rate: u32, frames: usize) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut frame = 0;
    while frame < frames {
        let all = random.bits().is_multiple_of(10);
        let only = (random.bits() % rows().len() as u64) as usize;
        for (index, row) in rows().iter().enumerate() {
            if all || index == only {
                let value = random_value(row, random);
                changes.push(Change {
                    frame,
                    id: number_of(row.id),
                    value,
                });
            }
        }
        frame += random.spread(1.0, 0.1 * f64::from(rate)) as usize;
    }
    changes
}

/// Ten seconds of a storm, again and again on the same instance.
fn weather(rate: u32, channels: usize, tens: usize, seed: u64) {
    let mut random = Random::new(seed);
    let mut session = Session::new(f64::from(rate), 4096, channels, &[]);
    let mut heard = 0.0f64;
    for part in 0..tens {
        let mut music = Wave::music(rate, 1.0, 10.0, seed + part as u64).planar();
        music.truncate(channels);
        let changes = storm(&mut random, rate, music[0].len());
        let blocks = random_blocks(seed + part as u64, 0, 4096);
        let got = session.running.run(&music, blocks, &changes);
        assert_bounded(&format!("{rate} Hz, part {part}"), &got);
        heard = heard.max(rms(&got[0]));
    }
    assert!(heard > 0.01, "the storm was silent");
    // And it has broken nothing: back at the defaults and at rest it is as new.
    let back: Vec<Change> = session
        .plugin
        .params()
        .iter()
        .map(|param| Change {
            frame: 0,
            id: param.id,
            value: param.default,
        })
        .collect();
    let _ = session
        .running
        .run(&vec![vec![0.0; 4096]; channels], blocks_of(512), &back);
    let _ = session.rest(rate as usize, channels);
    let mut music = Wave::music(rate, 0.9, 0.5, seed).planar();
    music.truncate(channels);
    let after = session.run(&music, blocks_of(512));
    session.end();
    let mut fresh = Session::new(f64::from(rate), 4096, channels, &[]);
    let want = fresh.run(&music, blocks_of(512));
    fresh.end();
    assert_same(&format!("{rate} Hz, after the storm"), &after, &want);
}

#[test]
fn a_minute_of_everything_at_once() {
    weather(48_000, 2, 3, 1);
    weather(44_100, 1, 2, 2);
    weather(96_000, 2, 1, 3);
}

#[test]
fn ten_minutes_of_everything_at_once() {
    if long() {
        weather(48_000, 2, 45, 4);
        weather(192_000, 2, 5, 5);
        weather(44_100, 1, 10, 6);
    } else {
        eprintln!("left out: set PENSTOCK_LONG=1 (or run `cargo xtask test --long`)");
    }
}

/// Trims drawn as a host draws a slow fade: 0.1 dB every 10 ms, up and down again. The measure is
/// explained in `clicks`; it is shown to hear a single step of 0.1 dB in this very sound.
#[test]
fn slow_gains_do_not_click() {
    let programme = clicks::programme(0.5, 3.0, 1);
    let audio = vec![programme.samples; 2];
    let mild = [("send.trim_db", "-20 dB"), ("return.trim_db", "6 dB")];
    let mut still = Session::new(48_000.0, 512, 2, &mild);
    let plain = still.run(&audio, blocks_of(480)).swap_remove(0);
    still.end();
    let floor = click_db(&plain[24_000..]);
    assert!(floor < -100.0, "the programme itself is heard: {floor} dB");
    let mut stepped = plain[24_000..].to_vec();
    let loudest = (10_000..60_000)
        .max_by(|a, b| stepped[*a].abs().total_cmp(&stepped[*b].abs()))
        .expect("frames");
    stepped[loudest..]
        .iter_mut()
        .for_each(|x| *x *= 10f32.powf(0.1 / 20.0));
    let step = click_db(&stepped);
    assert!(step > -60.0, "a step of 0.1 dB is heard as {step} dB only");
    for (id, from_db) in [("send.trim_db", -20.0), ("return.trim_db", 6.0)] {
        let mut session = Session::new(48_000.0, 512, 2, &mild);
        let mut changes = Vec::new();
        for n in 0..200i32 {
            let db = from_db + 0.1 * f64::from(100 - (n - 100).abs());
            let frame = 24_000 + 480 * n as usize;
            changes.push(session.change(frame, id, &format!("{db:.3} dB")));
        }
        let moved = session
            .running
            .run(&audio, blocks_of(512), &changes)
            .swap_remove(0);
        session.end();
        let loudest = rms(&moved[60_000..84_000]) / rms(&plain[60_000..84_000]);
        assert!(loudest > 2.0, "{id} did not move: {loudest}");
        let heard = click_db(&moved[24_000..]);
        println!("{id}: {heard:.1} dB; a step {step:.1} dB; still {floor:.1} dB");
        assert!(heard < -80.0, "{id}: {heard} dB");
    }
}
