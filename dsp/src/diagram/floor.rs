//! The noise of a plan at every point: resistors at 20 degC and tubes. Converters add none here: a
//! plan does not state theirs. The running model (`preamp.noise`) has the same noise at every point.

use super::{Floor, Weighting};
use crate::chain::{Point, analog_settings, build_pad, return_hiss_volts, return_pad};
use crate::circuit::noise_at_points;
use crate::pad::PadError;
use crate::plan::Plan;
use crate::units::{Dbu, Volts};

/// Twelve steps an octave: nothing in the band is narrower.
const STEPS: i32 = 120;

/// Noise from 20 Hz to 20 kHz at the points, in the order of [`Point::ALL`]; the bus has none.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn floors(plan: &Plan) -> Result<[Option<Floor>; 8], PadError> {
    let build = build_pad(plan)?;
    let settings = analog_settings(plan, &build);
    let pad = build.as_built.two_port();
    let back = return_pad(plan);
    let port = back.two_port();
    let ratio = 1.0 / (port.a + port.b / plan.rig.return_in.0);
    let hiss = return_hiss_volts(plan, &back).powi(2);
    let trim = plan.back.trim.ratio();
    let densities = |hz: f64| {
        let analog = noise_at_points(&settings, &pad, plan.rig.source, hz);
        let mut all = [0.0; 7];
        all[..6].copy_from_slice(&analog);
        all[6] = (analog[5] * ratio * ratio + hiss) * trim * trim;
        all
    };
    let at = |n: i32| 20.0 * 1000_f64.powf(f64::from(n) / f64::from(STEPS));
    let mut sums = [[0.0; 3]; 7];
    let mut before = (at(0), densities(at(0)));
    for n in 1..=STEPS {
        let now = (at(n), densities(at(n)));
        for (point, sums) in sums.iter_mut().enumerate() {
            for (sum, weighting) in sums.iter_mut().zip(Weighting::ALL) {
                let weighed = |(hz, all): &(f64, [f64; 7])| all[point] * weighting.power(*hz);
                *sum += 0.5 * (weighed(&before) + weighed(&now)) * (now.0 - before.0);
            }
        }
        before = now;
    }
    let mut floors = [None; 8];
    for (point, sums) in Point::ALL.into_iter().skip(1).zip(sums) {
        let [flat, a, itu_468] = sums.map(|sum| Dbu::from_volts(Volts(sum.sqrt())));
        floors[point as usize] = Some(Floor { flat, a, itu_468 });
    }
    Ok(floors)
}
