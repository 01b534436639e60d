//! Audio that goes on while the main thread does something else, as in any host.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::Duration;

use super::audio::{Audio, Running, blocks_of};

/// Frames of a block.
const BLOCK: usize = 480;
/// Between two blocks: they take the rest of the 10 ms that they last at 48 kHz.
const PAUSE: Duration = Duration::from_millis(8);

/// How far the audio is.
#[derive(Debug, Default)]
pub struct Played {
    frames: AtomicU64,
    stop: AtomicBool,
}

impl Played {
    /// Frames played so far.
    #[must_use]
    pub fn frames(&self) -> u64 {
        self.frames.load(Ordering::SeqCst)
    }
}

/// Lets the audio end when what is done meanwhile panics, too.
struct Stop<'a>(&'a Played);

impl Drop for Stop<'_> {
    fn drop(&mut self) {
        self.0.stop.store(true, Ordering::SeqCst);
    }
}

/// Plays a piece again and again, nearly at the clock's pace, as long as `act` takes.
///
/// # Panics
/// When the piece is shorter than a block, or what comes out is not finite.
pub fn while_playing<T>(running: &mut Running, piece: &Audio, act: impl FnOnce(&Played) -> T) -> T {
    let played = Played::default();
    assert!(piece[0].len() >= BLOCK, "a piece of a block at least");
    thread::scope(|scope| {
        let _stop = Stop(&played);
        scope.spawn(|| play(running, piece, &played));
        act(&played)
    })
}

fn play(running: &mut Running, piece: &Audio, played: &Played) {
    for from in (0..=piece[0].len() - BLOCK).step_by(BLOCK).cycle() {
        if played.stop.load(Ordering::SeqCst) {
            return;
        }
        let part = piece
            .iter()
            .map(|samples| samples[from..from + BLOCK].to_vec());
        let got = running.run(&part.collect(), blocks_of(BLOCK), &[]);
        assert!(got.iter().flatten().all(|sample| sample.is_finite()));
        played.frames.fetch_add(BLOCK as u64, Ordering::SeqCst);
        thread::sleep(PAUSE);
    }
}
