//! The demo: an invented monaural field recording, made by arithmetic on every run.
//!
//! **Nothing in it is real.** No person, place or performance was recorded; no sample is used.
//! Wherever the material appears it carries [`LABEL`].
//!
//! The story it follows: at a harvest supper in the invented village of Wendlemarrow somebody set
//! one microphone before four players and recorded them on a portable machine with the level a
//! little too high. A transfer engineer now has the tape: dull at both ends, harsh in the upper
//! mids, with hiss and a trace of hum, quiet where one string plays and overloaded at the strongest
//! drum strokes. It is the kind of source whose colour one may want to change, and it has quiet
//! and loud passages, so that a level-dependent stage shows what it does to each.
//!
//! Three rooms, in the order of the signal:
//! - `instruments`: how a plucked string, a drum, a reed pipe and a wordless voice are synthesised;
//! - `piece`: the score as a table, and its performance in a barn;
//! - `recorder`: microphone, overloading amplifier, tape with wow, hiss and hum, transfer.
//!
//! Levels: full scale is 1.0; dBFS by the AES17 convention (a full-scale sine is 0 dBFS); the
//! transfer sets the highest peak near -3 dBFS, which puts the loudness near -19.5 LUFS.

mod instruments;
mod piece;
mod recorder;
#[cfg(test)]
mod tests;

/// Sample rate of the demo material, in frames per second.
pub const SAMPLE_RATE_HZ: u32 = 48_000;

/// What the demo material is called wherever it appears: reports, tables, JSON.
pub const LABEL: &str = "Invented demo material: a synthesised field recording of a harvest supper \
                         in the village of Wendlemarrow, which does not exist";

/// A short name; where it stands alone the reader is told that it is invented.
pub const NAME: &str = "Harvest supper at Wendlemarrow";

/// Synthesises the demo material: mono, full scale 1.0, about 20 s at [`SAMPLE_RATE_HZ`].
///
/// All randomness is seeded: every call returns the same bytes. It takes a fraction of a second
/// in a release build.
#[must_use]
pub fn demo() -> Vec<f64> {
    // fundsp's feedback nodes switch the calling thread's processor to flush denormal numbers and
    // never switch it back. In a thread of its own that neither leaks into the caller's arithmetic
    // nor lets the caller's mode into ours.
    let synthesis = std::thread::spawn(|| recorder::record(&piece::perform()).transfer);
    synthesis
        .join()
        .expect("score and settings are constants, and the tests play them all")
}
