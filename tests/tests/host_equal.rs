//! What is heard in a host is what `penstock render` writes: one chain, whatever runs it.
//!
//! The plan to render is read back from the plugin's texts, as a user would read it off.

use penstock::params::rows;
use penstock_tests::equal::{PLANS, assert_equal, assert_heard, planned, programme, rendered};
use penstock_tests::host::{
    Bundle, Change, Plugin, Running, blocks_of, number_of, random_blocks, random_value,
};
use penstock_tests::random::Random;
use penstock_tests::run::run_in;
use penstock_tests::{TempDir, Wave};

#[test]
fn clap_is_render_from_the_start() {
    let mut random = Random::new(1);
    let dir = TempDir::new();
    let (mut peaks, mut most) = (Vec::new(), 0.0f64);
    for plan in 0..PLANS {
        let (mut plugin, texts) = planned(&mut random);
        let wave = programme(plan);
        let mut running = plugin.activate(f64::from(wave.rate_hz), 1024, 2);
        let got = running.run(&wave.planar(), random_blocks(plan, 1, 1024), &[]);
        let latency = plugin.latency();
        plugin.deactivate(running);
        let want = rendered(dir.path(), &wave, &texts);
        let off = assert_equal(
            &format!("plan {plan} {texts:?}"),
            &got,
            latency,
            &want.planar(),
        );
        most = most.max(off);
        peaks.push(want.peak());
    }
    assert_heard(&peaks);
    println!("largest difference {most:.1e} of full scale");
}

/// Runs silence until nothing at all comes back: then the circuit is at rest. Its longest time constant
/// is 2.2 s (R7 with C1).
fn settle(running: &mut Running, rate: u32, channels: usize) {
    let second = vec![vec![0.0; rate as usize]; channels];
    for _ in 0..200 {
        let got = running.run(&second, blocks_of(1024), &[]);
        if got.iter().flatten().all(|sample| *sample == 0.0) {
            return;
        }
        println!(
            "{}",
            got.iter().flatten().fold(0.0f32, |p, s| p.max(s.abs()))
        );
    }
    panic!("still sounding after 200 s");
}

/// Changes of everything, then back to the plan.
fn storm(plugin: &mut Plugin, random: &mut Random, frames: usize) -> Vec<Change> {
    let mut changes = Vec::new();
    for part in 0..12 {
        let frame = part * frames / 16;
        for row in rows() {
            let value = random_value(row, random);
            changes.push(Change {
                frame,
                id: number_of(row.id),
                value,
            });
        }
    }
    for row in rows() {
        let id = number_of(row.id);
        let value = plugin.get(id);
        changes.push(Change {
            frame: 13 * frames / 16,
            id,
            value,
        });
    }
    changes
}

#[test]
fn clap_is_render_after_automation_and_rest() {
    let mut random = Random::new(2);
    let dir = TempDir::new();
    let mut peaks = Vec::new();
    for plan in 0..PLANS {
        let (mut plugin, texts) = planned(&mut random);
        let rate = [48_000, 44_100][(plan % 2) as usize];
        // In mono, which the other way leaves out.
        plugin.choose_channels(1);
        let wave = Wave::music(rate, 0.95, 0.6, 100 + plan).channel(0);
        let before = wave.planar();
        let changes = storm(&mut plugin, &mut random, before[0].len());
        let mut running = plugin.activate(f64::from(rate), 1024, 1);
        let _ = running.run(&before, random_blocks(plan, 1, 1024), &changes);
        assert_eq!(plugin.texts(), texts, "the plan is back");
        settle(&mut running, rate, 1);
        let got = running.run(&wave.planar(), blocks_of(512), &[]);
        let latency = plugin.latency();
        plugin.deactivate(running);
        let want = rendered(dir.path(), &wave, &texts);
        assert_equal(
            &format!("plan {plan} {texts:?}"),
            &got,
            latency,
            &want.planar(),
        );
        peaks.push(want.peak());
    }
    assert_heard(&peaks);
}

/// Twelve seconds, more than five of the circuit's longest time constant (R7 with C1), are enough for plans
/// of ordinary levels.
#[test]
fn clap_is_render_after_twelve_seconds_of_silence() {
    let dir = TempDir::new();
    for (plan, texts) in [
        &[][..],
        &[("preamp.gain_db", "52 dB"), ("pad.loss_db", "46")],
    ]
    .iter()
    .enumerate()
    {
        let mut plugin = Bundle::load().instance();
        plugin.set_texts(
            &texts
                .iter()
                .map(|(id, text)| (*id, (*text).to_owned()))
                .collect::<Vec<_>>(),
        );
        let texts = plugin.texts();
        let wave = Wave::music(48_000, 0.95, 1.0, 200);
        let mut random = Random::new(3 + plan as u64);
        let changes = storm(&mut plugin, &mut random, wave.frames());
        let mut running = plugin.activate(48_000.0, 512, 2);
        let _ = running.run(&wave.planar(), blocks_of(512), &changes);
        let _ = running.run(&vec![vec![0.0; 576_000]; 2], blocks_of(512), &[]);
        let got = running.run(&wave.planar(), blocks_of(512), &[]);
        let latency = plugin.latency();
        plugin.deactivate(running);
        let want = rendered(dir.path(), &wave, &texts);
        assert_equal(&format!("{texts:?}"), &got, latency, &want.planar());
    }
}

/// A pad that cannot be built never mutes the plugin: the nearest that can is heard, which is the
/// plan with the smallest loss that `pad` names when it refuses.
#[test]
fn an_impossible_pad_is_the_nearest_possible() {
    let dir = TempDir::new();
    let wave = Wave::music(48_000, 0.5, 0.4, 300);
    let mut plugin = Bundle::load().instance();
    let set = |text: &str| {
        [
            ("pad.loss_db", text.to_owned()),
            ("pad.series", "ideal".to_owned()),
        ]
    };
    plugin.set_texts(&set("3 dB"));
    let mut running = plugin.activate(48_000.0, 512, 2);
    let got = running.run(&wave.planar(), blocks_of(512), &[]);
    let latency = plugin.latency();
    plugin.deactivate(running);
    let said = run_in(
        dir.path(),
        &["levels", "--level-dbfs", "-20", "--set", "pad.loss_db=3"],
    );
    assert_eq!(said.status, 2, "3 dB should not be possible");
    let least = smallest_loss(&said.stderr);
    // The message rounds; the next thousandth above is possible and as near as can be told.
    let mut texts = plugin.texts();
    let loss = texts
        .iter_mut()
        .find(|(id, _)| *id == "pad.loss_db")
        .expect("a row");
    loss.1 = format!("{:.3} dB", least + 0.001);
    let want = rendered(dir.path(), &wave, &texts).planar();
    let level = |audio: &[f32]| audio.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
    let frames = got[0].len() - latency;
    let off = 10.0 * (level(&got[0]) / level(&want[0][..frames])).log10();
    assert!(
        off.abs() < 0.02,
        "{off} dB off the nearest pad of {least} dB"
    );
}

/// The number after which a refusal says "dB", the last there is.
fn smallest_loss(message: &str) -> f64 {
    let words: Vec<&str> = message.split_whitespace().collect();
    let numbers = words.windows(2).filter(|pair| pair[1].starts_with("dB"));
    let mut numbers = numbers.filter_map(|pair| pair[0].parse().ok());
    numbers
        .next_back()
        .unwrap_or_else(|| panic!("no loss named: {message}"))
}
