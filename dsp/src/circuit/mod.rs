//! The preamplifier, in volts and ohms.
//!
//! ```text
//!  source      attenuator        T1 1:8         V1            gain switch      V2           T2 2.8:1
//!  EMF behind -- 0 or 20 dB -- primary|second. -- triode -- coupling, divider -- triode -- prim.|sec. -- load
//!  the pad's     (a U pad)     `transformer_in`   `grid_1`                       `grid_2`              `preamp_out`
//!  output ohms `mic_in`
//! ```
//!
//! There is no drive control: what each grid sees follows from the level, the pad, the attenuator
//! and the gain step. The seam to the rest of the path is narrow on purpose: a Thevenin source goes
//! in ([`Settings`], an EMF per sample), the voltage at every point comes out ([`Taps`]).
//!
//! This is model version 1. Each triode is solved on its load line, sample by sample, with grid
//! current and cathode bias ([`Stage`]); the input transformer is a linear network loaded by the
//! grid; the output transformer is a ratio with two corners. Iron that saturates, interaction
//! between stages and noise are left out.

mod elements;
mod input;
mod linear;
mod output;
mod preamp;
mod stage;
mod triode;

pub use elements::GAIN_STEPS_DB;
pub use preamp::{Preamp, Settings, Taps, in_ohms};
pub use stage::{OperatingPoint, Stage, StageElements};
pub use triode::{
    Currents, ECC83_EHX_1, ECC83_KOREN_1996, ECC83_RSD_1, ECC83_RSD_2, ECC88_KOREN_1996, GridLaw,
    PlateLaw, Triode,
};
