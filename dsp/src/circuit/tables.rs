//! The laws of the tubes as splines: what the exact laws need exponentials, logarithms and powers for
//! is tabulated once.
//!
//! Cubic splines with two continuous derivatives, through exact values (de Boor, A Practical Guide to
//! Splines, 1978, ch. IV). Outside their range, which sound hardly leaves, the exact laws hold.

use super::elements::{ELEMENTS, Kind};
use super::lanes::Lanes;
use super::triode::{Currents, PlateLaw, Triode};
use std::sync::OnceLock;

/// Range and step of the functions of a tube's weighted voltages (which have no unit).
const WEIGHTED: Grid = Grid {
    low: -64.0,
    step: 1.0 / 16.0,
};
/// Of the functions of a plate's voltage.
const PLATE: Grid = Grid {
    low: 0.0,
    step: 0.25,
};
/// Below this plate voltage the power of Koren's law is too sharp for a spline.
const LEAST_PLATE_VOLTS: f64 = 4.0;

/// Equal pieces of an axis.
#[derive(Clone, Copy, Debug)]
struct Grid {
    low: f64,
    step: f64,
}

/// Pieces of every axis: a power of two, so that any index can be made one of theirs.
const PIECES: usize = 2048;

impl Grid {
    const fn high(&self) -> f64 {
        self.low + self.step * PIECES as f64
    }
}

/// A piece's polynomial, ascending, its argument from 0 to 1.
type Piece = [f64; 4];
type Spline = [Piece; PIECES];

/// Both tubes' laws.
#[derive(Debug)]
pub(super) struct Tables {
    /// Of the weighted voltages: V1's cathode current, V1's grid current, V2's power, V2's grid
    /// current.
    weighted: Box<[Spline; 4]>,
    /// Of the plate voltages: V1's share, (nothing), V2's power, V2's root, inverted.
    plate: Box<[Spline; 4]>,
    triodes: [Triode; 2],
    /// Weights: of V1's grid and plate in its first argument, of the grids in theirs, of V2.
    c: f64,
    c_by_mu: f64,
    grids: [f64; 2],
    kp_by_mu: f64,
    kp: f64,
}

/// Currents into plate and grid of V1, then of V2, in amperes; and their slopes, in siemens, by the
/// grid and the plate voltage of their tube.
#[derive(Clone, Copy, Debug)]
pub(super) struct TubeCurrents {
    pub(super) amps: [f64; 4],
    pub(super) by_grid: [f64; 4],
    pub(super) by_plate: [f64; 4],
}

/// ln(1 + exp x).
fn softplus(x: f64) -> f64 {
    if x > 36.0 { x } else { x.exp().ln_1p() }
}

impl Tables {
    /// Those of the circuit; the first call allocates.
    pub(super) fn get() -> &'static Self {
        static TABLES: OnceLock<Tables> = OnceLock::new();
        TABLES.get_or_init(Self::make)
    }

    fn make() -> Self {
        let mut tubes = ELEMENTS.iter().filter_map(|element| match element.kind {
            Kind::Tube { triode, .. } => Some(triode),
            _ => None,
        });
        let mut next = || tubes.next().expect("the table of elements has two tubes");
        let triodes = [next(), next()];
        let PlateLaw::Dempwolf { g, mu, gamma, c } = triodes[0].plate else {
            panic!("V1 has the law of Dempwolf and Zoelzer");
        };
        let PlateLaw::Koren {
            mu: mu_2,
            ex,
            kg1,
            kp,
            kvb,
        } = triodes[1].plate
        else {
            panic!("V2 has Koren's law");
        };
        let grid = |tube: usize| {
            let law = triodes[tube].grid;
            spline(WEIGHTED, |x| {
                law.g * (softplus(x) / law.c).powf(law.xi) + law.leak_amps
            })
        };
        Self {
            weighted: boxed([
                spline(WEIGHTED, |x| g * (softplus(x) / c).powf(gamma)),
                grid(0),
                spline(WEIGHTED, |x| softplus(x).powf(ex)),
                grid(1),
            ]),
            plate: boxed([
                spline(PLATE, |volts| super::triode::plate_share(volts).0),
                spline(PLATE, |_| 0.0),
                spline(PLATE, |volts| 2.0 / kg1 * (volts / kp).powf(ex)),
                spline(PLATE, |volts| 1.0 / (kvb + volts * volts).sqrt()),
            ]),
            triodes,
            c,
            c_by_mu: c / mu,
            grids: triodes.map(|triode| triode.grid.c),
            kp_by_mu: kp / mu_2,
            kp,
        }
    }

    /// At grid and plate voltages of V1, then of V2, each to its cathode.
    #[inline(always)]
    pub(super) fn currents<L: Lanes>(&self, at: [f64; 4]) -> TubeCurrents {
        let [grid_1, plate_1, grid_2, plate_2] = at;
        let (share, share_slope) = look::<L>(
            &self.plate,
            PLATE,
            L::load(&[plate_1, 0.0, plate_2, plate_2]),
        );
        let [share, _, power, root] = share;
        let [share_slope, _, power_slope, root_slope] = share_slope;
        let drive = self.kp * grid_2;
        let x = [
            self.c_by_mu * plate_1 + self.c * grid_1,
            self.grids[0] * grid_1,
            drive * root + self.kp_by_mu,
            self.grids[1] * grid_2,
        ];
        let within = L::load(&x).all_less(L::splat(WEIGHTED.high()))
            && plate_1 >= 0.0
            && plate_2 >= LEAST_PLATE_VOLTS
            && plate_1 < PLATE.high()
            && plate_2 < PLATE.high();
        if !within {
            return self.exact(at);
        }
        let (value, slope) = look::<L>(&self.weighted, WEIGHTED, L::load(&x));
        let whole = value[0] - value[1];
        let grid_slopes = [self.grids[0] * slope[1], self.grids[1] * slope[3]];
        let by_drive = power * slope[2];
        TubeCurrents {
            amps: [share * whole, value[1], power * value[2], value[3]],
            by_grid: [
                share * (self.c * slope[0] - grid_slopes[0]),
                grid_slopes[0],
                by_drive * self.kp * root,
                grid_slopes[1],
            ],
            by_plate: [
                share * self.c_by_mu * slope[0] + share_slope * whole,
                0.0,
                power_slope * value[2] + by_drive * drive * root_slope,
                0.0,
            ],
        }
    }

    #[cold]
    fn exact(&self, at: [f64; 4]) -> TubeCurrents {
        let one: Currents = self.triodes[0].currents(at[0], at[1]);
        let two: Currents = self.triodes[1].currents(at[2], at[3]);
        TubeCurrents {
            amps: [one.plate_amps, one.grid_amps, two.plate_amps, two.grid_amps],
            by_grid: [
                one.plate_by_grid,
                one.grid_by_grid,
                two.plate_by_grid,
                two.grid_by_grid,
            ],
            by_plate: [one.plate_by_plate, 0.0, two.plate_by_plate, 0.0],
        }
    }
}

/// Values and slopes of four splines on one grid.
#[inline(always)]
fn look<L: Lanes>(tables: &[Spline; 4], grid: Grid, x: L) -> ([f64; 4], [f64; 4]) {
    let inverse = 1.0 / grid.step;
    let last = PIECES as f64 - 1e-6;
    let place = x
        .fma(L::splat(inverse), L::splat(-grid.low * inverse))
        .clamp(L::splat(0.0), L::splat(last));
    let (index, t) = place.split();
    let [a, b, c, d] = L::columns([
        &tables[0][index[0] % PIECES],
        &tables[1][index[1] % PIECES],
        &tables[2][index[2] % PIECES],
        &tables[3][index[3] % PIECES],
    ]);
    let value = d.fma(t, c).fma(t, b).fma(t, a);
    let three = d.mul(L::splat(3.0));
    let two = c.add(c);
    let slope = three.fma(t, two).fma(t, b).mul(L::splat(inverse));
    (value.store(), slope.store())
}

/// Four splines side by side.
fn boxed(splines: [Vec<Piece>; 4]) -> Box<[Spline; 4]> {
    let mut all = vec![[[0.0; 4]; PIECES]; 4].into_boxed_slice();
    for (to, from) in all.iter_mut().zip(&splines) {
        to.copy_from_slice(from);
    }
    all.try_into().expect("four")
}

/// The spline through a function's values; beyond its ends the second derivative stays.
fn spline(grid: Grid, function: impl Fn(f64) -> f64) -> Vec<Piece> {
    let n = PIECES;
    let values: Vec<f64> = (0..=n)
        .map(|k| function(grid.low + grid.step * k as f64))
        .collect();
    // Second derivatives times the square of the step: m[k-1] + 4 m[k] + m[k+1] = 6 (second
    // difference). At the ends m[0] = m[1], m[n] = m[n-1].
    let mut diagonal = vec![4.0; n + 1];
    let mut right: Vec<f64> = vec![0.0; n + 1];
    for k in 1..n {
        right[k] = 6.0 * (values[k - 1] - 2.0 * values[k] + values[k + 1]);
    }
    diagonal[1] = 5.0;
    diagonal[n - 1] = 5.0;
    for k in 2..n {
        let share = 1.0 / diagonal[k - 1];
        diagonal[k] -= share;
        right[k] -= share * right[k - 1];
    }
    let mut m = vec![0.0; n + 1];
    m[n - 1] = right[n - 1] / diagonal[n - 1];
    for k in (1..n - 1).rev() {
        m[k] = (right[k] - m[k + 1]) / diagonal[k];
    }
    m[0] = m[1];
    m[n] = m[n - 1];
    (0..n)
        .map(|k| {
            let rise = values[k + 1] - values[k];
            [
                values[k],
                rise - (2.0 * m[k] + m[k + 1]) / 6.0,
                m[k] / 2.0,
                (m[k + 1] - m[k]) / 6.0,
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::lanes::Portable;
    use super::*;

    /// To a few billionths of a milliampere, over all that a tube is driven to.
    #[test]
    fn they_are_the_laws() {
        let tables = Tables::get();
        let (mut worst, mut worst_slope) = (0.0_f64, 0.0_f64);
        for n in 0..400 {
            for k in 0..100 {
                let (grid, plate) = (-8.0 + 0.031 * f64::from(n), 5.0 + 3.13 * f64::from(k));
                let at = [grid, plate, grid, plate];
                let (got, want) = (tables.currents::<Portable>(at), tables.exact(at));
                for n in 0..4 {
                    worst = worst.max((got.amps[n] - want.amps[n]).abs());
                    worst_slope = worst_slope
                        .max((got.by_grid[n] - want.by_grid[n]).abs())
                        .max((got.by_plate[n] - want.by_plate[n]).abs());
                }
            }
        }
        println!("amps {worst:e}, siemens {worst_slope:e}");
        assert!(
            worst < 2e-9 && worst_slope < 1e-7,
            "{worst:e} {worst_slope:e}"
        );
    }
}
