//! The level diagram's figures for the window, found on a thread of their own: floors at once, ceilings
//! by a search that a newer plan stops. The thread lives as long as the window.

use crate::worker::{Ask, Wishes, Worker, lock};
use penstock_dsp::diagram::{CeilingCache, LevelDiagram, distortion_ceilings};
use penstock_dsp::plan::Plan;
use std::sync::{Arc, Mutex};
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

/// The thread, as its window holds it.
#[derive(Debug)]
pub struct Levels {
    worker: Worker<Option<Plan>>,
    found: Arc<Mutex<Found>>,
}

impl Levels {
    /// Starts the thread; `tell` is called when there is something new.
    #[must_use]
    pub fn start(cache: SharedCeilings, tell: impl Fn() + Send + 'static) -> Self {
        let found = Arc::<Mutex<Found>>::default();
        let inside = Arc::clone(&found);
        let put = move |diagram: &Option<LevelDiagram>, complete| {
            *lock(&inside) = Found {
                diagram: diagram.clone(),
                complete,
            };
            tell();
        };
        let worker = Worker::start("penstock levels", None, move |wishes| {
            run(wishes, &cache, &put);
        });
        Self { worker, found }
    }

    /// Asks for a plan's figures, unless they were asked for last. Waits for nothing.
    pub fn ask(&self, plan: &Plan) {
        self.worker.ask(|wish| {
            if wish.as_ref() == Some(plan) {
                return Ask::Nothing;
            }
            *wish = Some(*plan);
            Ask::Instead
        });
    }

    /// What has been found, perhaps for a plan asked for a moment ago.
    #[must_use]
    pub fn found(&self) -> Found {
        lock(&self.found).clone()
    }
}

fn run(
    wishes: &Wishes<Option<Plan>>,
    cache: &SharedCeilings,
    put: &dyn Fn(&Option<LevelDiagram>, bool),
) {
    while let Some(Some(plan)) = wishes.next(Duration::ZERO, |_| ()) {
        let mut diagram = LevelDiagram::of_plan(&plan).ok();
        let mut complete = false;
        if let (Some(diagram), Some(found)) = (&mut diagram, lock(cache).find(&plan)) {
            diagram.add_ceilings(found);
            complete = true;
        }
        put(&diagram, complete);
        let Some(mut diagram) = diagram.filter(|_| !complete && wishes.stands(QUIET)) else {
            continue;
        };
        if let Ok(Some(found)) = distortion_ceilings(&plan, wishes.stop()) {
            diagram.add_ceilings(&found);
            lock(cache).keep(&plan, found);
            put(&Some(diagram), true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicBool;
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
