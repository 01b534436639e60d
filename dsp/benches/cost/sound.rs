//! What the benches play, and through what.

use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use std::f64::consts::TAU;

pub const RATE_HZ: f64 = 48_000.0;
/// Full scale of the default plan's send, in dBu.
const FULL_SCALE_DBU: f64 = 22.0;

/// A chain of the default plan.
pub fn prepared(channels: usize, oversampling: Oversampling) -> Chain {
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    Chain::prepare(&Plan::default(), rate, channels, oversampling).expect("the default pad")
}

/// Twenty tones of equal amplitude, 41 Hz to 16 kHz, at a line level in dBu; other phases in every
/// channel.
pub fn tones(channels: usize, dbu: f64, frames: usize) -> Vec<Vec<f64>> {
    let peak = 10f64.powf((dbu - FULL_SCALE_DBU) / 20.0) / 20f64.sqrt();
    let channel = |channel: usize| {
        let tone = |frame: usize, k: usize| {
            let hz = 41.0 * (16_000.0_f64 / 41.0).powf(k as f64 / 19.0);
            let phase = k as f64 * (2.3 + channel as f64);
            (TAU * hz * frame as f64 / RATE_HZ + phase).sin()
        };
        let sample = |frame: usize| peak * (0..20).map(|k| tone(frame, k)).sum::<f64>();
        (0..frames).map(sample).collect()
    };
    (0..channels).map(channel).collect()
}
