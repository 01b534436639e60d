//! How the window looks: kept in the plugin's state beside the parameters, and nothing else there.

use nice_plug::params::persist::PersistentField;
use penstock_dsp::meter::MeterKind;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Zoom factors offered, in percent.
pub const ZOOM_PERCENT: [u16; 6] = [100, 125, 150, 200, 250, 300];
/// Smallest window at 100 %, in points: everything is legible there without a scroll bar.
pub const MIN_SIZE: [f32; 2] = [760.0, 480.0];
/// Window of a new instance, in points.
pub const DEFAULT_SIZE: [f32; 2] = [860.0, 620.0];
/// Nobody has a larger screen, and a broken state shall not ask the host for one.
const MAX_SIZE: [f32; 2] = [8192.0, 8192.0];

/// The meter that is read beside peak and RMS; saved by its name, one that is not known is the default.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Meter(pub MeterKind);

impl Serialize for Meter {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.name())
    }
}

impl<'de> Deserialize<'de> for Meter {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        Ok(Self(MeterKind::from_name(&name).unwrap_or_default()))
    }
}

/// Size and look of the window.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct View {
    /// Width and height in points, zoom not counted.
    pub size: [f32; 2],
    /// Zoom on top of the screen's own scale, 100 to 300.
    pub zoom_percent: u16,
    /// Light text on dark ground.
    pub dark: bool,
    /// Whether the rig is unfolded.
    pub rig_open: bool,
    /// Whether the rarely needed controls are unfolded.
    pub details_open: bool,
    /// Whether the notes are unfolded where they have no place beside the diagram.
    pub notes_open: bool,
    /// The same of the table of harmonics.
    pub harmonics_open: bool,
    /// The same of the comparison with the bus.
    pub compare_open: bool,
    /// Whether latency and load of the processor are shown.
    pub load_shown: bool,
    /// The meter read beside peak and RMS.
    pub meter: Meter,
}

impl Default for View {
    fn default() -> Self {
        Self {
            size: DEFAULT_SIZE,
            zoom_percent: 100,
            dark: false,
            rig_open: false,
            details_open: false,
            notes_open: false,
            harmonics_open: false,
            compare_open: false,
            load_shown: false,
            meter: Meter::default(),
        }
    }
}

impl View {
    /// Within the limits, whatever a state file says. A window zoomed beyond the screen is smaller
    /// than [`MIN_SIZE`] in points: only its pixels have a lower limit.
    #[must_use]
    pub fn clamped(mut self) -> Self {
        let zoom = self.zoom_percent.clamp(100, 300);
        for ((size, default), (min, max)) in self
            .size
            .iter_mut()
            .zip(DEFAULT_SIZE)
            .zip(MIN_SIZE.into_iter().zip(MAX_SIZE))
        {
            let zoom = f32::from(zoom) / 100.0;
            *size = if size.is_finite() {
                size.clamp(min / zoom, max / zoom)
            } else {
                default
            };
        }
        self.zoom_percent = zoom;
        self
    }

    /// The zoom as a factor, 1 to 3.
    #[must_use]
    pub fn zoom(&self) -> f32 {
        f32::from(self.zoom_percent) / 100.0
    }
}

/// The [`View`] that params, window and host thread share: a `#[persist]` field.
#[derive(Debug, Default)]
pub struct ViewState(Mutex<View>);

impl ViewState {
    /// The view now.
    #[must_use]
    pub fn get(&self) -> View {
        *self.lock()
    }

    /// Replaces it, within the limits.
    pub fn put(&self, view: View) {
        *self.lock() = view.clamped();
    }

    /// Changes it, within the limits.
    pub fn change(&self, change: impl FnOnce(&mut View)) {
        let mut view = self.lock();
        change(&mut view);
        *view = view.clamped();
    }

    /// A view is whole after every step, so a panic elsewhere does not spoil it.
    fn lock(&self) -> MutexGuard<'_, View> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl PersistentField<'_, View> for ViewState {
    fn set(&self, new_value: View) {
        self.put(new_value);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&View) -> R,
    {
        f(&self.get())
    }
}
