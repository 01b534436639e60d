//! Quantities as types: points (levels) apart from differences (gains), ohms, volts, hertz.
//!
//! The rule is the same as for instants and durations. A level minus a level is a gain in dB, a
//! level plus a gain is a level, and two levels cannot be added:
//!
//! ```
//! use penstock_dsp::units::{Db, Dbu};
//! let line = Dbu(4.0);
//! assert_eq!(line - Db(40.0), Dbu(-36.0));
//! assert_eq!(Dbu(-36.0) - line, Db(-40.0));
//! ```
//!
//! ```compile_fail
//! use penstock_dsp::units::Dbu;
//! let nonsense = Dbu(4.0) + Dbu(4.0);
//! ```
//!
//! Levels on different scales do not mix either:
//!
//! ```compile_fail
//! use penstock_dsp::units::{Dbfs, Dbu};
//! let nonsense = Dbu(4.0) - Dbfs(-18.0);
//! ```

mod electric;
mod level;
mod rate;

pub use electric::{Ohms, Volts, VoltsPeak, parallel};
pub use level::{Db, Dbfs, Dbu, Dbv, SINE_PEAK_OVER_RMS};
pub use rate::{RateError, SampleRate};
