//! Comparing settings fairly: fixed trims by measured loudness.

mod trim;

pub use trim::{Measured, Trims, trims};
