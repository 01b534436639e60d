//! Changes while sound passes: the same at any block size, without clicks, without allocation, and
//! once settled as if nothing had ever been different.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use penstock_dsp::chain::{ASLEEP_SECONDS, Chain, GRID_FRAMES};
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::pad::Network;
use penstock_dsp::plan::{Plan, Polarity};
use penstock_dsp::units::{Db, SampleRate};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

const RATE_HZ: f64 = 48_000.0;

fn chain(plan: &Plan, oversampling: Oversampling) -> Chain {
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    Chain::prepare(plan, rate, 1, oversampling).expect("a pad that can be built")
}

fn sine(frames: usize) -> Vec<f64> {
    let turn = std::f64::consts::TAU * 440.0 / RATE_HZ;
    (0..frames)
        .map(|n| 0.25 * (turn * n as f64).sin())
        .collect()
}

/// A different plan for each step of a script, everything in motion.
fn step(number: usize) -> (Plan, Oversampling) {
    let mut plan = Plan::default();
    plan.preamp.gain = Db([40.0, 46.0, 28.0, 64.0][number % 4]);
    plan.preamp.attenuator = Db([0.0, 20.0][number / 2 % 2]);
    plan.pad.loss = Db([40.0, 31.5, 47.0][number % 3]);
    plan.pad.network = [Network::U, Network::H, Network::None][number % 3];
    plan.send.trim = Db(-(number as f64 % 7.0));
    plan.send.polarity = [Polarity::Normal, Polarity::Inverted][number % 2];
    plan.back.trim = Db(number as f64 % 5.0 - 2.0);
    plan.rig.converters_clip = !number.is_multiple_of(5);
    (plan, Oversampling::ALL[number % 4])
}

/// Runs a script of changes at frames `every` apart, in blocks of `block`.
fn script(every: usize, block: usize) -> Vec<f64> {
    let mut chain = chain(&Plan::default(), Oversampling::Four);
    let mut audio = sine(24_000);
    let mut at = 0;
    while at < audio.len() {
        if at % every == 0 {
            let (plan, oversampling) = step(at / every);
            assert_no_alloc(|| chain.set(&plan, oversampling));
        }
        let to = audio.len().min(at + block).min((at / every + 1) * every);
        assert_no_alloc(|| chain.process(&mut [&mut audio[at..to]], &mut ()));
        at = to;
    }
    audio
}

#[test]
fn changes_fall_on_the_same_frames_at_any_block_size() {
    for every in [500, 1777] {
        let reference = script(every, 4096);
        assert!(reference.iter().all(|sample| sample.is_finite()));
        for block in [1, 31, 64, 1000] {
            assert_eq!(script(every, block), reference, "blocks of {block}");
        }
    }
}

#[test]
fn a_change_waits_for_the_grid() {
    let mut louder = Plan::default();
    louder.back.trim = Db(6.0);
    let run = |set_at: usize| {
        let mut chain = chain(&Plan::default(), Oversampling::One);
        let mut audio = sine(4000);
        let (before, after) = audio.split_at_mut(set_at);
        chain.process(&mut [before], &mut ());
        chain.set(&louder, Oversampling::One);
        chain.process(&mut [after], &mut ());
        audio
    };
    let first = 2000 / GRID_FRAMES * GRID_FRAMES + 1;
    assert_eq!(run(first), run(first + GRID_FRAMES - 1));
    assert_ne!(run(first), run(first + GRID_FRAMES));
}

#[test]
fn once_settled_it_is_as_if_nothing_had_been_different() {
    let settle = (ASLEEP_SECONDS * RATE_HZ) as usize + 4800;
    for number in [1, 2, 7] {
        let (plan, oversampling) = step(number);
        let mut fresh = chain(&plan, oversampling);
        let mut changed = chain(&Plan::default(), Oversampling::Four);
        changed.process(&mut [&mut sine(5000)], &mut ());
        changed.set(&plan, oversampling);
        changed.process(&mut [&mut vec![0.0; settle]], &mut ());
        let (mut one, mut other) = (sine(5000), sine(5000));
        fresh.process(&mut [&mut one], &mut ());
        changed.process(&mut [&mut other], &mut ());
        assert_eq!(one, other);
    }
}

/// Noise that is switched off leaves nothing behind.
#[test]
fn after_noise_it_rests_too() {
    let mut plan = Plan::default();
    plan.preamp.noise = true;
    let mut chain = chain(&plan, Oversampling::One);
    let mut second = vec![0.0; RATE_HZ as usize];
    chain.process(&mut [&mut second], &mut ());
    assert!(second.iter().any(|sample| *sample != 0.0), "no noise");
    chain.set(&Plan::default(), Oversampling::One);
    for _ in 0..60 {
        second.fill(0.0);
        chain.process(&mut [&mut second], &mut ());
    }
    assert!(second.iter().all(|sample| *sample == 0.0), "never at rest");
}

/// Largest second difference: what a click has and a low tone has not.
fn roughness(audio: &[f64]) -> f64 {
    let bends = audio.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).abs());
    bends.fold(0.0, f64::max)
}

#[test]
fn a_change_of_circuit_does_not_click() {
    // Equal total gain, so that a change should hardly be heard at all.
    let mut harder = Plan::default();
    harder.pad.loss = Db(34.0);
    harder.preamp.gain = Db(34.0);
    let mut chain = chain(&Plan::default(), Oversampling::Four);
    let mut audio = sine(48_000);
    let (before, after) = audio.split_at_mut(24_000);
    chain.process(&mut [before], &mut ());
    chain.set(&harder, Oversampling::Eight);
    chain.process(&mut [after], &mut ());
    let steady = roughness(&audio[12_000..23_000]);
    let around = roughness(&audio[24_000..26_000]);
    assert!(around < 1.05 * steady, "{around} against {steady}");
}
