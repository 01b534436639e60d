//! The plugin as the framework wants it: activate, reset, process; no maths.

use crate::bridge::Bridge;
use crate::engine::{CHANNELS, Engine};
use crate::params::PlanParams;
use crate::rig_file::{self, Remembered};
use crate::state;
use nice_plug::prelude::*;
use penstock_dsp::units::SampleRate;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// The plugin.
pub struct Penstock {
    params: Arc<PlanParams>,
    bridge: Arc<Bridge>,
    engine: Option<Engine>,
    #[cfg(feature = "editor")]
    link: crate::editor::Link,
    #[cfg(feature = "editor")]
    ceilings: crate::levels::SharedCeilings,
    #[cfg(feature = "editor")]
    stages: crate::stages::SharedStages,
}

impl Default for Penstock {
    /// A new instance starts from the rig that this user's settings remember; a project's state is
    /// loaded over it.
    fn default() -> Self {
        let params = PlanParams::default();
        let folder = crate::folder::config_folder();
        if let Remembered::Rig(rig) = rig_file::load(folder.as_deref()) {
            params.start_from(*rig);
        }
        Self {
            params: Arc::new(params),
            bridge: Arc::default(),
            engine: None,
            #[cfg(feature = "editor")]
            link: Default::default(),
            #[cfg(feature = "editor")]
            ceilings: Default::default(),
            #[cfg(feature = "editor")]
            stages: Default::default(),
        }
    }
}

const fn layout(channels: u32, name: &'static str) -> AudioIOLayout {
    AudioIOLayout {
        main_input_channels: NonZeroU32::new(channels),
        main_output_channels: NonZeroU32::new(channels),
        aux_input_ports: &[],
        aux_output_ports: &[],
        names: PortNames {
            layout: Some(name),
            ..PortNames::const_default()
        },
    }
}

impl Plugin for Penstock {
    const NAME: &'static str = "Penstock";
    const VENDOR: &'static str = "Penstock";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[layout(2, "Stereo"), layout(1, "Mono")];
    const SAMPLE_ACCURATE_AUTOMATION: bool = true;

    #[cfg(feature = "editor")]
    type Editor = crate::editor::Window<DeskMaker>;
    #[cfg(not(feature = "editor"))]
    type Editor = ();
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    #[cfg(feature = "editor")]
    fn editor(&mut self, _: AsyncExecutor<Self>) -> Option<Self::Editor> {
        let maker = DeskMaker {
            params: self.params.clone(),
            bridge: self.bridge.clone(),
            link: self.link.clone(),
            ceilings: self.ceilings.clone(),
            stages: self.stages.clone(),
        };
        let view = self.params.view.clone();
        Some(crate::editor::Window::new(maker, view, self.link.clone()))
    }

    fn filter_state(state: &mut PluginState) {
        state::mend(state);
    }

    fn activate(
        &mut self,
        layout: &AudioIOLayout,
        config: &BufferConfig,
        context: &mut impl ActivateContext<Self>,
    ) -> bool {
        let channels = layout
            .main_output_channels
            .map_or(CHANNELS, |count| count.get() as usize);
        let Ok(rate) = SampleRate::new(f64::from(config.sample_rate)) else {
            return false;
        };
        let frames = config.max_buffer_size.max(1) as usize;
        // A panic must not cross the host's C interface, here as in `process`.
        let prepared = catch_unwind(AssertUnwindSafe(|| {
            Engine::prepare(&self.params, rate, channels.min(CHANNELS), frames)
        }));
        let Ok(engine) = prepared else {
            return false;
        };
        let latency = engine.latency_frames() as u32;
        context.set_latency_samples(latency);
        self.bridge.latency_frames.store(latency, Ordering::Relaxed);
        let hz = config.sample_rate.round() as u32;
        self.bridge.sample_rate_hz.store(hz, Ordering::Relaxed);
        self.bridge
            .channels
            .store(channels as u32, Ordering::Relaxed);
        self.bridge.mend();
        self.engine = Some(engine);
        true
    }

    fn reset(&mut self) {
        if let Some(engine) = &mut self.engine {
            engine.reset(&self.params, &self.bridge);
        }
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _: &mut AuxiliaryBuffers,
        _: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        if let Some(engine) = &mut self.engine {
            #[cfg(feature = "editor")]
            let open = self.link.is_open();
            #[cfg(not(feature = "editor"))]
            let open = false;
            let moved = engine.process(buffer.as_slice(), &self.params, &self.bridge, open);
            #[cfg(feature = "editor")]
            if moved {
                self.link.repaint();
            }
            #[cfg(not(feature = "editor"))]
            let _ = moved;
        }
        ProcessStatus::Normal
    }

    fn deactivate(&mut self) {
        self.engine = None;
    }
}

/// Makes the window's desk when it opens.
#[cfg(feature = "editor")]
pub struct DeskMaker {
    params: Arc<PlanParams>,
    bridge: Arc<Bridge>,
    link: crate::editor::Link,
    ceilings: crate::levels::SharedCeilings,
    stages: crate::stages::SharedStages,
}

#[cfg(feature = "editor")]
impl crate::editor::DeskFactory for DeskMaker {
    type Desk = crate::desk::PluginDesk;

    fn desk(&self, host: nice_plug::context::gui::GuiContext) -> Self::Desk {
        let link = self.link.clone();
        let levels = crate::levels::Levels::start(self.ceilings.clone(), move || link.repaint());
        let link = self.link.clone();
        let stages = crate::stages::Stages::start(self.stages.clone(), move || link.repaint());
        let (params, bridge) = (self.params.clone(), self.bridge.clone());
        crate::desk::PluginDesk::new(params, bridge, Some(host), levels, stages)
    }
}

impl ClapPlugin for Penstock {
    const CLAP_ID: &'static str = "org.penstock.penstock";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("A line-level bus through a pad into a tube preamplifier, and back");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[
        ClapFeature::AudioEffect,
        ClapFeature::Distortion,
        ClapFeature::Utility,
        ClapFeature::Mono,
        ClapFeature::Stereo,
    ];

    fn remote_controls(&self, context: &mut impl RemoteControlsContext) {
        let params = &self.params;
        context.add_section("Penstock", |section| {
            section.add_page("Drive", |page| {
                for id in [
                    "send.trim_db",
                    "pad.loss_db",
                    "preamp.attenuator_db",
                    "preamp.gain_db",
                ] {
                    add(page, params, id);
                }
                for id in ["return.trim_db", "send.polarity", "oversampling", "bypass"] {
                    add(page, params, id);
                }
            });
            section.add_page("Pad", |page| {
                for id in [
                    "pad.network",
                    "pad.loss_db",
                    "pad.loss_kind",
                    "pad.in_ohms_min",
                ] {
                    add(page, params, id);
                }
                for id in ["pad.in_ohms", "pad.in_exact", "pad.out_ohms", "pad.series"] {
                    add(page, params, id);
                }
            });
            section.add_page("Pads in detail", |page| {
                for id in [
                    "pad.parts",
                    "pad.resistor_1_ohms",
                    "pad.resistor_2_ohms",
                    "pad.resistor_3_ohms",
                ] {
                    add(page, params, id);
                }
                add(page, params, "return.pad_db");
            });
        });
    }
}

fn add(page: &mut impl RemoteControlsPage, params: &PlanParams, id: &str) {
    use crate::params::ParamKind;
    match params.find(id).map(|parameter| &parameter.value) {
        Some(ParamKind::Float(param)) => page.add_param(param),
        Some(ParamKind::Int(param)) => page.add_param(param),
        Some(ParamKind::Bool(param)) => page.add_param(param),
        None => page.add_spacer(),
    }
}

impl Vst3Plugin for Penstock {
    const VST3_CLASS_ID: [u8; 16] = *b"PenstockPadPreAm";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] = &[
        Vst3SubCategory::Fx,
        Vst3SubCategory::Distortion,
        Vst3SubCategory::Tools,
    ];
}
