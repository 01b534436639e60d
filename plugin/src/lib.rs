//! Penstock's plugin (CLAP and VST3) and its program, on one chain.

pub mod advice;
#[cfg(feature = "plugin")]
pub mod bridge;
#[cfg(feature = "program")]
pub mod cli;
#[cfg(feature = "editor")]
pub mod desk;
#[cfg(feature = "editor")]
pub mod editor;
#[cfg(feature = "plugin")]
pub mod engine;
#[cfg(feature = "plugin")]
pub mod folder;
#[cfg(feature = "editor")]
pub mod levels;
#[cfg(feature = "editor")]
pub mod library;
#[cfg(feature = "plugin")]
mod load;
#[cfg(feature = "plugin")]
mod loudness;
#[cfg(feature = "plugin")]
mod moved;
#[cfg(feature = "plugin")]
pub mod params;
pub mod presets;
#[cfg(feature = "program")]
pub mod report;
#[cfg(feature = "plugin")]
pub mod rig_file;
#[cfg(feature = "plugin")]
mod shell;
#[cfg(feature = "editor")]
pub mod stages;
#[cfg(feature = "plugin")]
pub mod state;
#[cfg(feature = "plugin")]
pub mod tone;
#[cfg(feature = "editor")]
mod typed;
#[cfg(feature = "editor")]
mod worker;

#[cfg(feature = "plugin")]
mod entry {
    //! The entries that hosts look for.

    use crate::shell::Penstock;
    use nice_plug::prelude::*;

    nice_export_clap!(Penstock);
    nice_export_vst3!(Penstock);
}
