//! The dither against the theory of its source: S. P. Lipshitz, R. A. Wannamaker and
//! J. Vanderkooy, "Quantization and Dither: A Theoretical Survey", J. Audio Eng. Soc. 40 (1992).

use crate::cli::audio::dither::Quantiser;

/// One step of 24 bits.
const LSB: f64 = 1.0 / (1u64 << 23) as f64;

/// Mean and mean square of the total error over many samples of one value, in LSB.
fn error_of(value_lsb: f64) -> (f64, f64) {
    const COUNT: usize = 200_000;
    let mut quantiser = Quantiser::new();
    let errors = (0..COUNT).map(|_| f64::from(quantiser.quantise(value_lsb * LSB)) - value_lsb);
    let (sum, squares) = errors.fold((0.0, 0.0), |(a, b), error| (a + error, b + error * error));
    (sum / COUNT as f64, squares / COUNT as f64)
}

#[test]
fn mean_and_power_of_the_error_do_not_depend_on_the_signal() {
    for value_lsb in [0.0, 0.1, 0.25, 0.5, 0.75, 1000.3, -0.5, -77.9] {
        let (mean, power) = error_of(value_lsb);
        // Mean 0 and power 1/4 LSB^2, within five standard deviations of an average over the
        // count: 0.5 / sqrt(200000) and, the error being bounded by 1.5 LSB, under 0.4 of the same.
        assert!(
            mean.abs() < 5.0 * 0.5 / 200_000f64.sqrt(),
            "{value_lsb}: mean {mean}"
        );
        assert!(
            (power - 0.25).abs() < 5.0 * 0.5 / 200_000f64.sqrt(),
            "{value_lsb}: {power}"
        );
    }
}

#[test]
fn silence_takes_the_three_values_of_triangular_dither() {
    // The density is 1 - |x|, so rounding gives -1, 0 and 1 with probability 1/8, 3/4 and 1/8.
    let mut quantiser = Quantiser::new();
    let mut counts = [0u32; 3];
    for _ in 0..80_000 {
        counts[(quantiser.quantise(0.0) + 1) as usize] += 1;
    }
    // Five standard deviations: sqrt(80000 x 1/8 x 7/8) = 94, sqrt(80000 x 3/4 x 1/4) = 122.
    assert!(counts[0].abs_diff(10_000) < 5 * 94, "{counts:?}");
    assert!(counts[1].abs_diff(60_000) < 5 * 122, "{counts:?}");
    assert!(counts[2].abs_diff(10_000) < 5 * 94, "{counts:?}");
}

#[test]
fn beyond_full_scale_clips_and_counts() {
    let mut quantiser = Quantiser::new();
    for value in [1.0, -1.0, 0.5, 0.999_999] {
        quantiser.quantise(value);
    }
    assert_eq!(quantiser.clipped_samples(), 0);
    assert_eq!(quantiser.quantise(1.000_001), 8_388_607);
    assert_eq!(quantiser.quantise(-1.5), -8_388_608);
    assert_eq!(quantiser.quantise(1e300), 8_388_607);
    assert_eq!(quantiser.clipped_samples(), 3);
}

#[test]
fn equal_input_gives_equal_output() {
    let render = || {
        let mut quantiser = Quantiser::new();
        (0..1000)
            .map(|n| quantiser.quantise(f64::from(n) * 1e-4))
            .collect::<Vec<i32>>()
    };
    assert_eq!(render(), render());
}
