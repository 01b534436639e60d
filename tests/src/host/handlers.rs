//! What the plugin may ask of its host: everything is noted, nothing is done behind a test's back.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};

use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::latency::{HostLatency, HostLatencyImpl};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamRescanFlags,
};
use clack_extensions::state::{HostState, HostStateImpl};
use clack_host::prelude::*;

/// What one instance has asked for so far.
#[derive(Debug, Default)]
pub struct Requests {
    /// Wants to be deactivated and activated again.
    pub restart: AtomicBool,
    /// Wants its main-thread callback; taken by [`super::Plugin::idle`].
    pub callback: AtomicBool,
    /// Has parameter changes of its own to tell.
    pub flush: AtomicBool,
    /// Says its window is gone.
    pub closed: AtomicBool,
    /// Last size its window asked for, width in the high half, in pixels; 0 when it never did.
    pub size: AtomicU64,
    /// How often it said that its latency changed.
    pub latency_changes: AtomicU32,
    /// How often it said that its parameters' values changed.
    pub value_rescans: AtomicU32,
    /// How often it said that its state changed.
    pub dirty_marks: AtomicU32,
}

/// The host as `clack-host` wants it.
pub(super) struct Handlers;

/// Reached from any thread.
pub(super) struct Shared(pub(super) Arc<Requests>);

/// Reached from the main thread.
pub(super) struct Main(pub(super) Arc<Requests>);

impl HostHandlers for Handlers {
    type Shared<'a> = Shared;
    type MainThread<'a> = Main;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _: &Self::Shared<'_>) {
        builder
            .register::<HostGui>()
            .register::<HostLatency>()
            .register::<HostParams>()
            .register::<HostState>();
    }
}

impl SharedHandler<'_> for Shared {
    fn request_restart(&self) {
        self.0.restart.store(true, Ordering::SeqCst);
    }

    fn request_process(&self) {}

    fn request_callback(&self) {
        self.0.callback.store(true, Ordering::SeqCst);
    }
}

impl MainThreadHandler<'_> for Main {}

impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}

    fn request_resize(&self, size: GuiSize) -> Result<(), HostError> {
        let packed = (u64::from(size.width) << 32) | u64::from(size.height);
        self.0.size.store(packed, Ordering::SeqCst);
        Ok(())
    }

    fn request_show(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn request_hide(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn closed(&self, _: bool) {
        self.0.closed.store(true, Ordering::SeqCst);
    }
}

impl HostLatencyImpl for Main {
    fn changed(&self) {
        self.0.latency_changes.fetch_add(1, Ordering::SeqCst);
    }
}

impl HostParamsImplShared for Shared {
    fn request_flush(&self) {
        self.0.flush.store(true, Ordering::SeqCst);
    }
}

impl HostParamsImplMainThread for Main {
    fn rescan(&self, flags: ParamRescanFlags) {
        if flags.contains(ParamRescanFlags::VALUES) {
            self.0.value_rescans.fetch_add(1, Ordering::SeqCst);
        }
    }

    fn clear(&self, _: ClapId, _: ParamClearFlags) {}
}

impl HostStateImpl for Main {
    fn mark_dirty(&self) {
        self.0.dirty_marks.fetch_add(1, Ordering::SeqCst);
    }
}
