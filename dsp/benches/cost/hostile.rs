//! The sound that costs most, searched for.

use super::chain::{FRAMES, cost};
use super::ruler::Ruler;
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

/// Tries every kind at several levels and drives; says the worst.
pub fn search(ruler: &Ruler) {
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    let usual = cost(
        &mut prepared(2, Oversampling::Eight),
        &tones(2, 4.0, FRAMES),
        64,
    );
    let mut worst = (0.0, String::new());
    for (pad, gain) in [("40", "40"), ("20", "64"), ("20", "28")] {
        let mut plan = Plan::default();
        for set in [
            format!("pad.loss_db={pad}"),
            format!("preamp.gain_db={gain}"),
            "pad.in_ohms_min=10".to_owned(),
        ] {
            plan.assign(&set).expect("a plan");
        }
        let Ok(mut chain) = Chain::prepare(&plan, rate, 2, Oversampling::Eight) else {
            continue;
        };
        for (kind, name) in KINDS.iter().enumerate() {
            for level in [0.01, 0.1, 0.3, 1.0] {
                let ns = cost(&mut chain, &sound(kind, level), 64);
                if ns > worst.0 {
                    let name = format!("{name} at {level} of full scale, pad {pad}, gain {gain}");
                    worst = (ns, name);
                }
            }
        }
    }
    println!("\nThe worst found, stereo at 8x:");
    ruler.line(&worst.1, worst.0);
    println!(
        "{:.2} times the cost of 20 tones at +4 dBu",
        worst.0 / usual
    );
}
