//! What the tests of the window share: the plugin's own desk over a host that is only a log, sound
//! through the plugin's own engine, and a screen without a display.
//!
//! A package of its own, outside the default build: what it stands on is wanted by nobody else.

pub mod cost;
mod home;
mod host;
mod screen;
mod stage;
mod walk;

pub use host::{Asked, Host};
pub use screen::{Screen, Shared};
pub use stage::{RATE_HZ, Stage, programme};
pub use walk::{Walk, Window, cpu_seconds, named, process_cpu_seconds};
