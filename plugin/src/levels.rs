//! The level diagram's figures for the window, found on a thread of their own: floors at once, ceilings
//! by a search that a newer plan stops. The thread lives as long as the window.

use penstock_dsp::diagram::{CeilingCache, LevelDiagram, distortion_ceilings};
use penstock_dsp::plan::Plan;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// A plan that has stood so long is searched: a drag is not.
const QUIET: Duration = Duration::from_millis(250);

/// Ceilings found before, shared by every opening of the window.
pub type SharedCeilings = Arc<Mutex<CeilingCache>>;

/// What has been found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// The figures, without a programme; `None` before the first, or when the pad cannot be built.
    pub diagram: Option<LevelDiagram>,
    /// Whether the ceilings by distortion are in it.
    pub complete: bool,
}

/// What is asked of the thread.
#[derive(Debug, Default)]
struct Asked {
    plan: Option<Plan>,
    /// Whether the thread has not taken it yet.
    is_new: bool,
    closing: bool,
}

#[derive(Debug, Default)]
struct Shared {
    asked: Mutex<Asked>,
    wake: Condvar,
    /// Set while what is searched is no longer wanted.
    stop: AtomicBool,
    found: Mutex<Found>,
}

/// The thread, as its window holds it. Dropped, it ends the search and waits for the thread, some
/// milliseconds: the host may unload the code next.
#[derive(Debug)]
pub struct Levels {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// Every value is whole after every step, so a panic elsewhere does not spoil it.
pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Levels {
    /// Starts the thread; `tell` is called when there is something new.
    #[must_use]
    pub fn start(cache: SharedCeilings, tell: impl Fn() + Send + 'static) -> Self {
        let shared = Arc::new(Shared::default());
        let inside = Arc::clone(&shared);
        let thread = std::thread::Builder::new().name("penstock levels".to_owned());
        // Without a thread the window has no diagram, and all else.
        let thread = thread.spawn(move || inside.run(&cache, &tell)).ok();
        Self { shared, thread }
    }

    /// Asks for a plan's figures, unless they were asked for last. Waits for nothing.
    pub fn ask(&self, plan: &Plan) {
        let mut asked = lock(&self.shared.asked);
        if asked.plan.as_ref() != Some(plan) {
            asked.plan = Some(*plan);
            asked.is_new = true;
            self.shared.stop.store(true, Ordering::Relaxed);
            self.shared.wake.notify_one();
        }
    }

    /// What has been found, perhaps for a plan asked for a moment ago.
    #[must_use]
    pub fn found(&self) -> Found {
        lock(&self.shared.found).clone()
    }
}

impl Drop for Levels {
    fn drop(&mut self) {
        lock(&self.shared.asked).closing = true;
        self.shared.stop.store(true, Ordering::Relaxed);
        self.shared.wake.notify_one();
        if let Some(thread) = self.thread.take() {
            // A panic there was its own: there is no diagram then.
            let _ = thread.join();
        }
    }
}

impl Shared {
    fn run(&self, cache: &SharedCeilings, tell: &dyn Fn()) {
        while let Some(plan) = self.next() {
            let mut diagram = LevelDiagram::of_plan(&plan).ok();
            let mut complete = false;
            if let (Some(diagram), Some(found)) = (&mut diagram, lock(cache).find(&plan)) {
                diagram.add_ceilings(found);
                complete = true;
            }
            self.put(&diagram, complete);
            tell();
            let Some(mut diagram) = diagram.filter(|_| !complete && self.stands()) else {
                continue;
            };
            if let Ok(Some(found)) = distortion_ceilings(&plan, &self.stop) {
                diagram.add_ceilings(&found);
                lock(cache).keep(&plan, found);
                self.put(&Some(diagram), true);
                tell();
            }
        }
    }

    fn put(&self, diagram: &Option<LevelDiagram>, complete: bool) {
        *lock(&self.found) = Found {
            diagram: diagram.clone(),
            complete,
        };
    }

    /// Waits for the next plan; `None` when the window closes.
    fn next(&self) -> Option<Plan> {
        let asked = lock(&self.asked);
        let mut asked = self
            .wake
            .wait_while(asked, |asked| !asked.is_new && !asked.closing)
            .unwrap_or_else(PoisonError::into_inner);
        if asked.closing {
            return None;
        }
        asked.is_new = false;
        self.stop.store(false, Ordering::Relaxed);
        asked.plan
    }

    /// Whether nothing newer is asked for within a moment.
    fn stands(&self) -> bool {
        let asked = lock(&self.asked);
        let (_asked, waited) = self
            .wake
            .wait_timeout_while(asked, QUIET, |asked| !asked.is_new && !asked.closing)
            .unwrap_or_else(PoisonError::into_inner);
        waited.timed_out()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Instant;

    fn wait(levels: &Levels, until: impl Fn(&Found) -> bool) -> Found {
        let start = Instant::now();
        loop {
            let found = levels.found();
            if until(&found) {
                return found;
            }
            assert!(start.elapsed() < Duration::from_secs(120), "{found:?}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    #[test]
    fn ceilings_come_after_floors_and_are_kept_for_the_next_window() {
        let cache = SharedCeilings::default();
        let plan = Plan::default();
        let levels = Levels::start(cache.clone(), || {});
        levels.ask(&plan);
        let first = wait(&levels, |found| found.diagram.is_some());
        assert!(!first.complete);
        let last = wait(&levels, |found| found.complete);
        let mut expected = LevelDiagram::of_plan(&plan).expect("a pad");
        let searched = distortion_ceilings(&plan, &AtomicBool::new(false));
        expected.add_ceilings(&searched.expect("a pad").expect("not stopped"));
        assert_eq!(last.diagram, Some(expected));
        drop(levels);
        let again = Levels::start(cache, || {});
        again.ask(&plan);
        assert!(wait(&again, |found| found.diagram.is_some()).complete);
    }

    #[test]
    fn a_window_that_closes_does_not_wait_for_the_search() {
        let levels = Levels::start(SharedCeilings::default(), || {});
        levels.ask(&Plan::default());
        wait(&levels, |found| found.diagram.is_some());
        std::thread::sleep(QUIET + Duration::from_millis(100));
        let start = Instant::now();
        drop(levels);
        assert!(start.elapsed() < Duration::from_secs(1));
    }
}
