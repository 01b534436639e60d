//! A host that does at once what the window asks, and writes it down.

use std::sync::{Arc, Mutex, PoisonError};

use nice_plug::context::PluginApi;
use nice_plug::context::gui::GuiContextInner;
use nice_plug::prelude::{ParamPtr, PluginState};
use penstock::params::PlanParams;

/// What the window asked of the host. Parameters are named by their place in the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked {
    /// A gesture began.
    Begin(usize),
    /// A value was set, normalised.
    Set(usize, f32),
    /// A gesture ended.
    End(usize),
}

/// The host.
pub struct Host {
    params: Arc<PlanParams>,
    log: Mutex<Vec<Asked>>,
}

impl Host {
    /// Of a plugin with these parameters.
    #[must_use]
    pub fn new(params: Arc<PlanParams>) -> Self {
        Self {
            params,
            log: Mutex::default(),
        }
    }

    /// What was asked since the last time.
    #[must_use]
    pub fn take(&self) -> Vec<Asked> {
        std::mem::take(&mut *self.log.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Sets a parameter as a host's automation does: without a gesture, and without a word of it.
    pub fn automate(&self, index: usize, normalized: f32) {
        let pointer = self.params.all[index].pointer();
        // SAFETY: the pointer is into the parameters that this host keeps alive.
        unsafe { pointer._internal_set_normalized_value(normalized) };
    }

    fn note(&self, param: ParamPtr, asked: impl FnOnce(usize) -> Asked) {
        let all = &self.params.all;
        let index = all.iter().position(|known| known.pointer() == param);
        let asked = asked(index.expect("a parameter of this plugin"));
        let mut log = self.log.lock().unwrap_or_else(PoisonError::into_inner);
        log.push(asked);
    }
}

impl GuiContextInner for Host {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }

    unsafe fn raw_begin_set_parameter(&self, param: ParamPtr) {
        self.note(param, Asked::Begin);
    }

    unsafe fn raw_set_parameter_normalized(&self, param: ParamPtr, normalized: f32) {
        self.note(param, |index| Asked::Set(index, normalized));
        // SAFETY: `note` has found it among the parameters that this host keeps alive.
        unsafe { param._internal_set_normalized_value(normalized) };
    }

    unsafe fn raw_end_set_parameter(&self, param: ParamPtr) {
        self.note(param, Asked::End);
    }

    fn get_state(&self) -> PluginState {
        panic!("the window asks for no state")
    }

    fn set_state(&self, _: PluginState) {
        panic!("the window sets no state: a host that stands still would hang it")
    }

    fn request_restart(&self) {
        panic!("the window asks for no restart")
    }
}
