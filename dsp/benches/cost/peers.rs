//! What a simple oversampled waveshaper costs, on the same processor in the same run.

use super::ruler::Rows;
use fundsp::prelude64::*;
use std::hint::black_box;

const FRAMES: usize = 24_000;

/// Two hyperbolic tangents with four filters between them and a high-pass, at eight times the rate.
fn shaper() -> Box<dyn AudioUnit> {
    let one = || {
        let inside = shape(Tanh(1.0))
            >> lowpass_hz(20_000.0, 0.7)
            >> bell_hz(3_000.0, 1.0, 1.1)
            >> shape(Tanh(1.0))
            >> lowpass_hz(20_000.0, 0.7)
            >> bell_hz(300.0, 1.0, 1.1)
            >> highpass_hz(20.0, 0.7);
        oversample(oversample(oversample(inside)))
    };
    Box::new(one() | one())
}

/// The peers.
pub fn rows(rows: &mut Rows<'_>) {
    let mut unit = shaper();
    unit.set_sample_rate(48_000.0);
    unit.allocate();
    let mut input = BufferVec::new(2);
    let mut output = BufferVec::new(2);
    for channel in 0..2 {
        for n in 0..MAX_BUFFER_SIZE {
            input.set_f32(channel, n, (n as f32 * 0.1).sin() * 0.5);
        }
    }
    let blocks = FRAMES / MAX_BUFFER_SIZE;
    let name = "fundsp: two tanh, five filters, 8x (blocks)";
    let heading = "For comparison, stereo:";
    rows.begin(heading, name, blocks * MAX_BUFFER_SIZE, move || {
        for _ in 0..blocks {
            unit.process(
                MAX_BUFFER_SIZE,
                &input.buffer_ref(),
                &mut output.buffer_mut(),
            );
        }
    });
    let audio: Vec<f64> = (0..FRAMES).map(|n| 0.5 * (n as f64 * 0.1).sin()).collect();
    let name = "a plain loop of two tanh, without oversampling";
    rows.add(name, FRAMES, move || {
        let mut sum = 0.0;
        for sample in &audio {
            for channel in [1.0, -1.0] {
                sum += (1.1 * (channel * sample).tanh()).tanh();
            }
        }
        black_box(sum);
    });
}
