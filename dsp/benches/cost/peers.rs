//! What a simple oversampled waveshaper costs, on the same processor in the same run.

use super::ruler::{Ruler, least};
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
pub fn table(ruler: &Ruler) {
    println!("\nFor comparison, stereo:");
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
    let ns = least(5, || {
        for _ in 0..FRAMES / MAX_BUFFER_SIZE {
            unit.process(
                MAX_BUFFER_SIZE,
                &input.buffer_ref(),
                &mut output.buffer_mut(),
            );
        }
    });
    let frames = (FRAMES / MAX_BUFFER_SIZE * MAX_BUFFER_SIZE) as f64;
    ruler.line("fundsp: two tanh, five filters, 8x (blocks)", ns / frames);
    let audio: Vec<f64> = (0..FRAMES).map(|n| 0.5 * (n as f64 * 0.1).sin()).collect();
    let mut sum = 0.0;
    let ns = least(5, || {
        for sample in &audio {
            for channel in [1.0, -1.0] {
                sum += (1.1 * (channel * sample).tanh()).tanh();
            }
        }
    });
    black_box(sum);
    ruler.line(
        "a plain loop of two tanh, without oversampling",
        ns / FRAMES as f64,
    );
}
