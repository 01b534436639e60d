//! The meters, each on both channels.

use super::ruler::Rows;
use super::sound::{RATE_HZ, tones};
use penstock_dsp::meter::{Loudness, Meter, PeakMeter, Ppm, PpmType, Rms, TruePeak, Vu};
use penstock_dsp::units::SampleRate;
use std::hint::black_box;

const FRAMES: usize = 48_000;
const BLOCK: usize = 64;

/// One line a meter.
pub fn rows(rows: &mut Rows<'_>) {
    let rate = SampleRate::new(RATE_HZ).expect("a served rate");
    let audio = tones(2, 4.0, FRAMES);
    let heading = "Meters, stereo, blocks of 64 (250 FMA-times a frame allowed):";
    let peak = PeakMeter::prepare(rate, 1.0);
    let name = "sample peak, hold and overs";
    rows.begin(heading, name, FRAMES, metering(&audio, peak));
    let peak = TruePeak::prepare();
    rows.add("true peak", FRAMES, metering(&audio, peak));
    let rms = Rms::prepare(rate, 0.3);
    rows.add("RMS, crest and DC", FRAMES, metering(&audio, rms));
    rows.add("VU", FRAMES, metering(&audio, Vu::prepare(rate)));
    for (name, kind) in [("PPM Type I", PpmType::I), ("PPM Type IIa", PpmType::IIa)] {
        rows.add(name, FRAMES, metering(&audio, Ppm::prepare(kind, rate)));
    }
    let mut loudness = Loudness::prepare(rate, 2, true);
    rows.add("loudness M, S, I and range", FRAMES, move || {
        for (left, right) in audio[0].chunks(BLOCK).zip(audio[1].chunks(BLOCK)) {
            loudness.process(&[left, right]);
        }
        black_box(loudness.momentary_lufs());
    });
}

fn metering<M: Meter + Clone>(audio: &[Vec<f64>], meter: M) -> impl FnMut() + use<M> {
    let mut meters = [meter.clone(), meter];
    let audio = audio.to_vec();
    move || {
        for (meter, audio) in meters.iter_mut().zip(&audio) {
            audio.chunks(BLOCK).for_each(|chunk| meter.process(chunk));
        }
        black_box(&meters);
    }
}
