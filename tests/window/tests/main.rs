//! The window as a function.

mod events;
mod labels;
mod legible;
mod pictures;
mod timing;
