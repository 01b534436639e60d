//! The recorder: what one microphone, an overloaded amplifier, a worn tape machine and the
//! transfer make of the performance.

use std::f64::consts::TAU;

use fundsp::prelude64::*;

use super::SAMPLE_RATE_HZ;

/// What came out of the recorder.
pub(super) struct Recording {
    /// The finished material, full scale 1.0.
    pub(super) transfer: Vec<f64>,
    /// What reached the record amplifier, in the amplifier's own scale: see its knees.
    #[cfg_attr(
        not(test),
        expect(dead_code, reason = "the tests count overloads on it")
    )]
    pub(super) at_amplifier: Vec<f32>,
}

/// Gain before the record amplifier: set during the quiet beginning, and not touched again.
const RECORD_GAIN_DB: f32 = -1.8;
/// Where the amplifier begins to bend above zero, a single-ended stage's shorter side ...
pub(super) const KNEE_POSITIVE: f32 = 0.62;
/// ... and below zero.
pub(super) const KNEE_NEGATIVE: f32 = 0.67;
/// How far beyond its knee the output can still go.
pub(super) const SOFTNESS: f32 = 0.07;

/// Highest programme peak after the transfer.
const TRANSFER_PEAK_DBFS: f64 = -3.0;
/// Hiss of the tape after the transfer: RMS level, a full-scale sine being 0 dBFS.
pub(super) const HISS_DBFS: f64 = -52.0;
/// Hum of the mains after the transfer, 50 Hz and harmonics: frequency and level of each sine.
pub(super) const HUM_HZ_DBFS: [(f64, f64); 4] = [
    (50.0, -66.0),
    (100.0, -71.0),
    (150.0, -69.0),
    (250.0, -78.0),
];
const HISS_SEED: u64 = 0x48_49_53_53;

/// Fades at the ends, so that neither begins nor ends with a click.
pub(super) const FADE_IN_S: f64 = 0.02;
pub(super) const FADE_OUT_S: f64 = 0.35;

/// Records a performance and transfers the tape.
pub(super) fn record(performance: &Wave) -> Recording {
    let duration_s = performance.duration();
    let at_amplifier = performance.filter(duration_s, &mut microphone());
    let tape = at_amplifier.filter(duration_s, &mut (amplifier() >> tape()));
    let mut hiss = (white().seed(HISS_SEED) >> highpole_hz(160.0)) >> playback();
    let hiss = Wave::render(performance.sample_rate(), duration_s, &mut hiss);
    Recording {
        transfer: transfer(tape.channel(0), hiss.channel(0)),
        at_amplifier: at_amplifier.channel(0).clone(),
    }
}

/// A microphone with little bass and a diaphragm that rings in the upper mids: the harshness.
pub(super) fn microphone() -> An<impl AudioNode<Inputs = U1, Outputs = U1>> {
    (highpass_hz(78.0, 0.65)
        >> bell_hz(2_700.0, 1.7, db_amp(5.0))
        >> bell_hz(3_700.0, 2.4, db_amp(4.0)))
        * db_amp(RECORD_GAIN_DB)
}

/// The record amplifier: straight up to its knees, then bending, one side before the other. Its
/// harmonics are made at twice the sample rate so that none folds back into the band.
fn amplifier() -> An<impl AudioNode<Inputs = U1, Outputs = U1>> {
    oversample(shape_fn(bend))
}

/// Transfer of the record amplifier: `y = x` between the knees, a hyperbolic tangent beyond.
pub(super) fn bend(x: f32) -> f32 {
    let knee = if x < 0.0 {
        KNEE_NEGATIVE
    } else {
        KNEE_POSITIVE
    };
    let beyond = x.abs() - knee;
    if beyond <= 0.0 {
        return x;
    }
    (knee + SOFTNESS * (beyond / SOFTNESS).tanh()).copysign(x)
}

/// Tape: no direct current passes a head (the amplifier's lopsided bending makes some), the speed
/// wavers, and the treble ends early.
pub(super) fn tape() -> An<impl AudioNode<Inputs = U1, Outputs = U1>> {
    let wow = (pass() | lfo(wow_delay_s)) >> tap(0.0, 0.006);
    highpole_hz(10.0) >> wow >> lowpass_hz(7_500.0, 0.65) >> playback()
}

/// Playback head and amplifier: its gap loses treble, of programme and hiss alike.
fn playback() -> An<impl AudioNode<Inputs = U1, Outputs = U1>> {
    lowpass_hz(9_000.0, 0.6) >> lowpole_hz(11_000.0)
}

/// Delay that makes wow: the speed deviates by the slope of the delay, `sum of 2 pi f a`,
/// here at most 0.12 % at 0.62 Hz (a capstan out of round) and 0.06 % at 1.7 Hz (a dry bearing).
fn wow_delay_s(t: f64) -> f64 {
    let turn =
        |rate_hz: f64, deviation: f64| deviation / (TAU * rate_hz) * (TAU * rate_hz * t).sin();
    0.003 + turn(0.62, 0.0012) + turn(1.7, 0.0006)
}

/// The transfer: level set by the highest peak; hiss and hum as the machine gives them; fades.
fn transfer(tape: &[f32], hiss: &[f32]) -> Vec<f64> {
    let peak = tape
        .iter()
        .fold(0.0, |peak: f64, x| peak.max(f64::from(x.abs())));
    let power = hiss.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / hiss.len() as f64;
    let programme_gain = db_amp(TRANSFER_PEAK_DBFS) / peak;
    let hiss_gain = db_amp(HISS_DBFS) / (2.0 * power).sqrt();
    let rate_hz = f64::from(SAMPLE_RATE_HZ);
    let end_s = tape.len() as f64 / rate_hz;
    let hum = hum_period();
    let frames = tape.iter().zip(hiss).zip(hum.iter().cycle()).enumerate();
    frames
        .map(|(frame, ((programme, hiss), hum))| {
            let t = frame as f64 / rate_hz;
            let edge = (t / FADE_IN_S)
                .min((end_s - t) / FADE_OUT_S)
                .clamp(0.0, 1.0);
            let sum = programme_gain * f64::from(*programme) + hiss_gain * f64::from(*hiss);
            smooth3(edge) * (sum + hum)
        })
        .collect()
}

/// One period of the mains hum, a whole number of frames: it repeats exactly.
fn hum_period() -> Vec<f64> {
    let rate_hz = f64::from(SAMPLE_RATE_HZ);
    let component =
        |frame: f64, (hz, dbfs): (f64, f64)| db_amp(dbfs) * (TAU * hz * frame / rate_hz).sin();
    (0..SAMPLE_RATE_HZ / 50)
        .map(|frame| {
            HUM_HZ_DBFS
                .iter()
                .map(|&part| component(f64::from(frame), part))
                .sum()
        })
        .collect()
}

/// Moments of overload in what reached the amplifier: excursions beyond a knee, those less than
/// 100 ms apart counted as one. Each is the frame at which it begins.
#[cfg(test)]
pub(super) fn overloads(at_amplifier: &[f32]) -> Vec<usize> {
    let apart = SAMPLE_RATE_HZ as usize / 10;
    let mut begins = Vec::new();
    let mut last = None;
    for (frame, x) in at_amplifier.iter().enumerate() {
        if *x > KNEE_POSITIVE || *x < -KNEE_NEGATIVE {
            if last.is_none_or(|last| frame - last > apart) {
                begins.push(frame);
            }
            last = Some(frame);
        }
    }
    begins
}
