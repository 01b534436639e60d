//! The plugin's window: the level diagram, live, and under its points the controls in the order of
//! the insert loop.
//!
//! [`ui`] draws it over the [`Desk`] trait, so that it can be drawn and tested without a host;
//! `window` binds it to the plugin framework.

mod choice;
mod clips;
mod compare;
mod consequence;
mod desk;
mod diagram;
mod entry;
mod field;
mod footer;
mod format;
mod gesture;
mod harmonics;
mod held;
mod history;
mod list;
#[cfg(all(feature = "trap", target_os = "linux"))]
mod map;
#[cfg(test)]
mod mock;
mod notes;
mod panel;
#[cfg(target_os = "linux")]
mod present;
mod presets;
mod rig;
mod row;
mod section;
mod status;
#[cfg(test)]
mod tests;
mod theme;
mod toggle;
mod topbar;
mod trace;
mod tracked;
mod ui;
mod view;
mod window;
#[cfg(target_os = "linux")]
mod xembed;

pub use choice::Stops;
pub use consequence::consequence;
pub use desk::{Control, Desk, Kind, Note, PointReadout, Readout, RigMemory, Section};
pub use history::{History, Move, Step};
pub use tracked::Tracked;
pub use ui::ui;
pub use view::{DEFAULT_SIZE, MIN_SIZE, Meter, View, ViewState, ZOOM_PERCENT};
pub use window::{DeskFactory, Handle, Link, Window};
