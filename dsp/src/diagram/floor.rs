//! The noise of a plan at every point: resistors at 20 degC, tubes, and converters where theirs is known.
//! The running model (`preamp.noise`) has the same noise at every point, but for the converters'.
//!
//! A converter's noise is stated A-weighted and taken as white. Of an own preamplifier there is its equivalent
//! input noise, taken as white too: at its terminals, from 150 ohm, of which it has the thermal noise in
//! it. Behind an attenuator it is what the stage after it adds, at the least the stated one.

use super::{Floor, Weighting};
use crate::chain::{
    OwnGains, Point, analog_settings, build_pad, preamp_in_ohms, return_hiss_volts, return_pad,
};
use crate::circuit::{BOLTZMANN, ROOM_KELVIN, gains_at_points, noise_at_points};
use crate::pad::PadError;
use crate::plan::Plan;
use crate::units::{Dbfs, Dbu, Volts, parallel};

/// Twelve steps an octave: nothing in the band is narrower.
const STEPS: i32 = 120;
/// Band of every figure, in hertz.
const BAND_HZ: f64 = 20_000.0 - 20.0;
/// What equivalent input noise is stated from.
const STATED_OHMS: f64 = 150.0;
/// Densities in volts squared a hertz at the points after the bus; infinite where nothing is known.
type Densities = [f64; 7];

/// Noise from 20 Hz to 20 kHz at the points, in the order of [`Point::ALL`]; the bus has none. Nor has
/// what an own unit does not state.
///
/// # Errors
/// When the plan's pad cannot be built.
pub fn floors(plan: &Plan) -> Result<[Option<Floor>; 8], PadError> {
    match OwnGains::of(plan) {
        None => of_model(plan),
        Some(gains) => of_own(plan, &gains),
    }
}

fn of_model(plan: &Plan) -> Result<[Option<Floor>; 8], PadError> {
    let build = build_pad(plan)?;
    let settings = analog_settings(plan, &build);
    let pad = build.as_built.two_port();
    let back = return_pad(plan);
    let port = back.two_port();
    let ratio = 1.0 / (port.a + port.b / plan.rig.return_in.0);
    let hiss = return_hiss_volts(plan, &back).powi(2);
    let trim = plan.back.trim.ratio();
    let [sent, returned] = converters(plan);
    Ok(integrated(|hz| {
        let mut analog = noise_at_points(&settings, &pad, plan.rig.source, hz);
        if sent > 0.0 {
            let ways = gains_at_points(&settings, &pad, plan.rig.source, hz);
            for (noise, way) in analog.iter_mut().zip(ways) {
                *noise += sent * way;
            }
        }
        let mut all = [0.0; 7];
        all[..6].copy_from_slice(&analog);
        all[6] = (analog[5] * ratio * ratio + hiss + returned) * trim * trim;
        all
    }))
}

fn of_own(plan: &Plan, gains: &OwnGains) -> Result<[Option<Floor>; 8], PadError> {
    let pad = build_pad(plan)?.as_built;
    let (source, load) = (plan.rig.source, preamp_in_ohms(plan));
    let thermal = |ohms: f64| 4.0 * BOLTZMANN * ROOM_KELVIN * ohms;
    let [sent, returned] = converters(plan);
    let pad_in = pad.in_ohms(load);
    let loading = pad_in.0 / (pad_in.0 + source.0);
    let line = thermal(parallel(source.0, pad_in.0)) + sent * loading * loading;
    let mic =
        thermal(parallel(pad.out_ohms(source).0, load.0)) + sent * (loading * gains.pad).powi(2);
    let stated = plan.rig.unit.ein.map(|ein| ein.volts().0.powi(2) / BAND_HZ);
    let attenuated = (-plan.preamp.attenuator).ratio().powi(2);
    let own = stated.map_or(f64::INFINITY, |stated| {
        if attenuated < 1.0 {
            stated
        } else {
            (stated - thermal(parallel(STATED_OHMS, load.0))).max(0.0)
        }
    });
    let out = (mic * attenuated + own) * plan.preamp.gain.ratio().powi(2);
    let trim = plan.back.trim.ratio().powi(2);
    let hiss = return_hiss_volts(plan, &return_pad(plan)).powi(2);
    let unknown = f64::INFINITY;
    let all = [
        line,
        mic,
        unknown,
        unknown,
        unknown,
        out,
        out * gains.back * gains.back + (hiss + returned) * trim,
    ];
    Ok(integrated(|_| all))
}

/// What the converters add: the send to its unloaded volts, the return to the volts at its input; nothing
/// where it is not known.
fn converters(plan: &Plan) -> [f64; 2] {
    let weighted: f64 = band(|hz| [Weighting::A.power(hz); 7])[0];
    let density = |noise: Option<Dbfs>, full_scale: Dbu| {
        noise.map_or(0.0, |Dbfs(level)| {
            let volts = Dbu(full_scale.0 + level).volts().0;
            volts * volts / weighted
        })
    };
    let rig = &plan.rig;
    [
        density(rig.send_noise, rig.send_full_scale.0),
        density(rig.return_noise, rig.return_full_scale.0),
    ]
}

/// Floors of densities.
fn integrated(densities: impl Fn(f64) -> Densities) -> [Option<Floor>; 8] {
    let mut floors = [None; 8];
    let sums = weighed(densities);
    for (n, point) in Point::ALL.into_iter().skip(1).enumerate() {
        let [flat, a, itu_468] = sums.map(|sums| Dbu::from_volts(Volts(sums[n].sqrt())));
        let known = flat.0.is_finite();
        floors[point as usize] = known.then_some(Floor { flat, a, itu_468 });
    }
    floors
}

/// Weighed in each way.
fn weighed(densities: impl Fn(f64) -> Densities) -> [Densities; 3] {
    let at = |n: i32| 20.0 * 1000_f64.powf(f64::from(n) / f64::from(STEPS));
    let mut sums = [[0.0; 7]; 3];
    let mut before = (at(0), densities(at(0)));
    for n in 1..=STEPS {
        let now = (at(n), densities(at(n)));
        for (sums, weighting) in sums.iter_mut().zip(Weighting::ALL) {
            let [one, other] = [&before, &now].map(|(hz, _)| weighting.power(*hz));
            for (point, sum) in sums.iter_mut().enumerate() {
                let both = before.1[point] * one + now.1[point] * other;
                *sum += 0.5 * both * (now.0 - before.0);
            }
        }
        before = now;
    }
    sums
}

/// Over the band as it is.
fn band(densities: impl Fn(f64) -> Densities) -> Densities {
    weighed(densities)[0]
}
