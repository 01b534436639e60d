//! Band-limited interpolation of a whole recording.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

/// The recording at `factor` times its rate, exactly through its samples: by its spectrum, with as
/// much silence behind it as it is long, so that its end does not reach round to its start.
///
/// Not for audio threads: it allocates `2 factor` times the recording.
#[must_use]
pub fn upsample(samples: &[f64], factor: usize) -> Vec<f64> {
    if samples.is_empty() || factor == 0 {
        return Vec::new();
    }
    let length = (2 * samples.len()).next_power_of_two();
    let mut padded = samples.to_vec();
    padded.resize(length, 0.0);
    let mut planner = RealFftPlanner::<f64>::new();
    let mut spectrum = vec![Complex64::default(); length / 2 + 1];
    let forward = planner.plan_fft_forward(length);
    let fine_length = length * factor;
    let mut fine_spectrum = vec![Complex64::default(); fine_length / 2 + 1];
    let mut fine = vec![0.0; fine_length];
    let done = forward.process(&mut padded, &mut spectrum).and_then(|()| {
        // The bin at half the rate stands for both of its sides.
        if factor > 1 {
            spectrum[length / 2] *= 0.5;
        }
        fine_spectrum[..spectrum.len()].copy_from_slice(&spectrum);
        planner
            .plan_fft_inverse(fine_length)
            .process(&mut fine_spectrum, &mut fine)
    });
    debug_assert!(done.is_ok(), "the lengths fit by construction");
    fine.truncate((samples.len() - 1) * factor + 1);
    let scale = 1.0 / length as f64;
    fine.iter_mut().for_each(|sample| *sample *= scale);
    fine
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_goes_through_the_samples_and_between_them_as_a_sine_does() {
        let at = |t: f64| {
            let window = (-(t - 500.0) * (t - 500.0) / 8e3).exp();
            window * (0.9 * t).sin()
        };
        let samples: Vec<f64> = (0..1000).map(|n| at(f64::from(n))).collect();
        let fine = upsample(&samples, 16);
        assert_eq!(fine.len(), 999 * 16 + 1);
        for (n, sample) in fine.iter().enumerate() {
            let want = at(n as f64 / 16.0);
            assert!((sample - want).abs() < 1e-9, "{n}: {sample} {want}");
        }
    }
}
