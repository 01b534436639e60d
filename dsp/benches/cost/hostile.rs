//! The sound that costs most, searched for.

use super::chain::{FRAMES, play};
use super::ruler::{Rows, least};
use super::sound::{RATE_HZ, prepared, tones};
use penstock_dsp::chain::Chain;
use penstock_dsp::oversample::Oversampling;
use penstock_dsp::plan::Plan;
use penstock_dsp::units::SampleRate;
use std::f64::consts::TAU;

/// Kinds of sound tried at every level.
const KINDS: [&str; 7] = [
    "white noise",
    "square, 60 Hz",
    "square, 997 Hz",
    "sine, 20 Hz",
    "sine, 9.3 kHz",
    "18 and 19 kHz",
    "impulses",
];

/// A sound in both channels, the other one upside down.
fn sound(kind: usize, level: f64) -> Vec<Vec<f64>> {
    let mut random = 1_u64;
    let one: Vec<f64> = (0..FRAMES)
        .map(|n| {
            let t = n as f64 / RATE_HZ;
            let sine = |hz: f64| (TAU * hz * t).sin();
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            level
                * match kind {
                    0 => (random >> 11) as f64 / (1_u64 << 52) as f64 - 1.0,
                    1 => sine(60.0).signum(),
                    2 => sine(997.0).signum(),
                    3 => sine(20.0),
                    4 => sine(9_301.0),
                    5 => 0.5 * (sine(18_000.0) + sine(19_000.0)),
                    _ => f64::from(u8::from(n % 37 == 0)),
                }
        })
        .collect();
    let other = one.iter().map(|x| -x).collect();
    vec![one, other]
}

/// Pad losses and gains tried.
const DRIVES: [(&str, &str); 3] = [("40", "40"), ("20", "64"), ("20", "28")];
const LEVELS: [f64; 4] = [0.01, 0.1, 0.3, 1.0];
/// So many of the costliest are measured again.
const COSTLIEST: usize = 6;

/// A run of one kind at a level, with a drive.
fn run(kind: usize, level: f64, (pad, gain): (&str, &str)) -> impl FnMut() {
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    let mut plan = Plan::default();
    for set in [
        format!("pad.loss_db={pad}"),
        format!("preamp.gain_db={gain}"),
        "pad.in_ohms_min=10".to_owned(),
    ] {
        plan.assign(&set).expect("a plan");
    }
    let mut chain =
        Chain::prepare(&plan, rate, 2, Oversampling::Eight).expect("a pad that can be built");
    let audio = sound(kind, level);
    let mut room = audio.clone();
    move || play(&mut chain, &audio, &mut room, 64)
}

/// Tries every kind at several levels and drives, then the costliest against the usual; says the worst.
pub fn search() {
    let mut tried = Vec::new();
    for drive in DRIVES {
        for kind in 0..KINDS.len() {
            for level in LEVELS {
                tried.push((least(2, run(kind, level, drive)), kind, level, drive));
            }
        }
    }
    tried.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut rows = Rows::default();
    let heading = "The costliest found, stereo at 8x:";
    let (mut usual, audio) = (prepared(2, Oversampling::Eight), tones(2, 4.0, FRAMES));
    let mut room = audio.clone();
    rows.begin(heading, "20 tones at +4 dBu line", FRAMES, move || {
        play(&mut usual, &audio, &mut room, 64);
    });
    for &(_, kind, level, drive) in tried.iter().take(COSTLIEST) {
        let name = format!(
            "{} at {level} of full scale, pad {}, gain {}",
            KINDS[kind], drive.0, drive.1
        );
        rows.add(name, FRAMES, run(kind, level, drive));
    }
    let ns = rows.table();
    let worst = ns[1..].iter().copied().fold(0.0, f64::max);
    println!(
        "the worst: {:.2} times the usual (3 allowed)",
        worst / ns[0]
    );
}
