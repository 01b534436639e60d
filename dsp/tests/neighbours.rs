//! What a channel gives never depends on what the other one hears, to the last bit.

use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use std::f64::consts::TAU;

const FRAMES: usize = 9_600;

/// Calm and restless by turns: tones that swell, and now and then noise.
fn programme(seed: u64, level: f64) -> Vec<f64> {
    let mut random = seed;
    (0..FRAMES)
        .map(|n| {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            let noise = (random >> 11) as f64 / (1_u64 << 52) as f64 - 1.0;
            let t = n as f64 / 48_000.0;
            let swell = (TAU * 11.0 * t + seed as f64).sin().powi(2);
            let tone = (TAU * 997.0 * t).sin() + (TAU * 7_919.0 * t).sin();
            let noisy = f64::from(u8::from((n + 400 * seed as usize) % 1_900 < 300));
            level * (0.5 * swell * tone + noisy * noise)
        })
        .collect()
}

fn heard(plan: &Plan, channels: &[&[f64]]) -> Vec<f64> {
    let rate = SampleRate::new(48_000.0).expect("a served rate");
    let mut chain = Chain::prepare(plan, rate, channels.len(), Oversampling::Four).expect("a pad");
    let mut audio: Vec<Vec<f64>> = channels.iter().map(|channel| channel.to_vec()).collect();
    let mut slices: Vec<&mut [f64]> = audio.iter_mut().map(|channel| &mut channel[..]).collect();
    chain.process(&mut slices, &mut ());
    audio.swap_remove(0)
}

#[test]
fn a_neighbour_changes_nothing() {
    for (pad, gain) in [(40, 40), (40, 64), (20, 28), (20, 64)] {
        let mut plan = Plan::default();
        for set in [
            format!("pad.loss_db={pad}"),
            format!("preamp.gain_db={gain}"),
            "pad.in_ohms_min=10".to_owned(),
        ] {
            plan.assign(&set).expect("a plan");
        }
        for level in [0.05, 0.3, 1.0] {
            let own = programme(1, level);
            let alone = heard(&plan, &[&own]);
            for neighbour in [vec![0.0; FRAMES], programme(2, 1.0), programme(3, 0.2)] {
                let beside = heard(&plan, &[&own, &neighbour]);
                let first = alone.iter().zip(&beside).position(|(a, b)| a != b);
                assert_eq!(first, None, "pad {pad}, gain {gain}, level {level}");
            }
        }
    }
}
