//! What a host may send and what may come back: any samples, silence, the way around.

use penstock_tests::Wave;
use penstock_tests::clicks;
use penstock_tests::host::{LOUD, Session, assert_bounded, assert_same, blocks_of, random_blocks};

#[test]
fn no_sample_however_wild_comes_out_wild() {
    let wild: [(&str, f32); 10] = [
        ("NaN", f32::NAN),
        ("infinity", f32::INFINITY),
        ("minus infinity", f32::NEG_INFINITY),
        ("1e30", 1e30),
        ("-1e30", -1e30),
        ("largest", f32::MAX),
        ("1e6", 1e6),
        ("denormal", 1e-40),
        ("smallest", f32::MIN_POSITIVE),
        ("100", 100.0),
    ];
    let plans: [&[(&str, &str)]; 3] = [
        &[],
        &[
            ("preamp.gain_db", "64 dB"),
            ("pad.loss_db", "0 dB"),
            ("return.trim_db", "40 dB"),
        ],
        &[
            ("rig.converters_clip", "off"),
            ("pad.network", "none"),
            ("preamp.gain_db", "64 dB"),
            ("send.trim_db", "12 dB"),
            ("return.trim_db", "40 dB"),
        ],
    ];
    let music = Wave::music(48_000, 0.5, 0.4, 6).planar();
    for texts in plans {
        let mut fresh = Session::new(48_000.0, 512, 2, texts);
        let want = fresh.run(&music, blocks_of(512));
        fresh.end();
        let mut host = Session::new(48_000.0, 512, 2, texts);
        for (name, value) in wild {
            let what = format!("{name} with {texts:?}");
            let mut audio = music.clone();
            // One sample; a burst that alternates; a quarter of a second of nothing else.
            audio[0][5000] = value;
            audio[0][8000..9000].fill(value);
            audio[0][8000..9000]
                .iter_mut()
                .step_by(2)
                .for_each(|x| *x = -value);
            audio[1][8000..9000].fill(value);
            assert_bounded(&what, &host.run(&audio, blocks_of(512)));
            let all = vec![vec![value; 12_000]; 2];
            assert_bounded(&what, &host.run(&all, blocks_of(500)));
        }
        // After rest it is as new: what was taken in has left nothing.
        let _ = host.rest(48_000, 2);
        let after = host.run(&music, blocks_of(512));
        host.end();
        assert_same(&format!("{texts:?}, afterwards"), &after, &want);
    }
}

#[test]
fn silence_in_is_silence_out() {
    for texts in [&[][..], &LOUD, &[("bypass", "on")]] {
        let mut host = Session::new(48_000.0, 512, 2, texts);
        // From the start on, exactly.
        assert_eq!(host.rest(48_000, 2), 1, "{texts:?} at the start");
        let _ = host.run(&Wave::music(48_000, 0.9, 1.0, 7).planar(), blocks_of(512));
        // Denormal input is silence too. C1 (2.2 s) needs some eighteen of its time constants.
        let mut tail = vec![vec![0.0; 48_000 * 45]; 2];
        tail[1].fill(1e-39);
        let tail = host.run(&tail, blocks_of(512));
        host.end();
        for channel in &tail {
            let last = channel.iter().rposition(|x| *x != 0.0).unwrap_or(0);
            assert!(
                last < 48_000 * 42,
                "{texts:?}: still sounding at frame {last}"
            );
        }
    }
}

#[test]
fn bypass_is_the_bus_late() {
    for (rate, channels) in [(44_100u32, 2), (48_000, 1), (96_000, 2), (192_000, 2)] {
        let mut host = Session::new(f64::from(rate), 512, channels, &[("bypass", "on")]);
        let latency = host.plugin.latency();
        let mut audio = Wave::music(rate, 0.9, 0.2, 8).planar();
        audio.truncate(channels);
        let got = host.run(&audio, random_blocks(2, 1, 512));
        host.end();
        for (got, bus) in got.iter().zip(&audio) {
            assert!(got[..latency].iter().all(|x| *x == 0.0));
            assert_eq!(got[latency..], bus[..bus.len() - latency], "{rate}");
        }
    }
}

/// The fade between circuit and bus is a straight line of 10 ms. Its two corners are all that may
/// be heard: no more than those of the same line drawn here, and far less than a hard switch.
#[test]
fn bypass_does_not_click() {
    let audio = vec![clicks::programme(0.25, 2.0, 1).samples; 2];
    let mild = [("send.trim_db", "-20 dB"), ("return.trim_db", "14 dB")];
    let mut still = Session::new(48_000.0, 512, 2, &mild);
    let through = still.run(&audio, blocks_of(512)).swap_remove(0);
    let latency = still.plugin.latency();
    still.end();
    let late = |frame: usize| {
        frame
            .checked_sub(latency)
            .map_or(0.0, |from| audio[0][from])
    };
    let (on, off) = (48_000, 72_011);
    let mut host = Session::new(48_000.0, 512, 2, &mild);
    let changes = [
        host.change(on, "bypass", "on"),
        host.change(off, "bypass", "off"),
    ];
    let moved = host
        .running
        .run(&audio, blocks_of(512), &changes)
        .swap_remove(0);
    host.end();
    let mixed = |fade_frames: f32| -> Vec<f32> {
        let share = |frame: usize, from: usize| {
            ((frame as f32 + 1.0 - from as f32) / fade_frames).clamp(0.0, 1.0)
        };
        // Changes begin at multiples of 32 frames.
        let share = |n| share(n, on) - share(n, off.next_multiple_of(32));
        let mix = |(n, x): (usize, &f32)| x * (1.0 - share(n)) + late(n) * share(n);
        through.iter().enumerate().map(mix).collect()
    };
    let heard = clicks::click_db(&moved[24_000..]);
    let drawn = clicks::click_db(&mixed(480.0)[24_000..]);
    let hard = clicks::click_db(&mixed(1.0)[24_000..]);
    let nothing = clicks::click_db(&through[24_000..]);
    println!("fade {heard:.1} dB, drawn {drawn:.1} dB, hard {hard:.1} dB, none {nothing:.1} dB");
    assert!(
        nothing < -100.0,
        "the programme itself is heard: {nothing} dB"
    );
    assert!(
        heard < drawn + 0.5,
        "{heard} dB, the line drawn here {drawn} dB"
    );
    assert!(heard < hard - 30.0, "{heard} dB, a hard switch {hard} dB");
}
