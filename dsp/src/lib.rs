//! Penstock's signal path: a digital bus sent at line level through a balanced resistive pad into
//! a microphone preamplifier with tubes and transformers, and back.
//!
//! # Conventions, stated once
//!
//! - **dBFS** follows the sine-RMS convention of AES17: a full-scale sine is 0 dBFS. A sample peak
//!   is another quantity and carries its own name (`peak_dbfs`: 20 log10 of the largest magnitude).
//! - **0 dBu** is sqrt(0.6) V RMS, 0 dBV is 1 V RMS. Volts are RMS unless the name says peak.
//! - **Ohms** are leg to leg. A positive *loss* is a reduction.
//! - A *level* is a point, a *gain* is a difference: level + level does not compile
//!   (see [`units`]).
//! - A *frame* is one sample of every channel.
//! - A converter's full scale is stated unloaded. A bus sample times the send's full-scale peak
//!   volts is the send's unloaded voltage.
//!
//! # The path, in order
//!
//! `bus` -> `line_out` -> `mic_in` -> `transformer_in` -> `grid_1` -> `grid_2` -> `preamp_out` ->
//! `return`; [`chain`] is the only module that knows every block.
//!
//! # What is not here
//!
//! No plugin framework, no window, no file. Blocks share three verbs: `prepare` may allocate,
//! `reset` clears, `process` never allocates, locks, panics or fails.

pub mod alignment;
pub mod analysis;
pub mod chain;
pub mod circuit;
pub mod compare;
pub mod diagram;
pub mod meter;
pub mod oversample;
pub mod pad;
pub mod plan;
pub mod statistics;
pub mod units;
