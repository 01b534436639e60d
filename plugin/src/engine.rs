//! What sounds, between the host's 32-bit samples and the chain: the input made sane, a panic caught,
//! the bypass, the output bounded.

use crate::bridge::{Bridge, Gauge};
use crate::load::Load;
use crate::loudness::Pair;
use crate::moved::Shown;
use crate::params::PlanParams;
use crate::tone::{Tone, TonePlayer};
use penstock_dsp::chain::{Bypass, Chain};
use penstock_dsp::units::SampleRate;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The plugin never puts out more than this: +6 dBFS.
const BOUND: f64 = 1.995_262_314_968_879_5;
/// Input below this is taken as zero: far under any converter, well over denormal numbers.
const DENORMAL: f32 = 1e-20;
/// Channels at most.
pub const CHANNELS: usize = 2;

/// What sounds, while active.
pub struct Engine {
    chain: Chain,
    bypass: Bypass,
    tone: TonePlayer,
    gauge: Gauge,
    load: Load,
    loudness: Pair,
    shown: Shown,
    rate: SampleRate,
    channels: usize,
    /// The bus and what comes back, for as many frames as the host promised at most.
    bus: [Vec<f64>; CHANNELS],
    back: [Vec<f64>; CHANNELS],
}

impl Engine {
    /// For a rate in hertz, one or two channels, and blocks of at most `frames`, which is above 0.
    pub fn prepare(params: &PlanParams, rate: SampleRate, channels: usize, frames: usize) -> Self {
        let (plan, oversampling) = params.plan();
        let chain = Chain::prepare_nearest(&plan, rate, channels, oversampling);
        let latency = chain.latency_frames();
        params.tone.set(Tone::Off);
        let room = || [vec![0.0; frames], vec![0.0; frames]];
        Self {
            bypass: Bypass::prepare(rate, channels, latency, params.bypassed()),
            tone: TonePlayer::prepare(rate),
            chain,
            gauge: Gauge::prepare(rate, channels),
            load: Load::prepare(rate),
            loudness: Pair::prepare(rate, channels),
            shown: Shown::default(),
            rate,
            channels,
            bus: room(),
            back: room(),
        }
    }

    /// Frames between the bus and what comes back, with and without bypass.
    #[must_use]
    pub fn latency_frames(&self) -> usize {
        self.chain.latency_frames()
    }

    /// As new, with the parameters of now.
    pub fn reset(&mut self, params: &PlanParams, bridge: &Bridge) {
        let (plan, oversampling) = params.plan();
        self.guarded(bridge, |chain, _| {
            chain.set(&plan, oversampling);
            chain.reset();
        });
        self.bypass.set(params.bypassed() || bridge.faulted());
        self.bypass.reset();
        self.tone.reset(&params.tone);
    }

    /// Whatever the host passes, in pieces of at most what it promised. Says whether there are new
    /// figures for the window.
    pub fn process(
        &mut self,
        audio: &mut [&mut [f32]],
        params: &PlanParams,
        bridge: &Bridge,
        open: bool,
    ) -> bool {
        self.load.begin(open);
        let (plan, oversampling) = params.plan();
        self.guarded(bridge, |chain, _| chain.set(&plan, oversampling));
        self.bypass.set(params.bypassed() || bridge.faulted());
        self.tone.attend(&params.tone, open);
        if open {
            self.gauge
                .attend(bridge.meter(), oversampling.factor(self.rate));
        }
        self.loudness.attend(&bridge.loudness, &plan, open);
        let frames = audio.iter().map(|samples| samples.len()).min().unwrap_or(0);
        let mut from = 0;
        while from < frames {
            let to = frames.min(from + self.bus[0].len());
            self.piece(audio, from..to, bridge, open);
            from = to;
        }
        bridge.count(self.chain.clipped());
        self.load.end(frames, &bridge.load);
        let full = open && self.gauge.publish(bridge);
        full && self.shown.moved(&bridge.read(), bridge.loudness.read())
    }

    fn piece(
        &mut self,
        audio: &mut [&mut [f32]],
        range: std::ops::Range<usize>,
        bridge: &Bridge,
        open: bool,
    ) {
        let frames = range.len();
        for (channel, samples) in audio.iter().enumerate().take(self.channels) {
            for (n, sample) in samples[range.clone()].iter().enumerate() {
                let clean = sample.is_finite() && sample.abs() >= DENORMAL;
                self.bus[channel][n] = if clean { f64::from(*sample) } else { 0.0 };
            }
            self.back[channel][..frames].copy_from_slice(&self.bus[channel][..frames]);
        }
        let [mut left, mut right] = std::mem::take(&mut self.back);
        let mut back = [&mut left[..frames], &mut right[..frames]];
        let back = &mut back[..self.channels];
        self.guarded(bridge, |chain, gauge| {
            if open {
                chain.process(back, gauge);
            } else {
                chain.process(back, &mut ());
            }
        });
        let [bus_left, bus_right] = &self.bus;
        let bus = [&bus_left[..frames], &bus_right[..frames]];
        self.loudness
            .process(&bus[..self.channels], back, &bridge.loudness);
        // After the return, before the way around: a host's bypass silences the tone too.
        self.tone.process(back);
        let [bus_left, bus_right] = &mut self.bus;
        let bus = [&mut bus_left[..frames], &mut bus_right[..frames]];
        self.bypass.process(&bus[..self.channels], back);
        for (samples, back) in audio.iter_mut().zip(back.iter()) {
            for (sample, back) in samples[range.clone()].iter_mut().zip(back.iter()) {
                let finite = if back.is_finite() { *back } else { 0.0 };
                *sample = finite.clamp(-BOUND, BOUND) as f32;
            }
        }
        self.back = [left, right];
    }

    /// Calls the circuit. A panic must not cross the host's C interface: after one the circuit is
    /// never called again, and the bus passes on, equally late, until the host activates anew.
    fn guarded(&mut self, bridge: &Bridge, act: impl FnOnce(&mut Chain, &mut Gauge)) {
        if bridge.faulted() {
            return;
        }
        let (chain, gauge) = (&mut self.chain, &mut self.gauge);
        if let Err(panic) = catch_unwind(AssertUnwindSafe(|| act(chain, gauge))) {
            bridge.fail(&*panic);
            self.bypass.set(true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a host gets for this input after the circuit has panicked at a frame.
    #[test]
    fn a_panic_is_caught_and_the_bus_passes_on() {
        let params = PlanParams::default();
        let bridge = Bridge::default();
        let rate = SampleRate::new(48_000.0).expect("a usual rate");
        let mut engine = Engine::prepare(&params, rate, 1, 64);
        let latency = engine.chain.latency_frames();
        engine.guarded(&bridge, |_, _| panic!("index {} of {}", 9, 8));
        assert!(bridge.faulted());
        assert_eq!(bridge.fault(), "index 9 of 8");
        let input: Vec<f32> = (0..9_600).map(|n| (n as f32 * 0.01).sin() * 0.5).collect();
        let mut output = input.clone();
        for block in output.chunks_mut(100) {
            engine.process(&mut [block], &params, &bridge, true);
        }
        // The fade to the bus is over after half of it.
        for n in 4_800..9_600 {
            assert_eq!(output[n], input[n - latency], "frame {n}");
        }
        engine.guarded(&bridge, |_, _| panic!("must not be called"));
        bridge.mend();
        assert!(!bridge.faulted());
    }

    /// A window over silence, or over a tone that stands, is told of nothing; over a change it is.
    #[test]
    fn what_stands_still_asks_for_no_pictures() {
        let params = PlanParams::default();
        let bridge = Bridge::default();
        let rate = SampleRate::new(48_000.0).expect("a usual rate");
        let mut engine = Engine::prepare(&params, rate, 1, 480);
        let mut frame = 0;
        let mut told = |seconds: f64, volume: f32| {
            let mut told = 0;
            for _ in 0..(seconds * 100.0) as usize {
                let mut block = [0.0; 480];
                for sample in &mut block {
                    // 1 kHz: a whole number of periods in each window.
                    let turn = f64::from(frame % 48) / 48.0 * std::f64::consts::TAU;
                    *sample = turn.sin() as f32 * volume;
                    frame += 1;
                }
                told += usize::from(engine.process(&mut [&mut block], &params, &bridge, true));
            }
            told
        };
        assert_eq!(told(1.0, 0.0), 0, "silence");
        assert!(told(0.2, 0.1) >= 2, "a tone begins");
        // The circuit's capacitors take some seconds.
        told(4.0, 0.1);
        let still = told(2.0, 0.1);
        assert!(still <= 2, "{still} pictures of a tone that stands");
    }
}
