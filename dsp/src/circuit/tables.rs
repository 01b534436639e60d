//! The laws of the tubes as piecewise cubics: what the exact laws need exponentials, logarithms and
//! powers for is tabulated once.
//!
//! Each piece has the exact values and slopes at its ends (Hermite: de Boor, A Practical Guide to
//! Splines, 1978, ch. IV), so that a kink of a law stays in its piece. Outside their range, which sound
//! hardly leaves, the exact laws hold.

use super::elements::{ELEMENTS, Kind};
use super::lanes::{Lanes, PIECES};
use super::triode::{PlateLaw, Triode, plate_share, softplus};
use std::sync::OnceLock;

/// Range of the functions of a tube's weighted voltages (which have no unit), and pieces a unit.
const LEAST_WEIGHTED: f64 = -32.0;
const BY_WEIGHTED: f64 = 16.0;
const MOST_WEIGHTED: f64 = LEAST_WEIGHTED + PIECES as f64 / BY_WEIGHTED;
/// Range of the functions of a plate's voltage. Up to the knee, where a plate is near its cathode, the
/// pieces are short.
const LEAST_PLATE: f64 = -16.0;
const PLATE_KNEE: f64 = 16.0;
const BELOW_KNEE: f64 = 32.0;
const ABOVE_KNEE: f64 = 4.0;
const KNEE_PIECES: f64 = (PLATE_KNEE - LEAST_PLATE) * BELOW_KNEE;
const MOST_PLATE: f64 = PLATE_KNEE + (PIECES as f64 - KNEE_PIECES) / ABOVE_KNEE;

/// A piece's polynomial, ascending, its argument from 0 to 1.
type Piece = [f64; 4];
/// Two of them side by side.
type Twin = [f64; 8];

/// Both tubes' laws: `Ip = F(plate) (W(x) - m Ig)`, `Ig = Y(c grid)`, `x = a grid R(plate) + b plate +
/// d`, with other letters for each tube. V1 has R = 1, V2 has m = 0.
#[derive(Debug)]
pub(super) struct Tables {
    /// W and Y of V1, of V2.
    drive: [Box<[Piece; PIECES]>; 2],
    grid: [Box<[Piece; PIECES]>; 2],
    /// F and R.
    plate: [Box<[Twin; PIECES]>; 2],
    triodes: [Triode; 2],
    letters: Letters,
}

/// In lanes: V1, V1, V2, V2.
#[derive(Debug)]
#[repr(align(32))]
struct Letters {
    a: [f64; 4],
    b: [f64; 4],
    d: [f64; 4],
    c: [f64; 4],
    m: [f64; 4],
}

/// Currents into plates and grids, and their slopes by the voltages of grid and plate.
#[derive(Clone, Copy, Debug)]
pub(super) struct TubeCurrents<L> {
    pub(super) plate_amps: L,
    pub(super) grid_amps: L,
    pub(super) plate_by_grid: L,
    pub(super) plate_by_plate: L,
    pub(super) grid_by_grid: L,
}

/// `g (softplus(x)/c)^power + more` and its slope.
fn power(x: f64, g: f64, c: f64, power: f64, more: f64) -> (f64, f64) {
    let (soft, slope) = softplus(x);
    let value = g * (soft / c).powf(power);
    (value + more, power * value * (slope / soft))
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
        let both = |one: f64, two: f64| [one, one, two, two];
        let grids = triodes.map(|triode| triode.grid);
        Self {
            drive: [
                weighted(|x| power(x, g, c, gamma, 0.0)),
                weighted(|x| power(x, 1.0, 1.0, ex, 0.0)),
            ],
            grid: grids.map(|law| weighted(move |x| power(x, law.g, law.c, law.xi, law.leak_amps))),
            plate: [
                plates(plate_share, |_| (1.0, 0.0)),
                plates(
                    |volts| {
                        let value = 2.0 / kg1 * (volts.max(0.0) / kp).powf(ex);
                        (value, if volts > 0.0 { ex * value / volts } else { 0.0 })
                    },
                    |volts| {
                        let root = (kvb + volts * volts).sqrt();
                        (1.0 / root, -volts / root.powi(3))
                    },
                ),
            ],
            triodes,
            letters: Letters {
                a: both(c, kp),
                b: both(c / mu, 0.0),
                d: both(0.0, kp / mu_2),
                c: both(grids[0].c, grids[1].c),
                m: both(1.0, 0.0),
            },
        }
    }

    /// At grid and plate voltages, each to its cathode; lanes 0 and 1 are V1, 2 and 3 V2.
    #[inline(always)]
    pub(super) fn currents<L: Lanes>(&self, grid: L, plate: L) -> TubeCurrents<L> {
        let letters = &self.letters;
        let [a, b] = [L::load(&letters.a), L::load(&letters.b)];
        let [c, m] = [L::load(&letters.c), L::load(&letters.m)];
        let at_grid = c.mul(grid);
        let low = L::splat(BELOW_KNEE);
        let high = L::splat(ABOVE_KNEE);
        // The lesser of two lines has the knee where they meet.
        let place = plate
            .fma(low, L::splat(-LEAST_PLATE * BELOW_KNEE))
            .min(plate.fma(high, L::splat(KNEE_PIECES - PLATE_KNEE * ABOVE_KNEE)));
        let by_volts = plate.less(L::splat(PLATE_KNEE)).select(low, high);
        let (lines, t) = bounded(place).look([&*self.plate[0], &*self.plate[1]]);
        let [f0, f1, f2, f3, r0, r1, r2, r3] = lines;
        let (share, share_by) = cubic([f0, f1, f2, f3], t, by_volts);
        let (root, root_by) = cubic([r0, r1, r2, r3], t, by_volts);
        let drive = a.mul(grid);
        let x = drive.fma(root, b.fma(plate, L::load(&letters.d)));
        let most = L::splat(MOST_WEIGHTED);
        let within = x.less(most).bits()
            & at_grid.less(most).bits()
            & plate.less(L::splat(MOST_PLATE)).bits()
            & L::splat(LEAST_PLATE).less(plate).bits();
        let by_weighted = L::splat(BY_WEIGHTED);
        let shift = L::splat(-LEAST_WEIGHTED * BY_WEIGHTED);
        let (lines, t) =
            bounded(x.fma(by_weighted, shift)).look([&*self.drive[0], &*self.drive[1]]);
        let (whole, whole_by) = cubic(lines, t, by_weighted);
        let (lines, t) =
            bounded(at_grid.fma(by_weighted, shift)).look([&*self.grid[0], &*self.grid[1]]);
        let (grid_amps, grid_by) = cubic(lines, t, by_weighted);
        let whole = m.fnma(grid_amps, whole);
        let grid_by_grid = c.mul(grid_by);
        let x_by_plate = drive.fma(root_by, b);
        let tabled = TubeCurrents {
            plate_amps: share.mul(whole),
            grid_amps,
            plate_by_grid: share.mul(m.fnma(grid_by_grid, whole_by.mul(a.mul(root)))),
            plate_by_plate: share_by.fma(whole, share.mul(whole_by.mul(x_by_plate))),
            grid_by_grid,
        };
        if within == 0b1111 {
            return tabled;
        }
        // A copy, so that the usual way keeps it in registers.
        let copy = tabled;
        self.exact(grid, plate, &copy, within)
    }

    /// The exact laws, but for the lanes that are set in `keep`.
    #[cold]
    #[inline(never)]
    fn exact<L: Lanes>(
        &self,
        grid: L,
        plate: L,
        tabled: &TubeCurrents<L>,
        keep: u8,
    ) -> TubeCurrents<L> {
        let (grid, plate) = (grid.store(), plate.store());
        let mut all = [
            tabled.plate_amps.store(),
            tabled.grid_amps.store(),
            tabled.plate_by_grid.store(),
            tabled.plate_by_plate.store(),
            tabled.grid_by_grid.store(),
        ];
        for n in (0..4).filter(|n| keep >> n & 1 == 0) {
            let at = self.triodes[n / 2].currents(grid[n], plate[n]);
            all[0][n] = at.plate_amps;
            all[1][n] = at.grid_amps;
            all[2][n] = at.plate_by_grid;
            all[3][n] = at.plate_by_plate;
            all[4][n] = at.grid_by_grid;
        }
        TubeCurrents {
            plate_amps: L::load(&all[0]),
            grid_amps: L::load(&all[1]),
            plate_by_grid: L::load(&all[2]),
            plate_by_plate: L::load(&all[3]),
            grid_by_grid: L::load(&all[4]),
        }
    }
}

/// A place within a table.
#[inline(always)]
fn bounded<L: Lanes>(place: L) -> L {
    place.clamp(L::splat(0.0), L::splat(PIECES as f64 - 1e-6))
}

/// Value and slope of a piece.
#[inline(always)]
fn cubic<L: Lanes>([a, b, c, d]: [L; 4], t: L, by: L) -> (L, L) {
    let value = d.fma(t, c).fma(t, b).fma(t, a);
    let slope = d.mul(L::splat(3.0)).fma(t, c.add(c)).fma(t, b);
    (value, slope.mul(by))
}

fn weighted(law: impl Fn(f64) -> (f64, f64)) -> Box<[Piece; PIECES]> {
    let ends = |n: usize| LEAST_WEIGHTED + n as f64 / BY_WEIGHTED;
    let pieces: Vec<Piece> = (0..PIECES)
        .map(|n| piece(&law, ends(n), ends(n + 1)))
        .collect();
    pieces.try_into().expect("as many")
}

fn plates(
    one: impl Fn(f64) -> (f64, f64),
    other: impl Fn(f64) -> (f64, f64),
) -> Box<[Twin; PIECES]> {
    let ends = |n: usize| {
        let above = n as f64 - KNEE_PIECES;
        PLATE_KNEE + above / if above < 0.0 { BELOW_KNEE } else { ABOVE_KNEE }
    };
    let twins: Vec<Twin> = (0..PIECES)
        .map(|n| {
            let [a, b, c, d] = piece(&one, ends(n), ends(n + 1));
            let [e, f, g, h] = piece(&other, ends(n), ends(n + 1));
            [a, b, c, d, e, f, g, h]
        })
        .collect();
    twins.try_into().expect("as many")
}

/// The cubic between two ends, from what a law and its slope are there.
fn piece(law: impl Fn(f64) -> (f64, f64), from: f64, to: f64) -> Piece {
    let ((start, slope), (end, end_slope)) = (law(from), law(to));
    let (slope, end_slope) = (slope * (to - from), end_slope * (to - from));
    let rise = end - start;
    [
        start,
        slope,
        3.0 * rise - 2.0 * slope - end_slope,
        slope + end_slope - 2.0 * rise,
    ]
}

#[cfg(test)]
mod tests {
    use super::super::lanes::Portable;
    use super::*;

    /// To a few billionths of a milliampere, over all that a tube is driven to; near the cathode's
    /// potential, where the laws are sharp, to a millionth of one.
    #[test]
    fn they_are_the_laws() {
        let tables = Tables::get();
        for (plates, amps, siemens) in [((5.0, 3.13), 2e-9, 1e-7), ((-15.9, 0.219), 4e-7, 1e-4)] {
            let mut worst = [0.0_f64; 5];
            for n in 0..400 {
                for k in 0..100 {
                    let grid = Portable::splat(-8.0 + 0.031 * f64::from(n));
                    let plate = Portable::splat(plates.0 + plates.1 * f64::from(k));
                    let got = tables.currents(grid, plate);
                    let want = tables.exact(grid, plate, &got, 0);
                    for (worst, (got, want)) in worst.iter_mut().zip([
                        (got.plate_amps, want.plate_amps),
                        (got.grid_amps, want.grid_amps),
                        (got.plate_by_grid, want.plate_by_grid),
                        (got.plate_by_plate, want.plate_by_plate),
                        (got.grid_by_grid, want.grid_by_grid),
                    ]) {
                        for off in got.sub(want).store() {
                            *worst = worst.max(off.abs());
                        }
                    }
                }
            }
            println!("from {} V: {worst:?}", plates.0);
            assert!(worst[..2].iter().all(|off| *off < amps), "{worst:?}");
            assert!(worst[2..].iter().all(|off| *off < siemens), "{worst:?}");
        }
    }
}
