//! One instance while it does not process: parameters, state, ports.

use std::ffi::CString;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread;
use std::time::{Duration, Instant};

use clack_extensions::audio_ports::{AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use clack_extensions::latency::PluginLatency;
pub use clack_extensions::params::ParamInfoFlags as ParamFlags;
use clack_extensions::params::{ParamInfoBuffer, PluginParams};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_host::events::event_types::ParamValueEvent;
use clack_host::extensions::prelude::{Extension, PluginExtensionSide};
use clack_host::prelude::*;

use super::audio::Running;
use super::handlers::{Handlers, Requests};

/// What the plugin says of one parameter.
#[derive(Clone, Debug, PartialEq)]
pub struct Param {
    /// CLAP's numeric id.
    pub id: u32,
    /// Name for people.
    pub name: String,
    /// Its section.
    pub module: String,
    /// Smallest value, in CLAP's unit: 0.
    pub min: f64,
    /// Largest value, in CLAP's unit: 1, or the last place of a list.
    pub max: f64,
    /// Where it starts.
    pub default: f64,
    /// Stepped, bypass and so on.
    pub flags: ParamFlags,
}

/// One instance, activated or not.
pub struct Plugin {
    instance: PluginInstance<Handlers>,
    requests: Arc<Requests>,
    /// Whether its window is open.
    pub(super) shown: bool,
}

impl Drop for Plugin {
    fn drop(&mut self) {
        // A test that fails must end as a test, not as a host that breaks the rules.
        if self.shown {
            self.destroy_window();
        }
    }
}

impl Plugin {
    pub(super) fn new(instance: PluginInstance<Handlers>, requests: Arc<Requests>) -> Self {
        Self {
            instance,
            requests,
            shown: false,
        }
    }

    /// What it has asked of its host.
    #[must_use]
    pub fn requests(&self) -> &Requests {
        &self.requests
    }

    /// An extension of its.
    ///
    /// # Panics
    /// When it has none of the kind.
    pub(super) fn extension<E: Extension<ExtensionSide = PluginExtensionSide>>(&self) -> E {
        let found = self.instance.plugin_shared_handle().get_extension();
        found.unwrap_or_else(|| panic!("the plugin lacks {:?}", E::IDENTIFIERS))
    }

    /// The handle that extensions take.
    pub(super) fn handle(&mut self) -> PluginMainThreadHandle<'_> {
        self.instance.plugin_handle()
    }

    /// Every parameter, in its order.
    ///
    /// # Panics
    /// When it counts one that it does not describe.
    #[must_use]
    pub fn params(&mut self) -> Vec<Param> {
        let params: PluginParams = self.extension();
        let handle = self.handle();
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let describe = |index| {
            let mut buffer = ParamInfoBuffer::new();
            let info = params
                .get_info(&handle, index, &mut buffer)
                .unwrap_or_else(|| panic!("parameter {index} is counted but not described"));
            Param {
                id: info.id.get(),
                name: text(info.name),
                module: text(info.module),
                min: info.min_value,
                max: info.max_value,
                default: info.default_value,
                flags: info.flags,
            }
        };
        (0..params.count(&handle)).map(describe).collect()
    }

    /// The value of a parameter, in CLAP's unit.
    ///
    /// # Panics
    /// When there is no such parameter.
    #[must_use]
    pub fn get(&mut self, id: u32) -> f64 {
        let params: PluginParams = self.extension();
        params
            .get_value(&self.handle(), ClapId::new(id))
            .unwrap_or_else(|| panic!("no parameter {id}"))
    }

    /// A value as the plugin words it.
    ///
    /// # Panics
    /// When it has no words for it.
    #[must_use]
    pub fn text_of(&mut self, id: u32, value: f64) -> String {
        let params: PluginParams = self.extension();
        let mut buffer = [0; 256];
        let text = params.value_to_text(&self.handle(), ClapId::new(id), value, &mut buffer);
        let text = text.unwrap_or_else(|_| panic!("no text for {value} of parameter {id}"));
        String::from_utf8(text.to_vec()).expect("texts are UTF-8")
    }

    /// The current value of a parameter in words.
    #[must_use]
    pub fn text(&mut self, id: u32) -> String {
        let value = self.get(id);
        self.text_of(id, value)
    }

    /// What the plugin understands by a typed text, in CLAP's unit; nothing when it refuses it.
    ///
    /// # Panics
    /// When the text holds a zero byte.
    #[must_use]
    pub fn typed(&mut self, id: u32, text: &str) -> Option<f64> {
        let params: PluginParams = self.extension();
        let text = CString::new(text).expect("no zero byte can be typed");
        params.text_to_value(&self.handle(), ClapId::new(id), &text)
    }

    /// Sets a parameter while inactive.
    ///
    /// # Panics
    /// When the plugin is active.
    pub fn set(&mut self, id: u32, value: f64) {
        let params: PluginParams = self.extension();
        let change = [ParamValueEvent::new(
            0,
            ClapId::new(id),
            Pckn::match_all(),
            value,
        )];
        let mut told = EventBuffer::new();
        let mut handle = self
            .instance
            .inactive_plugin_handle()
            .expect("set() is for inactive plugins");
        params.flush(
            &mut handle,
            &InputEvents::from_buffer(&change),
            &mut OutputEvents::from_buffer(&mut told),
        );
    }

    /// The state, as the bytes that a project keeps.
    ///
    /// # Panics
    /// When saving fails.
    #[must_use]
    pub fn save(&mut self) -> Vec<u8> {
        let state: PluginState = self.extension();
        let mut bytes = Vec::new();
        state
            .save(&self.handle(), &mut bytes)
            .expect("the plugin saves its state");
        bytes
    }

    /// Loads a state; whether the plugin took it.
    pub fn load(&mut self, bytes: &[u8]) -> bool {
        let state: PluginState = self.extension();
        state.load(&self.handle(), &mut &bytes[..]).is_ok()
    }

    /// Latency in frames, as told to the host.
    #[must_use]
    pub fn latency(&mut self) -> usize {
        let latency: PluginLatency = self.extension();
        latency.get(&self.handle()) as usize
    }

    /// Tells it whether time matters; whether it took that.
    pub fn set_offline(&mut self, offline: bool) -> bool {
        let render: PluginRender = self.extension();
        let mode = if offline {
            RenderMode::Offline
        } else {
            RenderMode::Realtime
        };
        render.set(&self.handle(), mode).is_ok()
    }

    /// Channels of every input (or output) port.
    ///
    /// # Panics
    /// When it counts a port that it does not describe.
    #[must_use]
    pub fn ports(&mut self, inputs: bool) -> Vec<u32> {
        let ports: PluginAudioPorts = self.extension();
        let handle = self.handle();
        let channels = |index| {
            let mut buffer = AudioPortInfoBuffer::new();
            let info = ports.get(&handle, index, inputs, &mut buffer);
            info.unwrap_or_else(|| panic!("port {index} is counted but not described"))
                .channel_count
        };
        (0..ports.count(&handle, inputs)).map(channels).collect()
    }

    /// Names and channels of the layouts to choose from.
    #[must_use]
    pub fn layouts(&mut self) -> Vec<(String, u32)> {
        let layouts = self.all_layouts();
        layouts
            .into_iter()
            .map(|(_, name, channels)| (name, channels))
            .collect()
    }

    fn all_layouts(&mut self) -> Vec<(ClapId, String, u32)> {
        let config: PluginAudioPortsConfig = self.extension();
        let handle = self.handle();
        let layout = |index| {
            let mut buffer = AudioPortsConfigBuffer::new();
            let found = config.get(&handle, index, &mut buffer);
            let found = found.unwrap_or_else(|| panic!("layout {index} is not described"));
            let (into, out) = (found.main_input.as_ref(), found.main_output.as_ref());
            let channels = out.map_or(0, |port| port.channel_count);
            assert_eq!(into.map_or(0, |port| port.channel_count), channels);
            let name = String::from_utf8_lossy(found.name).into_owned();
            (found.id, name, channels)
        };
        (0..config.count(&handle)).map(layout).collect()
    }

    /// Chooses the layout with this many channels.
    ///
    /// # Panics
    /// When there is none, or it is refused.
    pub fn choose_channels(&mut self, channels: usize) {
        let layouts = self.all_layouts();
        let wanted = layouts
            .iter()
            .find(|(_, _, count)| *count as usize == channels);
        let (id, ..) = wanted.unwrap_or_else(|| panic!("no layout of {channels} channels"));
        let config: PluginAudioPortsConfig = self.extension();
        config
            .select(&self.handle(), *id)
            .expect("a layout it offers");
    }

    /// Activates it; `channels` must be the chosen layout's.
    ///
    /// # Panics
    /// When it refuses.
    #[must_use]
    pub fn activate(&mut self, rate_hz: f64, max_frames: u32, channels: usize) -> Running {
        let config = PluginAudioConfiguration {
            sample_rate: rate_hz,
            min_frames_count: 1,
            max_frames_count: max_frames,
        };
        self.requests.restart.store(false, Ordering::SeqCst);
        let processor = self.instance.activate(|_, _| (), config);
        let processor = processor
            .unwrap_or_else(|error| panic!("no activation at {rate_hz} Hz, {max_frames}: {error}"));
        Running::new(processor, max_frames as usize, channels)
    }

    /// Deactivates it.
    pub fn deactivate(&mut self, running: Running) {
        self.instance.deactivate(running.into_stopped());
    }

    /// Lets time pass on the main thread, with the callbacks that the plugin asks for.
    pub fn idle(&mut self, time: Duration) {
        let end = Instant::now() + time;
        loop {
            if self.requests.callback.swap(false, Ordering::SeqCst) {
                self.instance.call_on_main_thread_callback();
            }
            let left = end.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return;
            }
            thread::sleep(left.min(Duration::from_millis(5)));
        }
    }
}
