//! What the tests of the whole program share.
//!
//! The tests run the program as its users do, as a binary, and hold it against things that were not
//! written here: textbook tables, standards, scikit-rf, numpy, pyloudnorm, real recordings. Each
//! check names its source beside it.
//!
//! Environment:
//! - `PENSTOCK_BIN`: the program to test; without it, the release build of this workspace.
//! - `PENSTOCK_BUNDLES`: the folder with `Penstock.clap` and `Penstock.vst3` to test;
//!   `cargo xtask test` builds both and sets it.
//! - `PENSTOCK_PYTHON`: the Python to use; without it, `.venv/bin/python` of this workspace.
//! - `PENSTOCK_LONG`: set (and not `0`) to run the slow cases too.
//!
//! A missing tool fails a test with the command that installs it; nothing is skipped in silence.

pub mod base64;
pub mod bench;
pub mod broken;
pub mod check;
pub mod clicks;
pub mod comparison;
pub mod driven;
pub mod equal;
pub mod golden;
pub mod host;
pub mod judge;
pub mod levels;
pub mod music;
pub mod network;
pub mod pads;
pub mod random;
pub mod readme;
pub mod recordings;
pub mod run;

pub mod schematic;
pub mod spice;
pub mod stage;
pub mod states;
pub mod table;
pub mod temp;
pub mod tools;
pub mod wave;

pub use check::{assert_near, assert_ratio, keys, list, number, text};
pub use network::{Losses, Tee};
pub use run::{Outcome, json, json_in, refused, refused_in, run, run_in};
pub use table::Table;
pub use temp::TempDir;
pub use tools::{bundle, long, python};
pub use wave::Wave;
