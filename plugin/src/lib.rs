//! Penstock's plugin and program.
#[cfg(feature = "program")]
pub mod cli;
#[cfg(feature = "program")]
pub mod report;
#[cfg(feature = "plugin")]
pub mod params;
