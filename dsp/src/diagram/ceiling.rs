//! Ceilings by distortion: a search on the model for the sine that reaches 0.1, 1 and 3 %.
//!
//! The preamplifier is driven by rising sines from its own source, without a converter's clipping
//! (which is a ceiling of its own). At each point the distortion of the voltage that stands there
//! counts, so only what lies before it does; what lies behind takes part as the load that it is.

use super::ThdCeiling;
use crate::chain::{Point, analog_settings, build_pad};
use crate::circuit::{Preamp, Taps};
use crate::pad::{PadError, TwoPort};
use crate::plan::Plan;
use crate::units::{Dbu, Volts};
use std::f64::consts::TAU;
use std::sync::atomic::{AtomicBool, Ordering};

/// Total harmonic distortions looked for, in percent.
pub const PERCENTS: [f64; 3] = [0.1, 1.0, 3.0];
/// Frequencies of the sines in hertz.
pub const TONES_HZ: [f64; 2] = [1000.0, 50.0];

/// Steps of the circuit a second.
const RATE_HZ: f64 = 192_000.0;
/// EMFs behind the terminals tried, in dBu; then halved between until [`CLOSE_DB`].
const FIRST_DBU: f64 = -80.0;
const LAST_DBU: f64 = 40.0;
const STEP_DB: f64 = 4.0;
const CLOSE_DB: f64 = 0.25;
/// One look: 0.1 s, whole periods of both tones.
const LOOK: usize = 19_200;
/// Steady when no point's level or distortion moves by more from look to look; at most so many.
const STEADY: f64 = 5e-4;
const MOST_LOOKS: usize = 40;
/// Harmonics counted, where they lie below 20 kHz.
const HARMONICS: usize = 20;
/// From the line output to the preamplifier's output.
const POINTS: usize = 6;

/// What a search found, in the order of [`Point::ALL`]; nothing at the bus, the return as at the
/// preamplifier's output.
#[derive(Clone, Debug, PartialEq)]
pub struct DistortionCeilings {
    /// Of each point.
    pub points: [Vec<ThdCeiling>; 8],
}

/// What one sine does at each point: RMS volts and distortion in percent.
#[derive(Clone, Copy, Debug, Default)]
struct Heard {
    emf_dbu: f64,
    points: [(f64, f64); POINTS],
}

/// The model under a sine.
struct Bench {
    preamp: Preamp,
    pad: TwoPort,
    tone_hz: f64,
}

/// Searches; `None` when `stop` was set meanwhile. Some seconds: not for audio threads.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn distortion_ceilings(
    plan: &Plan,
    stop: &AtomicBool,
) -> Result<Option<DistortionCeilings>, PadError> {
    let build = build_pad(plan)?;
    let mut settings = analog_settings(plan, &build);
    settings.noise = false;
    let mut points: [Vec<ThdCeiling>; 8] = Default::default();
    for tone_hz in TONES_HZ {
        let mut bench = Bench {
            preamp: Preamp::prepare(&settings, RATE_HZ),
            pad: build.as_built.two_port(),
            tone_hz,
        };
        let Some(found) = bench.search(stop) else {
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
    let back = crate::chain::return_pad(plan).two_port();
    let ratio = plan.back.trim.ratio() / (back.a + back.b / plan.rig.return_in.0);
    points[Point::Return as usize] = points[Point::PreampOut as usize].clone();
    for thd in &mut points[Point::Return as usize] {
        thd.level = thd
            .level
            .map(|level| level + crate::units::Db::from_ratio(ratio));
    }
    Ok(Some(DistortionCeilings { points }))
}

impl Bench {
    /// First crossing upwards of each distortion at each point.
    fn search(&mut self, stop: &AtomicBool) -> Option<[[Option<Dbu>; 3]; POINTS]> {
        let mut found = [[None; 3]; POINTS];
        let mut before = Heard::default();
        let steps = ((LAST_DBU - FIRST_DBU) / STEP_DB) as i32;
        for step in 0..=steps {
            let now = self.hear(FIRST_DBU + STEP_DB * f64::from(step), stop)?;
            // Below the second step there is nothing to compare with.
            if step > 0 {
                self.crossings(&before, &now, &mut found, stop)?;
            }
            before = now;
            if found.iter().flatten().all(Option::is_some) {
                break;
            }
        }
        Some(found)
    }

    /// What crosses between two sines, closing in by halves.
    fn crossings(
        &mut self,
        low: &Heard,
        high: &Heard,
        found: &mut [[Option<Dbu>; 3]; POINTS],
        stop: &AtomicBool,
    ) -> Option<()> {
        let crosses = |n: usize, k: usize| {
            let (low, high) = (low.points[n].1, high.points[n].1);
            low < PERCENTS[k] && high >= PERCENTS[k]
        };
        let any = (0..POINTS).any(|n| (0..3).any(|k| found[n][k].is_none() && crosses(n, k)));
        if !any {
            return Some(());
        }
        if high.emf_dbu - low.emf_dbu > CLOSE_DB {
            let middle = self.hear(0.5 * (low.emf_dbu + high.emf_dbu), stop)?;
            self.crossings(low, &middle, found, stop)?;
            return self.crossings(&middle, high, found, stop);
        }
        for (n, found) in found.iter_mut().enumerate() {
            for (k, found) in found.iter_mut().enumerate() {
                if found.is_none() && crosses(n, k) {
                    *found = Some(between(low.points[n], high.points[n], PERCENTS[k]));
                }
            }
        }
        Some(())
    }

    /// A sine of an EMF, until nothing moves any more; `None` when stopped.
    fn hear(&mut self, emf_dbu: f64, stop: &AtomicBool) -> Option<Heard> {
        let peak = Dbu(emf_dbu).sine_peak().0;
        let mut heard = Heard::default();
        for look in 0..MOST_LOOKS {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            let now = self.look(emf_dbu, peak);
            let same = |a: f64, b: f64, least: f64| (a - b).abs() <= STEADY * b.abs().max(least);
            let steady = heard.points.iter().zip(&now.points).all(|(was, is)| {
                // Distortion far below what is looked for need not stand still.
                same(was.0, is.0, 0.0) && same(was.1, is.1, PERCENTS[0])
            });
            heard = now;
            if look > 0 && steady {
                break;
            }
        }
        Some(heard)
    }

    /// One look, folded into one period.
    fn look(&mut self, emf_dbu: f64, peak: f64) -> Heard {
        let period = (RATE_HZ / self.tone_hz).round() as usize;
        let mut folded = vec![[0.0; POINTS]; period];
        let step = TAU / period as f64;
        for n in 0..LOOK {
            let emf = peak * (step * (n % period) as f64).sin();
            let taps = self.preamp.process(emf);
            for (sum, volts) in folded[n % period].iter_mut().zip(self.volts(&taps)) {
                *sum += volts * period as f64 / LOOK as f64;
            }
        }
        let points = std::array::from_fn(|point| {
            let wave: Vec<f64> = folded.iter().map(|volts| volts[point]).collect();
            distortion(&wave, self.tone_hz)
        });
        Heard { emf_dbu, points }
    }

    fn volts(&self, taps: &Taps) -> [f64; POINTS] {
        [
            self.pad.a * taps.mic_in + self.pad.b * taps.in_amps,
            taps.mic_in,
            taps.transformer_in,
            taps.grid_1,
            taps.grid_2,
            taps.preamp_out,
        ]
    }
}

/// RMS, bias shifts apart, and distortion in percent of one period.
fn distortion(wave: &[f64], tone_hz: f64) -> (f64, f64) {
    let count = HARMONICS.min((20_000.0 / tone_hz) as usize);
    let length = wave.len() as f64;
    let power = |order: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, volts) in wave.iter().enumerate() {
            let (sin, cos) = (TAU * ((n * order) % wave.len()) as f64 / length).sin_cos();
            re += volts * cos;
            im += volts * sin;
        }
        2.0 * (re * re + im * im) / (length * length)
    };
    let first = power(1);
    let rest: f64 = (2..=count).map(power).sum();
    ((first + rest).sqrt(), 100.0 * (rest / first).sqrt())
}

/// The level at which a distortion is reached between two close sines.
fn between(low: (f64, f64), high: (f64, f64), percent: f64) -> Dbu {
    let share = (percent / low.1).ln() / (high.1 / low.1).ln();
    let volts = low.0 * (high.0 / low.0).powf(share.clamp(0.0, 1.0));
    Dbu::from_volts(Volts(volts))
}

/// Keeps what was found for the last plans, so that a picture drawn again waits for nothing.
#[derive(Clone, Debug, Default)]
pub struct CeilingCache {
    found: Vec<(Plan, DistortionCeilings)>,
}

impl CeilingCache {
    /// Plans kept.
    const MOST: usize = 16;

    /// What was found for a plan, when it has been searched.
    #[must_use]
    pub fn find(&self, plan: &Plan) -> Option<&DistortionCeilings> {
        let same = |(kept, _): &&(Plan, DistortionCeilings)| kept == plan;
        self.found.iter().find(same).map(|(_, found)| found)
    }

    /// Keeps what was found, and forgets the oldest.
    pub fn keep(&mut self, plan: &Plan, found: DistortionCeilings) {
        self.found.retain(|(kept, _)| kept != plan);
        if self.found.len() >= Self::MOST {
            self.found.remove(0);
        }
        self.found.push((*plan, found));
    }
}
