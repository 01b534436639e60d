//! Ceilings by distortion: a search on the model for the sine that reaches 0.1, 1 and 3 %.
//!
//! The preamplifier is driven by rising sines from its own source, without a converter's clipping
//! (which is a ceiling of its own). At each point the distortion of the voltage that stands there
//! counts, so only what lies before it does; what lies behind takes part as the load that it is.
//!
//! First a coarse sweep upwards. Then, for each distortion at each point, two sines close around the
//! level at which a line through the neighbours, both in decibels, reaches it; until it lies between
//! sines that are close enough.

use super::ThdCeiling;
use crate::analysis::{Cache, Harmonics, LANES, POINTS, Steady};
use crate::chain::{Point, analog_settings, build_pad, return_pad};
use crate::circuit::{STATES, Settings};
use crate::pad::{PadError, TwoPort};
use crate::plan::{Plan, PreampKind};
use crate::units::{Db, Dbu, Volts};
use std::f64::consts::TAU;
use std::sync::atomic::AtomicBool;

/// Total harmonic distortions looked for, in percent.
pub const PERCENTS: [f64; 3] = [0.1, 1.0, 3.0];
/// Frequencies of the sines in hertz.
pub const TONES_HZ: [f64; 2] = [1000.0, 50.0];

/// Steps of the circuit a second, by tone: the lower one's harmonics ask for fewer.
const RATES_HZ: [f64; 2] = [192_000.0, 96_000.0];
/// One period of the search in seconds: of both tones a whole number.
const PERIOD_SECONDS: f64 = 0.02;
/// EMFs behind T1's primary tried, in dBu: up to what the circuit takes (`solver`: 50 V peak).
const FIRST_DBU: f64 = -80.0;
const LAST_DBU: f64 = 33.0;
const STEP_DB: f64 = 4.0;
/// Found when it lies between sines so close,
const CLOSE_DB: f64 = 0.3;
/// tried on both sides of where it should be.
const ASIDE_DB: f64 = 0.14;
/// Steady when no point's level or distortion moves by more from round to round; at most so many.
const STEADY: f64 = 2e-3;
const MOST_ROUNDS: usize = 12;
/// Harmonics counted, where they lie below 20 kHz.
const HARMONICS: usize = 20;

/// What a search found, in the order of [`Point::ALL`]; nothing at the bus, the return as at the
/// preamplifier's output.
#[derive(Clone, Debug, PartialEq)]
pub struct DistortionCeilings {
    /// Of each point.
    pub points: [Vec<ThdCeiling>; 8],
}

/// What one sine does at each point: RMS volts and distortion in percent.
#[derive(Clone, Copy, Debug)]
struct Heard {
    emf_dbu: f64,
    points: [(f64, f64); POINTS],
    /// Where the circuit was at the end.
    held: [f64; STATES],
}

/// The model under sines.
struct Bench {
    steady: Steady,
    harmonics: Harmonics,
    sine: Vec<f64>,
    /// By rising level.
    heard: Vec<Heard>,
    last_dbu: f64,
}

/// Levels by percent and point.
type Found = [[Option<Dbu>; PERCENTS.len()]; POINTS];

/// Searches, on two threads of its own; `None` when `stop` was set meanwhile. Some tenths of a second:
/// not for audio threads.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn distortion_ceilings(
    plan: &Plan,
    stop: &AtomicBool,
) -> Result<Option<DistortionCeilings>, PadError> {
    let build = build_pad(plan)?;
    if plan.rig.preamp == PreampKind::Own {
        // A data sheet states limits, not distortion.
        let points = Default::default();
        return Ok(Some(DistortionCeilings { points }));
    }
    let settings = analog_settings(plan, &build);
    let pad = build.as_built.two_port();
    let search = |n: usize| Bench::prepare(&settings, pad, TONES_HZ[n], RATES_HZ[n]).search(stop);
    let found = std::thread::scope(|scope| {
        let threads = [0, 1].map(|n| scope.spawn(move || search(n)));
        threads.map(|thread| thread.join().unwrap_or_default())
    });
    let mut points: [Vec<ThdCeiling>; 8] = Default::default();
    for (tone_hz, found) in TONES_HZ.into_iter().zip(found) {
        let Some(found) = found else {
            return Ok(None);
        };
        for (n, levels) in found.into_iter().enumerate() {
            for (percent, level) in PERCENTS.into_iter().zip(levels) {
                points[n + 1].push(ThdCeiling {
                    tone_hz,
                    percent,
                    level,
                });
            }
        }
    }
    // Converter and trim add a gain, which moves the level and leaves the distortion.
    let back = return_pad(plan).two_port();
    let ratio = plan.back.trim.ratio() / (back.a + back.b / plan.rig.return_in.0);
    points[Point::Return as usize] = points[Point::PreampOut as usize].clone();
    for thd in &mut points[Point::Return as usize] {
        thd.level = thd.level.map(|level| level + Db::from_ratio(ratio));
    }
    Ok(Some(DistortionCeilings { points }))
}

impl Bench {
    fn prepare(settings: &Settings, pad: TwoPort, tone_hz: f64, rate_hz: f64) -> Self {
        let period = (PERIOD_SECONDS * rate_hz).round() as usize;
        let turns = (PERIOD_SECONDS * tone_hz).round();
        let turn = TAU * turns / period as f64;
        Self {
            steady: Steady::prepare(settings, pad, rate_hz),
            harmonics: Harmonics::of(
                period,
                turns as usize,
                HARMONICS.min((20_000.0 / tone_hz) as usize),
            ),
            sine: (0..period).map(|n| (turn * n as f64).sin()).collect(),
            heard: Vec::new(),
            last_dbu: if settings.attenuator {
                LAST_DBU + 20.0
            } else {
                LAST_DBU
            },
        }
    }

    /// First crossing upwards of each distortion at each point; `None` when stopped.
    fn search(&mut self, stop: &AtomicBool) -> Option<Found> {
        let mut low = FIRST_DBU;
        while low < self.last_dbu && !self.all_passed() {
            let high = (low + STEP_DB).min(self.last_dbu);
            self.hear([low, high], stop)?;
            low = high + STEP_DB;
        }
        let mut found = Found::default();
        for (point, found) in found.iter_mut().enumerate() {
            for (percent, found) in PERCENTS.into_iter().zip(found) {
                *found = self.close_in(point, percent, stop)?;
            }
        }
        Some(found)
    }

    /// Whether every distortion has been passed everywhere.
    fn all_passed(&self) -> bool {
        (0..POINTS).all(|point| {
            let most = PERCENTS[PERCENTS.len() - 1];
            self.heard.iter().any(|heard| heard.points[point].1 >= most)
        })
    }

    /// Neighbours between which a distortion is first reached.
    fn around(&self, point: usize, percent: f64) -> Option<[Heard; 2]> {
        let passed = |heard: &Heard| heard.points[point].1 >= percent;
        self.heard
            .windows(2)
            .find(|pair| !passed(&pair[0]) && passed(&pair[1]))
            .map(|pair| [pair[0], pair[1]])
    }

    /// Tries sines until the place is known; inner `None` when there is no such place.
    #[expect(clippy::option_option, reason = "stopped is not the same as not there")]
    fn close_in(&mut self, point: usize, percent: f64, stop: &AtomicBool) -> Option<Option<Dbu>> {
        loop {
            let Some([low, high]) = self.around(point, percent) else {
                return Some(None);
            };
            let share = share(low.points[point].1, high.points[point].1, percent);
            let width = high.emf_dbu - low.emf_dbu;
            if width <= CLOSE_DB {
                let [low, high] =
                    [low, high].map(|heard| Dbu::from_volts(Volts(heard.points[point].0)));
                return Some(Some(Dbu(low.0 + share * (high.0 - low.0))));
            }
            // Well inside, so that each try takes something away.
            let place = low.emf_dbu + share * width;
            let least = low.emf_dbu + 0.04 * width;
            let most = high.emf_dbu - 0.04 * width;
            let aside = ASIDE_DB.min(0.2 * width);
            let pair = [place - aside, place + aside].map(|dbu| dbu.clamp(least, most));
            self.hear(pair, stop)?;
        }
    }

    /// Two sines, until nothing moves any more; `None` when stopped.
    fn hear(&mut self, emf_dbu: [f64; LANES], stop: &AtomicBool) -> Option<()> {
        let emf = emf_dbu.map(|dbu| {
            let peak = Dbu(dbu).sine_peak().0;
            let emf: Vec<f64> = self.sine.iter().map(|sine| peak * sine).collect();
            emf
        });
        for (lane, dbu) in emf_dbu.into_iter().enumerate() {
            let away = |heard: &&Heard| (heard.emf_dbu - dbu).abs();
            let nearest = self
                .heard
                .iter()
                .min_by(|a, b| away(a).total_cmp(&away(b)))
                .map(|heard| heard.held);
            if let Some(held) = nearest {
                self.steady.hold(lane, &held);
            }
        }
        let mut before = [[(0.0, 0.0); POINTS]; LANES];
        for _ in 0..MOST_ROUNDS {
            let waves = self.steady.round([&emf[0], &emf[1]], stop)?;
            let now = [0, 1].map(|lane| {
                std::array::from_fn(|point| self.harmonics.level_and_thd(&waves[lane][point]))
            });
            let steady = before
                .iter()
                .flatten()
                .zip(now.iter().flatten())
                .all(|(was, is)| alike(was, is));
            before = now;
            if steady {
                break;
            }
        }
        let held = self.steady.held();
        for lane in 0..LANES {
            self.heard.push(Heard {
                emf_dbu: emf_dbu[lane],
                points: before[lane],
                held: held[lane],
            });
        }
        self.heard.sort_by(|a, b| a.emf_dbu.total_cmp(&b.emf_dbu));
        Some(())
    }
}

/// Whether a level and a distortion stand still. Distortion far below what is looked for need not.
fn alike(was: &(f64, f64), is: &(f64, f64)) -> bool {
    let same = |a: f64, b: f64, least: f64| (a - b).abs() <= STEADY * b.abs().max(least);
    same(was.0, is.0, 0.0) && same(was.1, is.1, 0.5 * PERCENTS[0])
}

/// How far from low to high a value lies, all on a logarithmic scale.
fn share(low: f64, high: f64, value: f64) -> f64 {
    ((value / low).ln() / (high / low).ln()).clamp(0.0, 1.0)
}

/// Keeps what was found for the last plans, so that a picture drawn again waits for nothing.
pub type CeilingCache = Cache<Plan, DistortionCeilings>;
