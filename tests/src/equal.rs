//! What is heard in a host against what `penstock render` writes.

use std::path::Path;

use crate::host::{Audio, Bundle, Plugin, Setting, arguments, random_plan};
use crate::random::Random;
use crate::run::run_in;
use crate::wave::Wave;

/// Of full scale.
const EQUAL: f64 = 1e-6;
/// +6 dBFS: where the plugin, last of all, bounds what it puts out; `render` does not.
pub const BOUND: f32 = 1.995_262_3;
/// How many random plans are compared each way.
pub const PLANS: u64 = 20;

/// A rate for a plan: most projects run at 48 kHz, but none is left out.
fn rate_of(plan: u64) -> u32 {
    [
        48_000, 44_100, 96_000, 48_000, 88_200, 48_000, 192_000, 44_100,
    ][(plan % 8) as usize]
}

/// The programme of a plan: music after 0.1 s of silence.
#[must_use]
pub fn programme(plan: u64) -> Wave {
    let rate = rate_of(plan);
    let mut wave = Wave::music(rate, 0.95, 0.6, plan);
    let silence = Wave::silence(rate, 0.1);
    wave.samples.splice(0..0, silence.samples.repeat(2));
    wave
}

/// What `penstock render` makes of `wave` with the plan that these texts mean, bounded as the
/// plugin bounds.
///
/// # Panics
/// When the program refuses the plan.
#[must_use]
pub fn rendered(dir: &Path, wave: &Wave, texts: &[Setting]) -> Wave {
    wave.write(&dir.join("in.wav"));
    let mut args = vec![
        "render".to_owned(),
        "in.wav".to_owned(),
        "out.wav".to_owned(),
    ];
    args.push("--force".to_owned());
    args.extend(arguments(texts));
    let outcome = run_in(dir, &args);
    assert_eq!(outcome.status, 0, "{args:?}: {}", outcome.stderr);
    let (mut wave, ..) = Wave::read(&dir.join("out.wav"));
    for sample in &mut wave.samples {
        *sample = sample.clamp(-BOUND, BOUND);
    }
    wave
}

/// Asserts that `got`, which is `latency` late, is `want`, and gives the largest difference; frames
/// that `got` does not reach are not compared.
///
/// # Panics
/// When they differ by more than 1e-6 of full scale anywhere.
#[track_caller]
pub fn assert_equal(what: &str, got: &Audio, latency: usize, want: &Audio) -> f64 {
    let mut most = 0.0f64;
    for (channel, (got, want)) in got.iter().zip(want).enumerate() {
        let pairs = got[latency..].iter().zip(want);
        for (frame, (got, want)) in pairs.enumerate() {
            let off = (f64::from(*got) - f64::from(*want)).abs();
            assert!(
                off <= EQUAL,
                "{what}: channel {channel}, frame {frame}: {got}, render writes {want}"
            );
            most = most.max(off);
        }
    }
    assert_eq!(got.len(), want.len());
    most
}

/// An instance with a random plan, and the texts it then has.
#[must_use]
pub fn planned(random: &mut Random) -> (Plugin, Vec<Setting>) {
    let mut plugin = Bundle::load().instance();
    plugin.set_texts(&random_plan(random));
    let texts = plugin.texts();
    (plugin, texts)
}

/// Asserts that most plans are heard, or equality would say nothing.
///
/// # Panics
/// When most are silent.
pub fn assert_heard(peaks: &[f64]) {
    let heard = peaks.iter().filter(|peak| **peak > 1e-3).count();
    assert!(2 * heard > peaks.len(), "most plans are silent: {peaks:?}");
}
