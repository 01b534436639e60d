//! A CLAP host small enough to read, for tests: it loads the bundle, moves parameters at frames,
//! processes audio, saves states and opens the window.
//!
//! It stands on `clack-host`, which nobody here wrote, so that the plugin is seen as hosts see it:
//! through the binary interface of the bundle alone. Misbehaviour of the plugin is a panic here,
//! with a sentence that says what was asked.

mod audio;
mod bundle;
mod handlers;
mod hands;
mod plan;
mod playing;
mod plugin;
mod session;
pub mod vst3;
mod window;

pub use audio::{Audio, Change, Running, blocks_of, random_blocks};
pub use bundle::{About, Bundle};
pub use handlers::Requests;
pub use hands::{Hands, MAP, Place};
pub use plan::{Setting, arguments, number_of, random_plan, random_value};
pub use playing::{Played, while_playing};
pub use plugin::{Param, ParamFlags, Plugin};
pub use session::{BOUND, LOUD, Session, assert_bounded, assert_same, rms, settings};
pub use window::{Display, Picture, Window, display};
