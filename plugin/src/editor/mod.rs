//! The plugin's window: the level diagram, live, and under its points the controls in the order of
//! the insert loop.
//!
//! [`ui`] draws it over the [`Desk`] trait, so that it can be drawn and tested without a host;
//! `window` binds it to the plugin framework.

mod choice;
mod clips;
mod consequence;
mod desk;
mod diagram;
mod entry;
mod field;
mod format;
mod gesture;
mod held;
mod history;
#[cfg(test)]
mod mock;
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

pub use consequence::consequence;
pub use desk::{Control, Desk, Kind, PointReadout, Readout, Section};
pub use history::{History, Move};
pub use tracked::Tracked;
pub use ui::ui;
pub use view::{DEFAULT_SIZE, MIN_SIZE, View, ViewState, ZOOM_PERCENT};
pub use window::{DeskFactory, Handle, Link, Window};
