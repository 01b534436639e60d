//! A thread that lives as long as the window and works on what the window wishes last.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// Every value is whole after every step, so a panic elsewhere does not spoil it.
pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What a change of the wish asks of the thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ask {
    /// Nothing: it was asked for before.
    Nothing,
    /// To look at it after what is being worked on.
    Next,
    /// To leave that, which is no longer wanted.
    Instead,
}

#[derive(Debug)]
struct Asked<W> {
    wish: W,
    /// Whether the thread has not taken it yet.
    is_new: bool,
    closing: bool,
}

/// The wish, as the thread sees it.
#[derive(Debug)]
pub(crate) struct Wishes<W> {
    asked: Mutex<Asked<W>>,
    wake: Condvar,
    stop: AtomicBool,
}

impl<W> Wishes<W> {
    /// Set while what is worked on is no longer wanted.
    pub(crate) fn stop(&self) -> &AtomicBool {
        &self.stop
    }

    /// Looks at the wish as it is now.
    pub(crate) fn look<R>(&self, at: impl FnOnce(&W) -> R) -> R {
        at(&lock(&self.asked).wish)
    }

    /// Waits for a new wish, until a part of it has stood for `quiet`; `None` when the window closes.
    pub(crate) fn next<P: PartialEq>(&self, quiet: Duration, part: impl Fn(&W) -> P) -> Option<W>
    where
        W: Clone,
    {
        let mut asked = lock(&self.asked);
        loop {
            asked = self
                .wake
                .wait_while(asked, |asked| !asked.is_new && !asked.closing)
                .unwrap_or_else(PoisonError::into_inner);
            let before = part(&asked.wish);
            let stands = |asked: &mut Asked<W>| part(&asked.wish) == before && !asked.closing;
            let (after, waited) = self
                .wake
                .wait_timeout_while(asked, quiet, stands)
                .unwrap_or_else(PoisonError::into_inner);
            asked = after;
            if asked.closing {
                return None;
            }
            if waited.timed_out() {
                asked.is_new = false;
                self.stop.store(false, Ordering::Relaxed);
                return Some(asked.wish.clone());
            }
        }
    }

    /// Waits, and says whether nothing newer was wished meanwhile and the window is still there.
    pub(crate) fn stands(&self, quiet: Duration) -> bool {
        self.waits(quiet, |asked| !asked.is_new && !asked.closing)
    }

    /// Waits, whatever is wished meanwhile, and says whether the window is still there.
    pub(crate) fn rests(&self, rest: Duration) -> bool {
        self.waits(rest, |asked| !asked.closing)
    }

    fn waits(&self, time: Duration, wanted: impl Fn(&Asked<W>) -> bool) -> bool {
        let asked = lock(&self.asked);
        let (_asked, waited) = self
            .wake
            .wait_timeout_while(asked, time, |asked| wanted(asked))
            .unwrap_or_else(PoisonError::into_inner);
        waited.timed_out()
    }
}

/// The thread, as its window holds it. Dropped, it ends the work and waits for the thread, some
/// milliseconds: the host may unload the code next.
#[derive(Debug)]
pub(crate) struct Worker<W> {
    wishes: Arc<Wishes<W>>,
    thread: Option<JoinHandle<()>>,
}

impl<W: Send + 'static> Worker<W> {
    /// Starts it on `run`, which returns once [`Wishes::next`] gives nothing. Without a thread the window
    /// lacks what it would have found, and nothing else.
    pub(crate) fn start(
        name: &str,
        wish: W,
        run: impl FnOnce(&Wishes<W>) + Send + 'static,
    ) -> Self {
        let wishes = Arc::new(Wishes {
            asked: Mutex::new(Asked {
                wish,
                is_new: false,
                closing: false,
            }),
            wake: Condvar::new(),
            stop: AtomicBool::new(false),
        });
        let inside = Arc::clone(&wishes);
        let thread = std::thread::Builder::new().name(name.to_owned());
        let thread = thread.spawn(move || run(&inside)).ok();
        Self { wishes, thread }
    }

    /// Changes the wish. Waits for nothing.
    pub(crate) fn ask(&self, change: impl FnOnce(&mut W) -> Ask) {
        let mut asked = lock(&self.wishes.asked);
        let ask = change(&mut asked.wish);
        if ask == Ask::Nothing {
            return;
        }
        asked.is_new = true;
        if ask == Ask::Instead {
            self.wishes.stop.store(true, Ordering::Relaxed);
        }
        self.wishes.wake.notify_one();
    }
}

impl<W> Drop for Worker<W> {
    fn drop(&mut self) {
        lock(&self.wishes.asked).closing = true;
        self.wishes.stop.store(true, Ordering::Relaxed);
        self.wishes.wake.notify_one();
        if let Some(thread) = self.thread.take() {
            // A panic there was its own: what it would have found is not there then.
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;
    use std::time::Instant;

    const SOON: Duration = Duration::from_secs(20);

    #[test]
    fn the_last_of_several_wishes_is_taken_and_none_twice() {
        let (tell, told) = mpsc::channel();
        let worker = Worker::start("test", 0, move |wishes| {
            while let Some(wish) = wishes.next(Duration::from_millis(50), |wish| *wish) {
                tell.send(wish).unwrap();
            }
        });
        for wish in 1..=5 {
            worker.ask(|now| {
                *now = wish;
                Ask::Next
            });
        }
        assert_eq!(told.recv_timeout(SOON), Ok(5));
        worker.ask(|_| Ask::Nothing);
        let none = told.recv_timeout(Duration::from_millis(200));
        assert_eq!(none, Err(mpsc::RecvTimeoutError::Timeout));
    }

    #[test]
    fn work_is_stopped_by_another_wish_and_by_the_end() {
        let (tell, told) = mpsc::channel();
        let worker = Worker::start("test", 0, move |wishes| {
            while let Some(wish) = wishes.next(Duration::ZERO, |_| ()) {
                tell.send(wish).unwrap();
                while !wishes.stop().load(Ordering::Relaxed) {
                    std::thread::sleep(Duration::from_millis(1));
                }
            }
        });
        let ask = |wish: i32| {
            worker.ask(|now| {
                *now = wish;
                Ask::Instead
            });
        };
        ask(1);
        assert_eq!(told.recv_timeout(SOON), Ok(1));
        ask(2);
        assert_eq!(told.recv_timeout(SOON), Ok(2));
        let start = Instant::now();
        drop(worker);
        assert!(start.elapsed() < Duration::from_secs(5));
        assert_eq!(
            told.recv_timeout(SOON),
            Err(mpsc::RecvTimeoutError::Disconnected)
        );
    }

    #[test]
    fn a_panic_in_the_thread_stays_there() {
        let worker = Worker::start("test", 0, |wishes| {
            let _ = wishes.next(Duration::ZERO, |_| ());
            panic!("as asked for");
        });
        worker.ask(|_| Ask::Next);
        std::thread::sleep(Duration::from_millis(50));
        worker.ask(|_| Ask::Instead);
        drop(worker);
    }
}
