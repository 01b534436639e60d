//! The way up to the circuit's rate and back down, for one channel.

use super::halfband::{Down, Up};
use super::{BLOCK_FRAMES, Oversampling, delay_oversampled, latency_frames, stages};
use crate::units::SampleRate;

/// Up and down for one channel, with the delay filled up to [`latency_frames`].
#[derive(Clone, Debug)]
pub struct Resampler {
    factor: usize,
    up: Vec<Up>,
    down: Vec<Down>,
    /// Two buffers that the stages write in turn.
    scratch: [Vec<f64>; 2],
    /// Delay line at the oversampled rate; may be empty.
    fill: Vec<f64>,
    fill_at: usize,
}

impl Resampler {
    /// Designs the filters; allocates. What stands between [`Resampler::up`] and
    /// [`Resampler::down`] is late by `inside` oversampled samples.
    #[must_use]
    pub fn prepare(rate: SampleRate, setting: Oversampling, inside: usize) -> Self {
        let factor = setting.factor(rate);
        let filters = stages(rate, factor);
        let fill = latency_frames(rate, inside) * factor - delay_oversampled(&filters) - inside;
        let block = |stage: usize| BLOCK_FRAMES << stage;
        let up = filters
            .iter()
            .enumerate()
            .map(|(n, f)| Up::prepare(f.clone(), block(n)))
            .collect();
        let down = filters
            .iter()
            .enumerate()
            .map(|(n, f)| Down::prepare(f.clone(), block(n)));
        Self {
            factor,
            up,
            down: down.collect(),
            scratch: [
                vec![0.0; BLOCK_FRAMES * factor],
                vec![0.0; BLOCK_FRAMES * factor],
            ],
            fill: vec![0.0; fill],
            fill_at: 0,
        }
    }

    /// The factor between the two rates.
    #[must_use]
    pub fn factor(&self) -> usize {
        self.factor
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        self.up.iter_mut().for_each(Up::reset);
        self.down.iter_mut().for_each(Down::reset);
        self.fill.fill(0.0);
        self.fill_at = 0;
    }

    /// Goes on where another resampler of the same rate and setting is. Never allocates.
    pub(crate) fn copy_from(&mut self, other: &Self) {
        for (stage, from) in self.up.iter_mut().zip(&other.up) {
            stage.copy_from(from);
        }
        for (stage, from) in self.down.iter_mut().zip(&other.down) {
            stage.copy_from(from);
        }
        self.fill.copy_from_slice(&other.fill);
        self.fill_at = other.fill_at;
    }

    /// From at most [`BLOCK_FRAMES`] base-rate samples to `factor` times as many, in `fast`.
    pub fn up(&mut self, slow: &[f64], fast: &mut [f64]) {
        let [current, next] = &mut self.scratch;
        current[..slow.len()].copy_from_slice(slow);
        let mut length = slow.len();
        for stage in &mut self.up {
            stage.process(&current[..length], &mut next[..2 * length]);
            length *= 2;
            std::mem::swap(current, next);
        }
        fast.copy_from_slice(&current[..length]);
    }

    /// From `fast` back down to `slow`, delayed as [`latency_frames`] says, both ways together.
    pub fn down(&mut self, fast: &[f64], slow: &mut [f64]) {
        let [current, next] = &mut self.scratch;
        for (delayed, sample) in current.iter_mut().zip(fast) {
            *delayed = match self.fill.get_mut(self.fill_at) {
                Some(slot) => std::mem::replace(slot, *sample),
                None => *sample,
            };
            self.fill_at = if self.fill_at + 1 < self.fill.len() {
                self.fill_at + 1
            } else {
                0
            };
        }
        let mut length = fast.len();
        for stage in self.down.iter_mut().rev() {
            length /= 2;
            stage.process(&current[..2 * length], &mut next[..length]);
            std::mem::swap(current, next);
        }
        slow.copy_from_slice(&current[..length]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::SampleRate;

    /// Impulse response of up and down at a rate and setting.
    fn response(hz: f64, setting: Oversampling) -> (Vec<f64>, usize) {
        let rate = SampleRate::new(hz).expect("a rate within the range");
        let mut resampler = Resampler::prepare(rate, setting, 0);
        let mut fast = vec![0.0; BLOCK_FRAMES * resampler.factor()];
        let mut out = Vec::new();
        for block in 0..16 {
            let mut slow = [0.0; BLOCK_FRAMES];
            slow[0] = f64::from(u8::from(block == 0));
            resampler.up(&slow, &mut fast);
            resampler.down(&fast, &mut slow);
            out.extend_from_slice(&slow);
        }
        (out, latency_frames(rate, 0))
    }

    #[test]
    fn up_and_down_is_flat_to_a_ten_thousandth_of_a_db_and_exactly_symmetric() {
        for hz in [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0] {
            for setting in Oversampling::ALL {
                let (response, latency) = response(hz, setting);
                for n in 0..latency {
                    // Linear phase: symmetric about the integer latency, to rounding.
                    let mirrored = response[2 * latency - n];
                    assert!(
                        (response[n] - mirrored).abs() < 1e-15,
                        "{hz} {setting:?} {n}"
                    );
                }
                for step in 0..=400 {
                    let frequency_hz = 20.0 * 1000_f64.powf(f64::from(step) / 400.0);
                    let w = std::f64::consts::TAU * frequency_hz / hz;
                    let gain: f64 = response[latency]
                        + (1..=latency)
                            .map(|n| 2.0 * response[latency + n] * (w * n as f64).cos())
                            .sum::<f64>();
                    let error_db = 20.0 * gain.log10();
                    assert!(
                        error_db.abs() <= 1e-4,
                        "{hz} {setting:?} {frequency_hz}: {error_db}"
                    );
                }
            }
        }
    }

    #[test]
    fn blocks_of_any_size_give_the_same_samples() {
        let rate = SampleRate::new(48_000.0).expect("a rate within the range");
        let input: Vec<f64> = (0..640).map(|n| (f64::from(n) * 0.37).sin()).collect();
        let mut results = Vec::new();
        for block in [1, 7, 64] {
            let mut resampler = Resampler::prepare(rate, Oversampling::Eight, 0);
            let mut out = Vec::new();
            for slow in input.chunks(block) {
                let mut fast = vec![0.0; slow.len() * resampler.factor()];
                let mut back = vec![0.0; slow.len()];
                resampler.up(slow, &mut fast);
                resampler.down(&fast, &mut back);
                out.extend_from_slice(&back);
            }
            results.push(out);
        }
        assert_eq!(results[0], results[1]);
        assert_eq!(results[0], results[2]);
    }
}
