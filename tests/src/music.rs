//! Made-up music: what it sounds like does not matter, that it behaves like music does.

use std::f64::consts::TAU;

use crate::random::Random;
use crate::wave::Wave;

impl Wave {
    /// A stereo piece that is the same on every machine: plucked chords with a bass under them,
    /// drum strokes of noise, a held tone and rests, with a largest magnitude of `peak`. Left and
    /// right differ.
    #[must_use]
    pub fn music(rate_hz: u32, peak: f64, seconds: f64, seed: u64) -> Self {
        let frames = (seconds * f64::from(rate_hz)).round() as usize;
        let mut random = Random::new(seed);
        let mut sides = [vec![0.0; frames], vec![0.0; frames]];
        let mut at = 0.0;
        while at < seconds {
            let start = (at * f64::from(rate_hz)) as usize;
            match random.bits() % 4 {
                0 => stroke(&mut sides, rate_hz, start, &mut random),
                1 => {
                    pluck(&mut sides, rate_hz, start, &mut random, 55.0);
                    stroke(&mut sides, rate_hz, start, &mut random);
                }
                _ => {
                    for semitones in [0, 4, 7] {
                        let hz = 220.0 * 2f64.powf(f64::from(semitones) / 12.0);
                        pluck(&mut sides, rate_hz, start, &mut random, hz);
                    }
                }
            }
            at += random.one_of(&[0.125, 0.125, 0.25, 0.375]);
        }
        let highest = sides
            .iter()
            .flatten()
            .fold(1e-9f64, |most, x| most.max(x.abs()));
        let mono = |samples: &Vec<f64>| Self {
            rate_hz,
            channels: 1,
            samples: samples
                .iter()
                .map(|x| (x * peak / highest) as f32)
                .collect(),
        };
        Self::stereo(&mono(&sides[0]), &mono(&sides[1]))
    }
}

/// A decaying note with ten partials near a pitch.
fn pluck(sides: &mut [Vec<f64>; 2], rate_hz: u32, start: usize, random: &mut Random, near_hz: f64) {
    let hz = near_hz * random.one_of(&[0.5, 1.0, 1.122_462, 1.334_840, 2.0]);
    let (level, place) = (random.between(0.2, 0.6), random.between(0.2, 0.8));
    for partial in 1..=10 {
        let partial = f64::from(partial);
        if partial * hz > 0.4 * f64::from(rate_hz) {
            break;
        }
        let phase = random.between(0.0, TAU);
        let seconds = 0.8 / partial;
        let turn = TAU * partial * hz / f64::from(rate_hz);
        let length = (3.0 * seconds * f64::from(rate_hz)) as usize;
        for n in 0..length {
            let t = n as f64 / f64::from(rate_hz);
            let rise = (t / 0.002).min(1.0);
            let value =
                level / partial * rise * (-t / seconds).exp() * (turn * n as f64 + phase).sin();
            add(sides, start + n, value, place);
        }
    }
}

/// A decaying burst of noise with a thud under it.
fn stroke(sides: &mut [Vec<f64>; 2], rate_hz: u32, start: usize, random: &mut Random) {
    let place = random.between(0.3, 0.7);
    let mut smooth = 0.0;
    for n in 0..(0.3 * f64::from(rate_hz)) as usize {
        let t = n as f64 / f64::from(rate_hz);
        smooth += 0.4 * (random.between(-1.0, 1.0) - smooth);
        let thud = (TAU * 60.0 * t).sin() * (-t / 0.1).exp();
        add(
            sides,
            start + n,
            0.9 * smooth * (-t / 0.04).exp() + 0.8 * thud,
            place,
        );
    }
}

fn add(sides: &mut [Vec<f64>; 2], frame: usize, value: f64, place: f64) {
    let [left, right] = sides;
    if let (Some(left), Some(right)) = (left.get_mut(frame), right.get_mut(frame)) {
        *left += value * (1.0 - place);
        *right += value * place;
    }
}
