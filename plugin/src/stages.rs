//! Harmonics of each stage at the programme's level, for the window: found on a thread of their own, rounded to
//! whole decibels and kept, so that the same level is not calculated twice.

use crate::worker::{Ask, Wishes, Worker, lock};
use penstock_dsp::analysis::{Cache, Peaks, StageDistortion, stage_distortion};
use penstock_dsp::chain::Point;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::Dbu;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// A plan that has stood so long is looked at: a drag is not.
const QUIET: Duration = Duration::from_millis(400);
/// Between two calculations: a programme that goes up and down must not keep a processor busy.
const REST: Duration = Duration::from_millis(1500);
/// A peak that has moved less is the same.
const SAME_DB: f64 = 1.0;
/// Under this nothing is distorted that anybody asks for.
const LEAST_DBU: f64 = -100.0;
/// Distortion below which no stage is said to work, in percent.
const IDLE_PERCENT: f64 = 0.01;

/// What is asked: a plan and whole decibels at each point.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    plan: Plan,
    peaks_dbu: [Option<i32>; 8],
}

/// Found before, shared by every opening of the window.
pub type SharedStages = Arc<Mutex<Cache<Wanted, Vec<StageDistortion>>>>;

/// The newest wish, if there was any.
#[derive(Clone, Debug, Default)]
struct Wish {
    wanted: Option<Wanted>,
    /// The peaks that `wanted` was rounded from.
    exact: [Option<f64>; 8],
}

impl Wish {
    fn plan(&self) -> Option<Plan> {
        self.wanted.as_ref().map(|wanted| wanted.plan)
    }
}

type Found = Mutex<Option<Arc<[StageDistortion]>>>;

/// The thread, as its window holds it.
#[derive(Debug)]
pub struct Stages {
    worker: Worker<Wish>,
    found: Arc<Found>,
}

impl Stages {
    /// Starts the thread; `tell` is called when there is something new.
    #[must_use]
    pub fn start(cache: SharedStages, tell: impl Fn() + Send + 'static) -> Self {
        let found = Arc::<Found>::default();
        let inside = Arc::clone(&found);
        let worker = Worker::start("penstock stages", Wish::default(), move |wishes| {
            run(wishes, &cache, &inside, &tell);
        });
        Self { worker, found }
    }

    /// Asks for the harmonics under these peaks, unless they are as good as those asked for last. Waits for
    /// nothing.
    pub fn ask(&self, plan: &Plan, peaks: &Peaks) {
        let exact = analog(peaks);
        self.worker.ask(|wish| {
            let same_plan = wish.plan() == Some(*plan);
            let near = |(was, is): (&Option<f64>, &Option<f64>)| match (was, is) {
                (Some(was), Some(is)) => (was - is).abs() < SAME_DB,
                (was, is) => was == is,
            };
            if same_plan && wish.exact.iter().zip(&exact).all(near) {
                return Ask::Nothing;
            }
            *wish = Wish {
                wanted: Some(Wanted {
                    plan: *plan,
                    peaks_dbu: exact.map(|peak| peak.map(|dbu| dbu.round() as i32)),
                }),
                exact,
            };
            if same_plan {
                return Ask::Next;
            }
            *lock(&self.found) = None;
            Ask::Instead
        });
    }

    /// What has been found for this plan, perhaps at a level of a moment ago.
    #[must_use]
    pub fn found(&self) -> Option<Arc<[StageDistortion]>> {
        lock(&self.found).clone()
    }
}

/// The peaks at the analog points that something can be said of.
fn analog(peaks: &Peaks) -> [Option<f64>; 8] {
    std::array::from_fn(|n| {
        let peak = peaks[n].filter(|_| !Point::ALL[n].is_digital());
        peak.map(|peak| peak.0).filter(|dbu| *dbu > LEAST_DBU)
    })
}

fn run(wishes: &Wishes<Wish>, cache: &SharedStages, result: &Found, tell: &dyn Fn()) {
    while let Some(wish) = wishes.next(QUIET, Wish::plan) {
        let Some(wanted) = wish.wanted else {
            continue;
        };
        let known = lock(cache).find(&wanted).cloned();
        let fresh = known.is_none();
        let Some(found) = known.or_else(|| calculate(&wanted, wishes)) else {
            continue;
        };
        if fresh {
            lock(cache).keep(&wanted, found.clone());
        }
        // Under the wish's lock, so that no other plan gets it.
        let is_wanted = wishes.look(|now| {
            let is_wanted = now.plan() == Some(wanted.plan);
            if is_wanted {
                *lock(result) = Some(found.into());
            }
            is_wanted
        });
        if is_wanted {
            tell();
        }
        if fresh && !wishes.rests(REST) {
            return;
        }
    }
}

fn calculate(wanted: &Wanted, wishes: &Wishes<Wish>) -> Option<Vec<StageDistortion>> {
    let peaks: Peaks = wanted
        .peaks_dbu
        .map(|dbu| dbu.map(|dbu| Dbu(f64::from(dbu))));
    let found = stage_distortion(&wanted.plan, &peaks, wishes.stop());
    found.ok().flatten()
}

/// Which stage works hardest, in words: between which points distortion grows most.
#[must_use]
pub fn hardest(stages: &[StageDistortion]) -> Option<String> {
    let at = |point: Point| {
        let stage = stages.iter().find(|stage| stage.point == point)?;
        stage.thd_percent
    };
    let places = [
        (Point::Grid1, "T1, the input transformer,"),
        (Point::Grid2, "V1, the first tube,"),
        (Point::PreampOut, "V2 with T2, the output stage,"),
    ];
    let mut before = 0.0;
    let mut most: Option<(f64, f64, f64, &str)> = None;
    for (point, name) in places {
        let behind = at(point)?;
        let grown = behind - before;
        if most.is_none_or(|(so_far, ..)| grown > so_far) {
            most = Some((grown, before, behind, name));
        }
        before = behind;
    }
    let (grown, before, behind, name) = most?;
    if grown < IDLE_PERCENT {
        let text = format!("No stage works hard: none adds {IDLE_PERCENT} % THD.");
        return Some(text);
    }
    Some(format!(
        "{name} works hardest: {} % THD before it, {} % behind.",
        percent(before),
        percent(behind)
    ))
}

/// A percentage with two digits that count, at least to the thousandth.
#[must_use]
pub fn percent(value: f64) -> String {
    match value {
        value if value >= 9.95 => format!("{value:.0}"),
        value if value >= 0.995 => format!("{value:.1}"),
        value if value >= 0.0995 => format!("{value:.2}"),
        value if value < 0.0005 => "<0.001".to_owned(),
        value => format!("{value:.3}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicBool;
    use std::time::Instant;

    fn wait(stages: &Stages) -> Arc<[StageDistortion]> {
        let start = Instant::now();
        loop {
            if let Some(found) = stages.found() {
                return found;
            }
            assert!(start.elapsed() < Duration::from_secs(120));
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn peaks(out_dbu: f64) -> Peaks {
        let at =
            |n: usize| (n > 0).then(|| Dbu([0.0, 10.0, -30.0, -30.0, -12.0, 6.0, out_dbu, 0.0][n]));
        std::array::from_fn(at)
    }

    #[test]
    fn the_table_is_that_of_the_analysis_and_is_kept() {
        let cache = SharedStages::default();
        let plan = Plan::default();
        let stages = Stages::start(cache.clone(), || {});
        stages.ask(&plan, &peaks(10.2));
        let found = wait(&stages);
        let mut whole = peaks(10.0);
        (whole[0], whole[7]) = (None, None);
        let expected = stage_distortion(&plan, &whole, &AtomicBool::new(false));
        let expected = expected.expect("a pad").expect("nobody stops it");
        assert_eq!(&found[..], &expected[..]);
        assert!(hardest(&found).is_some_and(|text| text.ends_with('.')));
        drop(stages);
        // Another window has it at once, even while it would rest.
        let again = Stages::start(cache, || {});
        let start = Instant::now();
        again.ask(&plan, &peaks(9.8));
        wait(&again);
        println!("again after {:?}", start.elapsed());
        // Another plan's table is not this one's.
        let mut other = plan;
        other.assign("preamp.gain_db=64").expect("a value");
        again.ask(&other, &peaks(9.8));
        assert!(again.found().is_none());
    }

    #[test]
    fn a_window_that_closes_does_not_wait_for_it() {
        let stages = Stages::start(SharedStages::default(), || {});
        stages.ask(&Plan::default(), &peaks(10.0));
        std::thread::sleep(QUIET + Duration::from_millis(50));
        let start = Instant::now();
        drop(stages);
        assert!(start.elapsed() < Duration::from_secs(1));
    }

    #[test]
    fn the_hardest_stage_is_where_distortion_grows_most() {
        let stage = |point: Point, thd_percent: f64| StageDistortion {
            point,
            peak: Dbu(0.0),
            harmonics: [0.0; 20],
            thd_percent: Some(thd_percent),
            thd_n_percent: None,
            smpte_percent: None,
            ccif_percent: None,
            curve: Vec::new(),
        };
        let of = |percents: [f64; 3]| {
            let points = [Point::Grid1, Point::Grid2, Point::PreampOut];
            let stages: Vec<_> = points
                .into_iter()
                .zip(percents)
                .map(|(p, t)| stage(p, t))
                .collect();
            hardest(&stages).expect("three stages")
        };
        assert_eq!(
            of([0.02, 0.034, 0.43]),
            "V2 with T2, the output stage, works hardest: 0.034 % THD before it, 0.43 % behind."
        );
        assert!(of([0.9, 0.5, 0.6]).starts_with("T1"));
        assert!(of([0.1, 5.5, 6.5]).contains("0.10 % THD before it, 5.5 % behind"));
        assert!(of([0.001, 0.002, 0.003]).starts_with("No stage works hard"));
    }
}
