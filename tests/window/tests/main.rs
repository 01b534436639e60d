//! The window as a function.

mod events;
mod labels;
mod legible;
mod pictures;
mod presets;
mod timing;
