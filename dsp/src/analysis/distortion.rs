//! What the preamplifier does to the programme's level at each point: harmonics, THD, THD+N, both kinds of
//! intermodulation, the transfer curve; and its frequency response.
//!
//! "At the programme's level" means: under a 1 kHz sine that has, at that point, the programme's peak. The
//! two-tone signals have the same peak at the terminals as that sine. Without converter clipping. Some
//! tenths of a second: not for audio threads; a [`Cache`](super::Cache) keeps what was found.

use super::measures::{ccif_percent, smpte_percent, thd_n_percent, thd_percent};
use super::steady::Waves;
use super::{Harmonics, LANES, POINTS, Steady};
use crate::chain::{Point, analog_settings, build_pad, heard_plan};
use crate::circuit::{Settings, SmallSignal};
use crate::diagram::floors;
use crate::pad::{PadError, TwoPort};
use crate::plan::Plan;
use crate::units::{Db, Dbu, VoltsPeak};
use std::f64::consts::TAU;
use std::sync::atomic::AtomicBool;

const RATE_HZ: f64 = 192_000.0;
/// 50 ms: a whole number of periods of every tone used.
const PERIOD: usize = 9_600;
const TONE_HZ: f64 = 1_000.0;
const HARMONICS: usize = 20;
/// By IEC 60268-3: 60 Hz and 7 kHz, 4:1; 19 and 20 kHz, 1:1.
const SMPTE_HZ: [f64; 2] = [60.0, 7_000.0];
const CCIF_HZ: [f64; 2] = [19_000.0, 20_000.0];
/// The EMF by which gains are found, and the most that the circuit takes.
const SMALL_VOLTS: f64 = 1e-3;
const MOST_VOLTS: f64 = 48.0;
/// A sine has the programme's peak when it is so near.
const NEAR: f64 = 2e-3;
const MOST_TRIES: usize = 8;
/// Points of a transfer curve.
const CURVE: usize = 64;

/// At one point.
#[derive(Clone, Debug, PartialEq)]
pub struct StageDistortion {
    /// Which: from the line output to the preamplifier's output.
    pub point: Point,
    /// The sine of the same peak as the waveform there.
    pub peak: Dbu,
    /// Harmonics 1 (the tone) to 20, peak volts.
    pub harmonics: [f64; HARMONICS],
    /// THD re the fundamental, in percent.
    pub thd_percent: Option<f64>,
    /// THD+N of AES17 with the noise of a plan at rest, in percent.
    pub thd_n_percent: Option<f64>,
    /// Modulation distortion, in percent.
    pub smpte_percent: Option<f64>,
    /// Difference-frequency distortion, in percent.
    pub ccif_percent: Option<f64>,
    /// Over one period of the tone, from its rise through zero: peak volts of the undistorted sine at the
    /// terminals, in phase with the fundamental, and volts at the point.
    pub curve: Vec<[f64; 2]>,
}

impl StageDistortion {
    /// Harmonic `order` re the fundamental in dB.
    #[must_use]
    pub fn harmonic(&self, order: usize) -> Option<Db> {
        let ratio = self.harmonics.get(order.checked_sub(1)?)? / self.harmonics[0];
        (ratio > 0.0 && ratio.is_finite()).then(|| Db::from_ratio(ratio))
    }
}

/// Peaks of the programme, in the order of [`Point::ALL`]; what has none is left out.
pub type Peaks = [Option<Dbu>; 8];

/// Distortion at every point that has a peak; `None` when `stop` was set meanwhile.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn stage_distortion(
    plan: &Plan,
    peaks: &Peaks,
    stop: &AtomicBool,
) -> Result<Option<Vec<StageDistortion>>, PadError> {
    let plan = &heard_plan(plan);
    let build = build_pad(plan)?;
    let settings = analog_settings(plan, &build);
    let noise = floors(plan)?;
    let mut bench = Bench::prepare(&settings, build.as_built.two_port());
    let Some(gains) = bench.small_gains(stop) else {
        return Ok(None);
    };
    let mut stages = Vec::new();
    let wanted: Vec<(usize, Dbu)> = (0..POINTS)
        .filter_map(|n| peaks[n + 1].map(|peak| (n, peak)))
        .filter(|(_, peak)| peak.0.is_finite())
        .collect();
    for pair in wanted.chunks(LANES) {
        // A last one without a neighbour has itself.
        let lanes = [pair[0], pair[pair.len() - 1]];
        let Some(mut found) = bench.stages(lanes, &gains, stop) else {
            return Ok(None);
        };
        found.truncate(pair.len());
        for stage in &mut found {
            let floor = noise[stage.point as usize].map_or(0.0, |floor| floor.flat.volts().0);
            stage.thd_n_percent = thd_n_percent(&stage.harmonics, floor);
        }
        stages.append(&mut found);
    }
    Ok(Some(stages))
}

/// Small-signal response from the send's unloaded output to the preamplifier's, re 1 kHz: third octaves
/// from 20 Hz to 20 kHz, as (hertz, gain).
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn response(plan: &Plan) -> Result<Vec<(f64, Db)>, PadError> {
    let plan = &heard_plan(plan);
    let settings = analog_settings(plan, &build_pad(plan)?);
    let at = |hz: f64| SmallSignal::at(&settings, hz).from_emf.norm();
    let middle = at(TONE_HZ);
    // Nominal decades: thirds of an octave by tenths of a decade (IEC 61260-1, base ten).
    Ok((-17..=13)
        .map(|n| TONE_HZ * 10_f64.powf(f64::from(n) / 10.0))
        .map(|hz| (hz, Db::from_ratio(at(hz) / middle)))
        .collect())
}

struct Bench {
    steady: Steady,
    harmonics: Harmonics,
}

impl Bench {
    fn prepare(settings: &Settings, pad: TwoPort) -> Self {
        Self {
            steady: Steady::prepare(settings, pad, RATE_HZ),
            harmonics: Harmonics::of(PERIOD, bin(TONE_HZ), HARMONICS),
        }
    }

    /// Peak volts at each point by peak volts of a small EMF.
    fn small_gains(&mut self, stop: &AtomicBool) -> Option<[f64; POINTS]> {
        let emf = tones(&[(TONE_HZ, SMALL_VOLTS)]);
        let waves = self.settled([&emf, &emf], stop)?;
        Some(std::array::from_fn(|n| {
            self.harmonics.amplitudes(&waves[0][n])[0] / SMALL_VOLTS
        }))
    }

    /// Rounds until nothing moves any more.
    fn settled(&mut self, emf: [&[f64]; LANES], stop: &AtomicBool) -> Option<[Waves; LANES]> {
        let mut before: Option<[Waves; LANES]> = None;
        for _ in 0..6 {
            let now = self.steady.round(emf, stop)?.clone();
            let alike = before.as_ref().is_some_and(|before| {
                let pairs = before.iter().flatten().zip(now.iter().flatten());
                pairs.into_iter().all(|(was, is)| stands_still(was, is))
            });
            before = Some(now);
            if alike {
                break;
            }
        }
        before
    }

    /// Two points side by side, each under the sine that has its peak there.
    fn stages(
        &mut self,
        wanted: [(usize, Dbu); LANES],
        gains: &[f64; POINTS],
        stop: &AtomicBool,
    ) -> Option<Vec<StageDistortion>> {
        let wanted = wanted.map(|(point, peak)| (point, peak.sine_peak().0));
        let mut size = wanted.map(|(point, peak)| (peak / gains[point]).min(MOST_VOLTS));
        let mut waves = None;
        for _ in 0..MOST_TRIES {
            let emf = size.map(|size| tones(&[(TONE_HZ, size)]));
            let now = self.settled([&emf[0], &emf[1]], stop)?;
            let off: [f64; LANES] =
                std::array::from_fn(|lane| wanted[lane].1 / largest(&now[lane][wanted[lane].0]));
            waves = Some(now);
            if off.iter().all(|off| (off - 1.0).abs() < NEAR) {
                break;
            }
            for (size, off) in size.iter_mut().zip(off) {
                *size = (*size * off).min(MOST_VOLTS);
            }
        }
        let waves = waves?;
        let [smpte, ccif] = [(SMPTE_HZ, [0.8, 0.2]), (CCIF_HZ, [0.5, 0.5])].map(|(hz, shares)| {
            size.map(|size| tones(&[(hz[0], shares[0] * size), (hz[1], shares[1] * size)]))
        });
        let smpte = self.settled([&smpte[0], &smpte[1]], stop)?;
        let ccif = self.settled([&ccif[0], &ccif[1]], stop)?;
        let stage = |lane: usize| {
            let point = wanted[lane].0;
            let wave = &waves[lane][point];
            let mut harmonics = [0.0; HARMONICS];
            harmonics.copy_from_slice(&self.harmonics.amplitudes(wave));
            let lines = |waves: &[Waves; LANES]| self.harmonics.lines(&waves[lane][point]);
            StageDistortion {
                point: Point::ALL[point + 1],
                peak: Dbu::of_sine_peak(VoltsPeak(largest(wave))),
                harmonics,
                thd_percent: thd_percent(&harmonics),
                thd_n_percent: None,
                smpte_percent: smpte_percent(&lines(&smpte), bin(SMPTE_HZ[0]), bin(SMPTE_HZ[1])),
                ccif_percent: ccif_percent(&lines(&ccif), bin(CCIF_HZ[0]), bin(CCIF_HZ[1])),
                curve: curve(wave, size[lane] * gains[1]),
            }
        };
        Some((0..LANES).map(stage).collect())
    }
}

/// How often a tone turns in the period.
fn bin(hz: f64) -> usize {
    (hz * PERIOD as f64 / RATE_HZ).round() as usize
}

/// Sines added, of hertz and peak.
fn tones(parts: &[(f64, f64)]) -> Vec<f64> {
    let part = |n: usize, (hz, peak): &(f64, f64)| {
        let turns = (n * bin(*hz)) % PERIOD;
        peak * (TAU * turns as f64 / PERIOD as f64).sin()
    };
    (0..PERIOD)
        .map(|n| parts.iter().map(|of| part(n, of)).sum())
        .collect()
}

fn largest(wave: &[f64]) -> f64 {
    wave.iter().fold(0.0, |most, volts| volts.abs().max(most))
}

/// Whether two waveforms are alike to -100 dB of the later.
fn stands_still(was: &[f64], is: &[f64]) -> bool {
    let all: f64 = is.iter().map(|v| v * v).sum();
    let off: f64 = was.iter().zip(is).map(|(a, b)| (a - b) * (a - b)).sum();
    off <= 1e-10 * all
}

/// One period against its own fundamental, of a peak at the terminals.
fn curve(wave: &[f64], peak: f64) -> Vec<[f64; 2]> {
    let samples = PERIOD / bin(TONE_HZ);
    let (mut re, mut im) = (0.0, 0.0);
    for (n, volts) in wave.iter().take(samples).enumerate() {
        let (sin, cos) = (TAU * n as f64 / samples as f64).sin_cos();
        re += volts * sin;
        im += volts * cos;
    }
    let phase = im.atan2(re);
    (0..CURVE)
        .map(|n| {
            let at = n * samples / CURVE;
            let angle = TAU * at as f64 / samples as f64 + phase;
            [peak * angle.sin(), wave[at]]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::measure_tone;
    use crate::oversample::Oversampling;
    use crate::units::Dbfs;

    /// Against the path itself: a sine sent through it, its peaks taken as the programme's.
    #[test]
    fn the_models_figures_are_those_of_the_path() {
        let plan = Plan::default();
        let tone = measure_tone(&plan, Dbfs(-12.0), Oversampling::ALL[2]).expect("a pad");
        let peaks = tone.points.map(|point| Some(point.peak_dbu()));
        let stages = stage_distortion(&plan, &peaks, &AtomicBool::new(false))
            .expect("a pad")
            .expect("nobody stops it");
        assert_eq!(stages.len(), POINTS);
        let out = stages.last().expect("stages");
        assert_eq!(out.point, Point::PreampOut);
        for order in [2, 3] {
            let want = tone.harmonic_db(order).expect("a harmonic");
            let got = out.harmonic(order).expect("a harmonic").0;
            println!("harmonic {order}: {got:.2} {want:.2} dB");
            assert!((got - want).abs() < 0.1, "{order}: {got} {want}");
        }
        let (thd, thd_n) = (out.thd_percent, out.thd_n_percent);
        assert!(thd_n > thd, "{thd:?} {thd_n:?}");
        for stage in &stages {
            println!(
                "{:?} {:.2} dBu: THD {:?}, +N {:?}, SMPTE {:?}, CCIF {:?}",
                stage.point,
                stage.peak.0,
                stage.thd_percent,
                stage.thd_n_percent,
                stage.smpte_percent,
                stage.ccif_percent
            );
            assert_eq!(stage.curve.len(), CURVE);
            assert!(stage.smpte_percent.is_some() && stage.ccif_percent.is_some());
        }
    }

    #[test]
    fn the_response_is_flat_in_the_middle_and_falls_at_the_ends() {
        let response = response(&Plan::default()).expect("a pad");
        assert_eq!(response.len(), 31);
        let at = |hz: f64| {
            let near = |(f, _): &&(f64, Db)| (f / hz).ln().abs() < 0.02;
            response.iter().find(near).expect("a third octave").1.0
        };
        assert!(at(1_000.0).abs() < 1e-12 && at(500.0).abs() < 0.1);
        assert!(at(20.0) < 0.0 && at(20.0) > -3.0, "{}", at(20.0));
    }
}
