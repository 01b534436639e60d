//! One instance of the plugin without a host: parameters, what sounds, what the window reads.

use std::sync::atomic::Ordering;
use std::sync::{Arc, OnceLock};

use nice_plug::context::gui::GuiContext;
use penstock::bridge::Bridge;
use penstock::desk::PluginDesk;
use penstock::editor::Tracked;
use penstock::engine::Engine;
use penstock::levels::{Levels, SharedCeilings};
use penstock::params::PlanParams;
use penstock::stages::{SharedStages, Stages};
use penstock_dsp::units::SampleRate;

use crate::home::use_own_folders;
use crate::host::Host;

/// Rate of everything here, in hertz.
pub const RATE_HZ: u32 = 48_000;
/// Frames of a block.
const BLOCK: usize = 256;

/// Ceilings found before, by any stage of this process: a search takes seconds.
static CEILINGS: OnceLock<SharedCeilings> = OnceLock::new();
/// Harmonics found before, likewise.
static STAGES: OnceLock<SharedStages> = OnceLock::new();

/// The instance.
pub struct Stage {
    /// Its parameters.
    pub params: Arc<PlanParams>,
    /// What the audio thread leaves for the window.
    pub bridge: Arc<Bridge>,
    /// Who carries out what the window asks.
    pub host: Arc<Host>,
    ceilings: SharedCeilings,
}

impl Default for Stage {
    fn default() -> Self {
        use_own_folders();
        let params = Arc::new(PlanParams::default());
        Self {
            host: Arc::new(Host::new(Arc::clone(&params))),
            bridge: Arc::default(),
            ceilings: Arc::clone(CEILINGS.get_or_init(SharedCeilings::default)),
            params,
        }
    }
}

impl Stage {
    /// With these values typed, by parameter.
    ///
    /// # Panics
    /// When a parameter is unknown or a value cannot be read.
    #[must_use]
    pub fn with(texts: &[(&str, &str)]) -> Self {
        let stage = Self::default();
        for (id, text) in texts {
            let index = stage.params.index(id).expect("a parameter's id");
            // SAFETY: the pointer is into parameters that live.
            let value = unsafe {
                let pointer = stage.params.all[index].pointer();
                pointer.string_to_normalized_value(text)
            };
            stage.host.automate(index, value.expect("a readable value"));
        }
        stage
    }

    /// The plugin's own desk, as a window gets it when it opens.
    #[must_use]
    pub fn desk(&self) -> Tracked<PluginDesk> {
        let levels = Levels::start(Arc::clone(&self.ceilings), || {});
        let stages = Stages::start(Arc::clone(STAGES.get_or_init(SharedStages::default)), || {});
        let host = Some(GuiContext::new(Arc::clone(&self.host) as _));
        let (params, bridge) = (Arc::clone(&self.params), Arc::clone(&self.bridge));
        Tracked::new(PluginDesk::new(params, bridge, host, levels, stages))
    }

    /// What sounds, made ready as the shell makes it, for one or two channels.
    ///
    /// # Panics
    /// Never: the rate is a usual one.
    #[must_use]
    pub fn engine(&self, channels: usize) -> Engine {
        let rate = SampleRate::new(f64::from(RATE_HZ)).expect("a usual rate");
        let engine = Engine::prepare(&self.params, rate, channels, BLOCK);
        let latency = engine.latency_frames() as u32;
        self.bridge.latency_frames.store(latency, Ordering::Relaxed);
        self.bridge.sample_rate_hz.store(RATE_HZ, Ordering::Relaxed);
        let count = channels as u32;
        self.bridge.channels.store(count, Ordering::Relaxed);
        engine
    }

    /// Passes frames through; the window is open. In place.
    pub fn play(&self, engine: &mut Engine, audio: &mut [Vec<f32>]) {
        let frames = audio[0].len();
        for from in (0..frames).step_by(BLOCK) {
            let to = frames.min(from + BLOCK);
            let mut block: Vec<&mut [f32]> = audio
                .iter_mut()
                .map(|samples| &mut samples[from..to])
                .collect();
            engine.process(&mut block, &self.params, &self.bridge, true);
        }
    }
}

/// Tones in the proportion of a full chord, in bursts: peaks some 12 dB over the RMS. The peak is
/// `peak`, of full scale.
#[must_use]
pub fn programme(frames: usize, channels: usize, peak: f32) -> Vec<Vec<f32>> {
    let tone = |n: usize, hz: f32| (std::f32::consts::TAU * hz * n as f32 / RATE_HZ as f32).sin();
    let sample = |n: usize, channel: usize| {
        let burst = 0.35 + 0.65 * (-((n % 12_000) as f32) / 3_000.0).exp();
        let shift = 1.0 + 0.01 * channel as f32;
        let sum = tone(n, 110.0 * shift) + 0.7 * tone(n, 277.0) + 0.4 * tone(n, 1_318.5);
        peak * burst * sum / 2.1
    };
    (0..channels)
        .map(|channel| (0..frames).map(|n| sample(n, channel)).collect())
        .collect()
}
