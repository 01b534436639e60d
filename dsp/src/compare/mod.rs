//! Comparing settings fairly: measured loudness, fixed trims.

mod loudness;
mod trim;

pub use loudness::LoudnessMeter;
pub use trim::{Measured, Trims, trims};
