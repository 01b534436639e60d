//! What a host may do with audio: any blocks, any rates, any samples, at any frame.

use penstock::params::rows;
use penstock_tests::Wave;
use penstock_tests::host::{
    Bundle, LOUD, Session, assert_bounded, assert_same, blocks_of, random_blocks, rms, settings,
};

#[test]
fn block_sizes_change_nothing() {
    let audio = Wave::music(48_000, 0.9, 0.7, 2).planar();
    let changes = |host: &mut Session| {
        let at = [
            (3_000, "preamp.gain_db", "34 dB"),
            (9_001, "send.trim_db", "-5 dB"),
            (15_555, "oversampling", "2"),
            (20_000, "pad.loss_db", "30 dB"),
            (26_000, "bypass", "on"),
            (28_111, "bypass", "off"),
        ];
        at.map(|(frame, id, text)| host.change(frame, id, text))
    };
    let mut host = Session::new(48_000.0, 4096, 2, &LOUD);
    let list = changes(&mut host);
    let want = host.running.run(&audio, blocks_of(512), &list);
    assert!(rms(&want[0]) > 0.01, "there is something to compare");
    host.end();
    for frames in [1, 2, 31, 32, 33, 63, 64, 100, 1000, 1024, 4095, 4096] {
        let mut host = Session::new(48_000.0, 4096, 2, &LOUD);
        let got = host.running.run(&audio, blocks_of(frames), &list);
        assert_same(&format!("blocks of {frames}"), &got, &want);
        host.end();
    }
    for seed in 0..4 {
        let mut host = Session::new(48_000.0, 4096, 2, &LOUD);
        // Calls without frames among them.
        let least = (seed % 2) as usize;
        let got = host
            .running
            .run(&audio, random_blocks(seed, least, 4096), &list);
        assert_same(&format!("random blocks {seed}"), &got, &want);
        host.end();
    }
}

#[test]
fn every_rate_sounds_in_mono_and_stereo_alike() {
    for rate in [44_100u32, 48_000, 88_200, 96_000, 176_400, 192_000] {
        let music = Wave::music(rate, 0.7, 0.3, 3);
        let mut stereo = Session::new(f64::from(rate), 512, 2, &LOUD);
        let both = stereo.run(&music.planar(), random_blocks(1, 1, 512));
        stereo.end();
        assert_bounded("stereo", &both);
        assert!(
            rms(&both[0]) > 0.01 && rms(&both[1]) > 0.01,
            "{rate}: silent"
        );
        let mut mono = Session::new(f64::from(rate), 512, 1, &LOUD);
        let left = mono.run(&vec![music.channel(0).samples], blocks_of(512));
        mono.end();
        assert_same(&format!("mono at {rate}"), &left, &vec![both[0].clone()]);
    }
}

#[test]
fn automation_is_accurate_to_the_frame() {
    let audio = Wave::music(48_000, 0.8, 0.1, 4).planar();
    let moved = [
        ("send.trim_db", "-12 dB"),
        ("return.trim_db", "-6 dB"),
        ("preamp.gain_db", "28 dB"),
        ("bypass", "on"),
    ];
    for (id, text) in moved {
        // At the edges of a block, one off, on and off the circuit's own grid.
        for at in [0, 1, 31, 32, 33, 200, 480, 511] {
            let frame = 1024 + at;
            let mut inside = Session::new(48_000.0, 512, 2, &LOUD);
            let change = inside.change(frame, id, text);
            let got = inside.running.run(&audio, blocks_of(512), &[change]);
            inside.end();
            // The same as a block that ends where the change is.
            let mut split = Session::new(48_000.0, 512, 2, &LOUD);
            let lengths = [512, 512, at, 512 - at].into_iter().filter(|n| *n > 0);
            let want = split
                .running
                .run(&audio, lengths.chain(blocks_of(512)), &[change]);
            split.end();
            assert_same(&format!("{id} at {at}"), &got, &want);
            // And it is heard, neither before its frame nor long after it.
            let mut still = Session::new(48_000.0, 512, 2, &LOUD);
            let plain = still.run(&audio, blocks_of(512));
            still.end();
            let first = got[0].iter().zip(&plain[0]).position(|(a, b)| a != b);
            let first = first.unwrap_or_else(|| panic!("{id} at {at} is not heard"));
            assert!(
                first >= frame,
                "{id} at {frame} is heard at {first}, before it"
            );
            assert!(
                first < frame + 200,
                "{id} at {frame} is heard at {first} only"
            );
        }
    }
}

#[test]
fn the_offline_switch_changes_nothing() {
    let audio = Wave::music(44_100, 0.9, 0.3, 5).planar();
    let mut want = None;
    for offline in [false, true] {
        let bundle = Bundle::load();
        let mut plugin = bundle.instance();
        assert!(plugin.set_offline(offline), "the mode is taken");
        plugin.set_texts(&settings(&LOUD));
        let mut running = plugin.activate(44_100.0, 512, 2);
        let latency = plugin.latency();
        let got = running.run(&audio, blocks_of(512), &[]);
        plugin.deactivate(running);
        let (want, late) = want.get_or_insert((got.clone(), latency));
        assert_same("offline", &got, want);
        assert_eq!(latency, *late);
    }
}

#[test]
fn reset_and_start_make_it_as_new() {
    let music = Wave::music(48_000, 0.9, 0.3, 9).planar();
    let mut host = Session::new(48_000.0, 512, 2, &LOUD);
    let first = host.run(&music, blocks_of(512));
    host.running.reset();
    assert_same("after reset", &host.run(&music, blocks_of(512)), &first);
    host.running.stop();
    assert_same(
        "after stop and start",
        &host.run(&music, blocks_of(512)),
        &first,
    );
    let Session {
        mut plugin,
        running,
    } = host;
    plugin.deactivate(running);
    let mut running = plugin.activate(48_000.0, 64, 2);
    assert_same(
        "active again",
        &running.run(&music, blocks_of(64), &[]),
        &first,
    );
    plugin.deactivate(running);
}

#[test]
fn a_change_while_stopped_is_there_at_the_start() {
    let music = Wave::music(48_000, 0.9, 0.2, 10).planar();
    let mut quiet = Session::new(48_000.0, 512, 2, &[("preamp.gain_db", "28 dB")]);
    let want = quiet.run(&music, blocks_of(512));
    quiet.end();
    let mut host = Session::new(48_000.0, 512, 2, &LOUD);
    let _ = host.run(&music, blocks_of(512));
    let Session {
        mut plugin,
        running,
    } = host;
    plugin.deactivate(running);
    plugin.set_texts(&settings(&[
        ("preamp.gain_db", "28 dB"),
        ("send.trim_db", "0 dB"),
    ]));
    let mut running = plugin.activate(48_000.0, 512, 2);
    assert_same(
        "set while inactive",
        &running.run(&music, blocks_of(512), &[]),
        &want,
    );
    plugin.deactivate(running);
}

#[test]
fn latency_is_one_number_for_each_rate() {
    for rate in [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0] {
        let mut latencies = Vec::new();
        for oversampling in ["1", "2", "4", "8"] {
            for bypass in ["on", "off"] {
                let texts = [("oversampling", oversampling), ("bypass", bypass)];
                let mut host = Session::new(rate, 512, 2, &texts);
                latencies.push(host.plugin.latency());
                let change = host.change(10, "oversampling", "1");
                let _ = host
                    .running
                    .run(&vec![vec![0.1; 512]; 2], blocks_of(512), &[change]);
                latencies.push(host.plugin.latency());
                host.end();
            }
        }
        assert!(
            latencies
                .iter()
                .all(|latency| *latency == latencies[0] && *latency > 0)
        );
        // Asked of the whole project: at most 64 frames at 48 kHz.
        if rate == 48_000.0 {
            assert!(latencies[0] <= 64, "{} frames at 48 kHz", latencies[0]);
        }
    }
}

#[test]
fn after_one_restart_the_latency_is_settled() {
    let bundle = Bundle::load();
    let mut plugin = bundle.instance();
    let running = plugin.activate(48_000.0, 512, 2);
    plugin.deactivate(running);
    let before = plugin.latency();
    let mut running = plugin.activate(48_000.0, 512, 2);
    let _ = running.run(&vec![vec![0.1; 4800]; 2], blocks_of(480), &[]);
    plugin.idle(std::time::Duration::from_millis(20));
    let asked = plugin
        .requests()
        .restart
        .load(std::sync::atomic::Ordering::SeqCst);
    assert!(!asked, "it wants to be restarted again");
    assert_eq!(plugin.latency(), before);
    plugin.deactivate(running);
}

#[test]
fn rates_outside_the_served_do_not_crash() {
    let bundle = Bundle::load();
    for rate in [8000.0, 22_050.0, 384_000.0] {
        let mut plugin = bundle.instance();
        let config = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            let mut running = plugin.activate(rate, 512, 2);
            let audio = vec![vec![0.1; 4096]; 2];
            assert_bounded("odd rate", &running.run(&audio, blocks_of(512), &[]));
            plugin.deactivate(running);
        }));
        // Refusing is an answer; the plugin must live on.
        drop(config);
        assert!(plugin.params().len() == rows().len());
    }
}
