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
//! This is model version 2: one circuit, solved as a whole. [`ELEMENTS`] is its only description;
//! from it come the equations (`equations`, `model`), laid out for the processor (`network`, `tables`) and
//! solved sample by sample (`solver`; `careful`, `newton` and `followed` where that is not simple).

mod ahead;
mod apart;
mod before;
mod careful;
mod core;
mod currents;
mod deck;
mod direction;
mod elements;
mod equations;
mod followed;
mod group;
pub(crate) mod lanes;
mod matrix;
mod model;
mod network;
mod newton;
mod noise;
mod output;
mod places;
mod preamp;
mod quick;
mod random;
mod region;
mod rows;
mod small;
mod solver;
mod tables;
mod triode;
mod unrest;
mod ways;
mod wires;

pub use core::{Core, CoreCurrent};
pub use deck::write_deck;
pub use elements::{
    ELEMENTS, Element, GAIN_LOAD_OHMS, GAIN_STEPS_DB, Kind, Node, STATED_HZ, SUPPLY_VOLTS, T1_CORE,
    T2_CORE, Value, step_of,
};
pub(crate) use equations::STATES;
pub(crate) use matrix::solve;
pub use noise::{
    BOLTZMANN, ROOM_KELVIN, equivalent_input_noise, output_noise, output_noise_volts,
    tube_noise_ohms,
};
pub use output::out_ohms;
pub use places::{gains_at_points, noise_at_points};
pub use preamp::{
    DELAY_SAMPLES, MOST_TAPPED, OperatingPoint, Preamp, Settings, SmallSignal, Tapped, Taps,
    in_ohms,
};
pub(crate) use solver::Seen;
pub use triode::{
    Currents, ECC83_EHX_1, ECC83_KOREN_1996, ECC83_RSD_1, ECC83_RSD_2, ECC88_KOREN_1996, GridLaw,
    PlateLaw, Triode,
};
