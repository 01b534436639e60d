//! What is counted.

#![allow(missing_docs, reason = "the macros write functions without")]

use super::sound::{prepared, tones};
use gungraun::prelude::*;
use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use std::hint::black_box;

/// Frames before the count begins: filters are full, capacitors on their way.
const BEFORE: usize = 1024;
/// Frames counted.
const COUNTED: usize = 384;

/// A chain that plays, and what comes next.
pub struct Playing {
    chain: Chain,
    next: Vec<Vec<f64>>,
}

impl Playing {
    fn go_on(&mut self) {
        if let [left, right] = &mut self.next[..] {
            self.chain.process(&mut [left, right], &mut ());
        }
    }
}

/// In the midst of twenty tones at a line level in dBu.
fn programme(oversampling: Oversampling, dbu: f64) -> Playing {
    assert!(
        is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma"),
        "the counts are of the code for AVX2 with FMA, which valgrind does not see here"
    );
    let mut before = tones(2, dbu, BEFORE + COUNTED);
    let next = before.iter_mut().map(|tones| tones.split_off(BEFORE));
    let next = next.collect();
    let chain = prepared(2, oversampling);
    let mut playing = Playing {
        chain,
        next: before,
    };
    playing.go_on();
    playing.next = next;
    playing
}

/// At +4 dBu.
fn nominal(oversampling: Oversampling) -> Playing {
    programme(oversampling, 4.0)
}

/// At +20 dBu.
fn hot(oversampling: Oversampling) -> Playing {
    programme(oversampling, 20.0)
}

/// At +4 dBu, where the preamplifier's gain moves one step.
fn changed(oversampling: Oversampling) -> Playing {
    let mut playing = nominal(oversampling);
    let mut plan = Plan::default();
    plan.assign("preamp.gain_db=46").expect("a gain step");
    playing.chain.set(&plan, oversampling);
    playing
}

/// In silence, the circuit at rest.
fn settled(oversampling: Oversampling) -> Playing {
    Playing {
        chain: prepared(2, oversampling),
        next: vec![vec![0.0; COUNTED]; 2],
    }
}

#[library_benchmark]
#[bench::nominal_8x(args = (Oversampling::Eight), setup = nominal)]
#[bench::nominal_4x(args = (Oversampling::Four), setup = nominal)]
#[bench::hot_8x(args = (Oversampling::Eight), setup = hot)]
#[bench::gain_change_8x(args = (Oversampling::Eight), setup = changed)]
#[bench::settled_silence_8x(args = (Oversampling::Eight), setup = settled)]
fn stereo(mut playing: Playing) -> Playing {
    black_box(&mut playing).go_on();
    playing
}

library_benchmark_group!(name = path, benchmarks = stereo);
