//! What oversampling leaves of aliasing: everything in a tone's spectrum that is no harmonic of it.
//!
//! Measured in the manner of AES17 (from memory), but without the harmonics: the sum of all components
//! from 20 Hz to 20 kHz that are no multiples of the tone, against the tone. The tone lies on a bin of the
//! transform (realfft), and no folded harmonic falls on a true one.

use std::f64::consts::{PI, TAU};

use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::{Dbfs, SampleRate};
use penstock_tests::assert_near;
use penstock_tests::readme::assert_block_in;
use realfft::RealFftPlanner;

const RATE_HZ: f64 = 48_000.0;
/// Frames of a transform.
const LENGTH: usize = 65_536;
/// The window is a sine to this power, which is a sum of four cosines: a tone on a bin fills four bins
/// on either side and no other at all.
const POWER: i32 = 8;
/// Bins on either side of a harmonic that are its own: those four, and as many for what still drifts.
const NEAR: usize = 8;
/// Full scale of the default plan's send in dBu.
const FULL_SCALE_DBU: f64 = 22.0;
/// From the first sample to the transform's. Three and six times as much change no figure by more
/// than 0.2 dB.
const SETTLING_FRAMES: usize = 96_000;
/// Deeper figures are not told apart: they say more of the arithmetic than of the filters.
const FLOOR_DB: f64 = -150.0;

/// Line level in dBu, gain in dB, and the most that is found at 2x, 4x and 8x with any of the tones. The
/// default pad takes 40 dB: at +4 dBu and 40 dB the preamplifier works as it is meant to.
const DRIVES: [(f64, f64, [f64; 3]); 4] = [
    (4.0, 40.0, [FLOOR_DB, FLOOR_DB, FLOOR_DB]),
    (20.0, 40.0, [FLOOR_DB, FLOOR_DB, FLOOR_DB]),
    (4.0, 64.0, [-48.0, -63.0, -82.0]),
    (20.0, 64.0, [-27.0, -41.0, -56.0]),
];
/// The tones in hertz; of the last all harmonics but the second lie beyond half the rate, and fold when
/// nothing is done.
const TONES_HZ: [f64; 3] = [1_000.0, 5_000.0, 9_301.0];

/// Everything from 20 Hz to 20 kHz that is not near a multiple of bin `tone`, in dB of what is at the
/// tone.
fn aliasing_db(samples: &[f64], tone: usize) -> f64 {
    let window = |n: usize| (PI * n as f64 / LENGTH as f64).sin().powi(POWER);
    let mut windowed: Vec<f64> = (0..LENGTH).map(|n| samples[n] * window(n)).collect();
    let mut spectrum = vec![Default::default(); LENGTH / 2 + 1];
    RealFftPlanner::<f64>::new()
        .plan_fft_forward(LENGTH)
        .process(&mut windowed, &mut spectrum)
        .expect("lengths that fit");
    let bin = |hz: f64| (hz / RATE_HZ * LENGTH as f64).ceil() as usize;
    let from_harmonic = |n: usize| (n % tone).min(tone - n % tone);
    let strangers = (bin(20.0)..=bin(20_000.0)).filter(|n| from_harmonic(*n) > NEAR);
    let power = |bins: &mut dyn Iterator<Item = usize>| -> f64 {
        bins.map(|n| spectrum[n].norm_sqr()).sum()
    };
    let others = power(&mut strangers.into_iter());
    10.0 * (others / power(&mut (tone - NEAR..=tone + NEAR))).log10()
}

/// The odd bin nearest to a frequency: odd numbers share no factor with the length, so that harmonics
/// fold onto bins of their own.
fn odd_bin(hz: f64) -> usize {
    2 * ((hz / RATE_HZ * LENGTH as f64 - 1.0) / 2.0).round() as usize + 1
}

/// A sine on a bin.
fn sine(bin: usize, peak: f64, frames: usize) -> Vec<f64> {
    let angle = |n: usize| TAU * (n * bin % LENGTH) as f64 / LENGTH as f64;
    (0..frames).map(|n| peak * angle(n).sin()).collect()
}

/// A tone at a line level through the default plan with this gain, once it has settled.
fn measured_db(hz: f64, line_dbu: f64, gain_db: f64, oversampling: Oversampling) -> f64 {
    let mut plan = Plan::default();
    plan.assign(&format!("preamp.gain_db={gain_db}"))
        .expect("a gain step");
    // Clipped samples fold whatever the circuit does.
    plan.assign("rig.converters_clip=false").expect("a flag");
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    let mut chain = Chain::prepare(&plan, rate, 1, oversampling).expect("the default pad");
    let tone = odd_bin(hz);
    let peak = Dbfs(line_dbu - FULL_SCALE_DBU).sine_peak();
    let mut audio = sine(tone, peak, SETTLING_FRAMES + LENGTH);
    chain.process(&mut [&mut audio], &mut ());
    aliasing_db(&audio[SETTLING_FRAMES..], tone)
}

#[test]
fn the_measure_finds_what_is_there() {
    let tone = odd_bin(9_301.0);
    let mut samples = sine(tone, 0.5, LENGTH);
    let add = |samples: &mut Vec<f64>, bin: usize, peak: f64| {
        let more = sine(bin, peak, LENGTH);
        samples.iter_mut().zip(more).for_each(|(x, y)| *x += y);
    };
    add(&mut samples, 2 * tone, 0.2);
    // Not counted: below the band and above it.
    add(&mut samples, 16, 0.1);
    add(&mut samples, 30_000, 0.1);
    assert!(aliasing_db(&samples, tone) < -250.0);
    // Two strangers of -123.01 dB each.
    let peak = 0.5e-6 / 2f64.sqrt();
    add(&mut samples, 3_001, peak);
    add(&mut samples, tone + 50, peak);
    assert_near("two strangers", aliasing_db(&samples, tone), -120.0, 0.001);
}

#[test]
fn aliasing_is_as_stated() {
    let mut lines = vec![
        "| line | gain | tone | 1x | 2x | 4x | 8x |".to_owned(),
        "|---|---|---|---|---|---|---|".to_owned(),
    ];
    for (line_dbu, gain_db, most_db) in DRIVES {
        for hz in TONES_HZ {
            let found =
                Oversampling::ALL.map(|setting| measured_db(hz, line_dbu, gain_db, setting));
            let what = format!("{hz} Hz at {line_dbu:+} dBu, gain {gain_db} dB: {found:.1?} dB");
            println!("{what}");
            for (found, most) in found[1..].iter().zip(most_db) {
                assert!(*found <= most, "{what}, at most {most_db:?} at 2x, 4x, 8x");
            }
            let shown = found.map(|found| match found {
                deep if deep < FLOOR_DB => format!("under {FLOOR_DB:.0} dB"),
                found => format!("{found:.1} dB"),
            });
            lines.push(format!(
                "| {line_dbu:+} dBu | {gain_db} dB | {hz} Hz | {} |",
                shown.join(" | ")
            ));
        }
    }
    assert_block_in("DEVELOPERS.md", "aliasing", &lines.join("\n"));
}
