//! The four instruments. Each function builds one note as a fundsp graph with its own time, zero
//! at the note's start; the piece places it. Amplitudes are near 1.0 at the note's loudest.

use std::f64::consts::TAU;

use fundsp::prelude64::*;

/// A note ready to be placed: a graph without inputs and with one output.
pub(super) type Note = Box<dyn AudioUnit>;

/// What all notes of an instrument sound through: one input, one output.
pub(super) type Body = Box<dyn AudioUnit>;

/// What the player decides about one note.
#[derive(Clone, Copy, Debug)]
pub(super) struct Playing {
    /// Fundamental of the note.
    pub(super) pitch_hz: f32,
    /// How long the note is held; what rings on after that belongs to the instrument.
    pub(super) held_s: f64,
    /// Seed of whatever is random in the note.
    pub(super) seed: u64,
}

/// A plucked wire string, after Karplus and Strong (Computer Music Journal 7(2), 1983): a burst of
/// noise circulates in a delay line one period long and loses treble with each turn. A soft finger
/// rounds the attack.
pub(super) fn string(playing: Playing) -> Note {
    let wire = zero() >> pluck(playing.pitch_hz, 0.22, 0.35);
    let mut note = wire * lfo(|t| (t / 0.005).min(1.0));
    // The burst is drawn from the hash of the graph, so the seed goes in as its hash.
    note.ping(false, AttoHash::new(playing.seed));
    Box::new(note * 1.6)
}

/// The box that all strings are stretched over: dull wood, and two bells for the resonances of
/// its air and its top.
pub(super) fn string_box() -> Body {
    Box::new(
        lowpole_hz(2_800.0)
            >> bell_hz(215.0, 2.0, db_amp(4.0))
            >> bell_hz(430.0, 2.5, db_amp(3.0))
            >> dcblock_hz(60.0),
    )
}

/// The body of an instrument whose notes are complete in themselves.
pub(super) fn no_box() -> Body {
    Box::new(pass())
}

/// A large frame drum: the two lowest modes of a circular membrane (1 : 1.593, from the zeros of
/// the Bessel functions J0 and J1), gliding down as the stroke's extra tension relaxes, and the
/// slap of the hand as a short band of noise.
pub(super) fn drum(playing: Playing) -> Note {
    let fundamental_hz = f64::from(playing.pitch_hz);
    let glide = move |t: f64| fundamental_hz * (1.0 + 0.28 * (-t / 0.03).exp());
    let skin = (lfo(glide) >> sine().phase(0.0)) * lfo(|t| (-t / 0.19).exp());
    let second =
        (lfo(move |t| 1.593 * glide(t)) >> sine().phase(0.0)) * lfo(|t| 0.45 * (-t / 0.085).exp());
    let slap = (white().seed(playing.seed) >> bandpass_hz(1_100.0, 0.7))
        * lfo(|t| 0.55 * (-t / 0.012).exp());
    Box::new((skin + second + slap) * lfo(|t| (t / 0.001).min(1.0)))
}

/// A reed pipe: narrow pulses of air (the reed closes once a period) through a tube whose
/// brightness follows the breath. The pitch scoops up into the note, vibrato comes late.
pub(super) fn reed(playing: Playing) -> Note {
    let Playing {
        pitch_hz,
        held_s,
        seed,
    } = playing;
    let breath = move |t: f64| swell(t, 0.045, held_s, 0.07) * (0.86 + 0.14 * (-t / 0.12).exp());
    let pitch = move |t: f64| {
        let vibrato_cents = 13.0 * late(t, 0.28) * (TAU * 5.4 * t).sin();
        f64::from(pitch_hz) * cents(vibrato_cents - 38.0 * (-t / 0.018).exp())
    };
    let pulses = (lfo(pitch) | lfo(move |t| 0.24 + 0.05 * breath(t))) >> poly_pulse();
    let air = (white().seed(seed) >> bandpass_hz(2_400.0, 0.8)) * 0.05;
    let tube = (pass() | lfo(move |t| 700.0 + 2_300.0 * breath(t)) | dc(0.8)) >> lowpass();
    let note = (pulses + air) >> tube >> bell_hz(1_250.0, 1.6, db_amp(5.0)) >> dcblock_hz(90.0);
    Box::new(note * lfo(breath) * 0.55)
}

/// Formants of the two vowels the voice moves between, in hertz: mean of the women's vowels in
/// "hawed" and "hod" (Peterson and Barney, J. Acoust. Soc. Am. 24, 1952, table II).
const VOWEL_AW_HZ: [f64; 3] = [590.0, 920.0, 2_710.0];
const VOWEL_AH_HZ: [f64; 3] = [850.0, 1_220.0, 2_810.0];

/// A voice without words: a soft sawtooth (the glottis) through three parallel resonances that
/// open from "aw" to "ah" and close again while the note lasts.
pub(super) fn voice(playing: Playing) -> Note {
    let Playing {
        pitch_hz,
        held_s,
        seed,
    } = playing;
    let breath = move |t: f64| swell(t, 0.11, held_s, 0.16);
    let pitch = move |t: f64| {
        let vibrato_cents = 22.0 * late(t, 0.35) * (TAU * 5.1 * t).sin();
        let drift_cents = 5.0 * (TAU * (0.7 * t + rnd1(seed))).sin();
        f64::from(pitch_hz) * cents(vibrato_cents + drift_cents - 60.0 * (-t / 0.045).exp())
    };
    let glottis = (lfo(pitch) >> poly_saw()) >> lowpole_hz(1_500.0);
    let air = (white().seed(seed) >> highpass_hz(1_500.0, 0.7)) * 0.012;
    let opening = |t: f64| 0.25 + 0.75 * (1.0 - (-t / 0.4).exp());
    let formant = move |index: usize, q: f32, gain: f32| {
        let (low_hz, high_hz) = (VOWEL_AW_HZ[index], VOWEL_AH_HZ[index]);
        let place = lfo(move |t| low_hz + (high_hz - low_hz) * opening(t));
        ((pass() | place) >> bandpass_q(q)) * gain
    };
    let mouth = formant(0, 5.0, 1.0) & formant(1, 8.0, 0.6) & formant(2, 14.0, 0.35);
    Box::new(((glottis + air) >> mouth >> dcblock_hz(90.0)) * lfo(breath) * 1.5)
}

/// Amplitude of a blown or sung note: smooth rise, hold, smooth fall after `held_s`.
fn swell(t: f64, rise_s: f64, held_s: f64, fall_s: f64) -> f64 {
    smooth3((t / rise_s).min(1.0)) * (1.0 - smooth3(((t - held_s) / fall_s).clamp(0.0, 1.0)))
}

/// 0 at the start of a note, 1 from `delay_s` plus a quarter second on: when vibrato sets in.
fn late(t: f64, delay_s: f64) -> f64 {
    smooth3(((t - delay_s) / 0.25).clamp(0.0, 1.0))
}

/// Frequency ratio of an interval in cents.
fn cents(cents: f64) -> f64 {
    (cents / 1_200.0).exp2()
}
