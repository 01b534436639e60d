//! The meters, each on both channels.

use super::ruler::{Ruler, least};
use super::sound::{RATE_HZ, tones};
use penstock_dsp::meter::{Loudness, Meter, PeakMeter, Ppm, PpmType, Rms, TruePeak, Vu};
use penstock_dsp::units::SampleRate;
use std::hint::black_box;

const FRAMES: usize = 48_000;
const BLOCK: usize = 64;
const RUNS: usize = 7;

/// One line a meter.
pub fn table(ruler: &Ruler) {
    println!("\nMeters, stereo, blocks of {BLOCK} (250 FMA-times a frame allowed):");
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    let audio = tones(2, 4.0, FRAMES);
    line(
        ruler,
        "sample peak, hold and overs",
        &audio,
        PeakMeter::prepare(rate, 1.0),
    );
    line(ruler, "true peak", &audio, TruePeak::prepare());
    line(ruler, "RMS, crest and DC", &audio, Rms::prepare(rate, 0.3));
    line(ruler, "VU", &audio, Vu::prepare(rate));
    line(ruler, "PPM Type I", &audio, Ppm::prepare(PpmType::I, rate));
    line(
        ruler,
        "PPM Type IIa",
        &audio,
        Ppm::prepare(PpmType::IIa, rate),
    );
    let mut loudness = Loudness::prepare(rate, 2, true);
    let ns = least(RUNS, || {
        for (left, right) in audio[0].chunks(BLOCK).zip(audio[1].chunks(BLOCK)) {
            loudness.process(&[left, right]);
        }
        black_box(loudness.momentary_lufs());
    });
    ruler.line("loudness M, S, I and range", ns / FRAMES as f64);
}

fn line<M: Meter + Clone>(ruler: &Ruler, name: &str, audio: &[Vec<f64>], meter: M) {
    let mut meters = [meter.clone(), meter];
    let ns = least(RUNS, || {
        for (meter, audio) in meters.iter_mut().zip(audio) {
            audio.chunks(BLOCK).for_each(|chunk| meter.process(chunk));
        }
        black_box(&meters);
    });
    ruler.line(name, ns / FRAMES as f64);
}
