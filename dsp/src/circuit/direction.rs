//! Which way Newton's method goes.

use super::lanes::Lanes;
use super::ways::Ways;
use super::wires::{Amps, Controls, Slopes};

/// Newton's way of the controls and of what is left of the currents.
///
/// Solved for the currents, of which there are fewer: `e = S (miss + K e)`, S being the slopes that the
/// model does not have. The cores' currents follow from the tubes' (what one core does to the other and
/// that to the first again is nothing that counts). Then each tube is solved for by itself, `A e = r + B e'`
/// with the currents e' of the other one, and both together: `(1 - X X') e = d + X d'` with `X = B/A`,
/// `d = r/A`; all of it is taken times the determinants, so that one division only is waited for. A small
/// determinant gives numbers that are not finite, or a way that does not lead nearer, which is seen.
#[inline(always)]
pub(super) fn direction<L: Lanes, const SAME: bool>(
    ways: Ways<'_, SAME>,
    cores: &Cores<L>,
    beyond: &Slopes<L>,
    miss: Controls<L>,
) -> (Controls<L>, Amps<L>) {
    let core = cores.alone(miss);
    let from = by_cores(ways, [miss.grid, miss.plate], core, core.swapped());
    let own = Square([drawn(beyond, cores.led[0]), drawn(beyond, cores.led[1])]);
    let across = Square([drawn(beyond, cores.led[2]), drawn(beyond, cores.led[3])]);
    let (alone, det) = own.without();
    let d = alone.times(drawn(beyond, from));
    let x = Square([alone.times(across.0[0]), alone.times(across.0[1])]);
    let others = x.times(swapped(d));
    let there_and_back = Square([x.times(swapped(x.0[0])), x.times(swapped(x.0[1]))]);
    let other = det.swapped();
    let [plate, grid] = there_and_back.solved(
        det.mul(other),
        [other.fma(d[0], others[0]), other.fma(d[1], others[1])],
    );
    let core = cores.at(core, [plate, grid]);
    let more = Amps { plate, grid, core };
    (miss.led(more, ways), more)
}

/// Grid and plate, and what a current of the own core adds to them, and one of the other.
#[inline(always)]
fn by_cores<L: Lanes, const SAME: bool>(
    ways: Ways<'_, SAME>,
    [grid, plate]: [L; 2],
    own: L,
    other: L,
) -> [L; 2] {
    let grid = ways.own::<L>(0, 2).fma(own, grid);
    let plate = ways.own::<L>(1, 2).fma(own, plate);
    [
        ways.across::<L>(0, 2).fma(other, grid),
        ways.across::<L>(1, 2).fma(other, plate),
    ]
}

/// The cores eliminated. What one carries hardly moves within a step: these hold for rounds.
#[derive(Clone, Copy)]
pub(super) struct Cores<L> {
    /// A core's current by its own flux and voltage, and by the other core's current.
    by_flux: L,
    by_volts: L,
    by_other: L,
    /// By its own tube's plate and grid, and by the other tube's.
    own: [L; 2],
    across: [L; 2],
    /// What a plate's and a grid's current lead grid and plate of the own tube to, then what those of the
    /// other tube do; the cores' answers included.
    led: [[L; 2]; 4],
}

impl<L: Lanes> Cores<L> {
    /// At slopes that the model does not have.
    #[inline(always)]
    pub(super) fn of<const SAME: bool>(ways: Ways<'_, SAME>, beyond: &Slopes<L>) -> Self {
        let (flux, volts) = (beyond.core_by_flux, beyond.core_by_volts);
        let one = L::splat(1.0);
        let answer = volts.fma(ways.own(3, 2), flux.mul(ways.own(2, 2)));
        let itself = one.div(one.sub(answer));
        let (by_flux, by_volts) = (itself.mul(flux), itself.mul(volts));
        let own = |kind: usize| by_volts.fma(ways.own(3, kind), by_flux.mul(ways.own(2, kind)));
        let across =
            |kind: usize| by_volts.fma(ways.across(3, kind), by_flux.mul(ways.across(2, kind)));
        let by_other = across(2);
        let alone = [own(0), own(1), across(0), across(1)];
        let others = [
            alone[0].swapped(),
            alone[1].swapped(),
            alone[2].swapped(),
            alone[3].swapped(),
        ];
        let own = [
            by_other.fma(others[2], alone[0]),
            by_other.fma(others[3], alone[1]),
        ];
        let across = [
            by_other.fma(others[0], alone[2]),
            by_other.fma(others[1], alone[3]),
        ];
        let led = |from: [L; 2], own: L, other: L| by_cores(ways, from, own, other.swapped());
        Self {
            by_flux,
            by_volts,
            by_other,
            own,
            across,
            led: [
                led([ways.own(0, 0), ways.own(1, 0)], own[0], across[0]),
                led([ways.own(0, 1), ways.own(1, 1)], own[1], across[1]),
                led([ways.across(0, 0), ways.across(1, 0)], across[0], own[0]),
                led([ways.across(0, 1), ways.across(1, 1)], across[1], own[1]),
            ],
        }
    }

    /// Their currents by their own controls.
    #[inline(always)]
    fn alone(&self, miss: Controls<L>) -> L {
        let alone = self.by_volts.fma(miss.core, self.by_flux.mul(miss.flux));
        self.by_other.fma(alone.swapped(), alone)
    }

    /// Those, and what currents of plates and grids add.
    #[inline(always)]
    fn at(&self, alone: L, [plate, grid]: [L; 2]) -> L {
        let own = self.own[0].fma(plate, self.own[1].fma(grid, alone));
        let across = self.across[1].mul(grid.swapped());
        own.add(self.across[0].fma(plate.swapped(), across))
    }
}

/// Two columns; a column is what plate and grid take.
struct Square<L>([[L; 2]; 2]);

impl<L: Lanes> Square<L> {
    #[inline(always)]
    fn times(&self, [a, b]: [L; 2]) -> [L; 2] {
        let [[aa, ab], [ba, bb]] = self.0;
        [ba.fma(b, aa.mul(a)), bb.fma(b, ab.mul(a))]
    }

    /// The inverse of one less this, times its determinant; and that.
    #[inline(always)]
    fn without(&self) -> (Self, L) {
        let [[aa, ab], [ba, bb]] = self.0;
        let one = L::splat(1.0);
        let (aa, bb) = (one.sub(aa), one.sub(bb));
        (Self([[bb, ab], [ba, aa]]), ab.fnma(ba, aa.mul(bb)))
    }

    /// What is `[a, b]`, times `of` and less this times it.
    #[inline(always)]
    fn solved(&self, of: L, [a, b]: [L; 2]) -> [L; 2] {
        let [[aa, ab], [ba, bb]] = self.0;
        let (aa, bb) = (of.sub(aa), of.sub(bb));
        let by = L::splat(1.0).div(ab.fnma(ba, aa.mul(bb)));
        [ba.fma(b, bb.mul(a)).mul(by), ab.fma(a, aa.mul(b)).mul(by)]
    }
}

/// Currents of plate and grid by grid and plate.
#[inline(always)]
fn drawn<L: Lanes>(beyond: &Slopes<L>, [grid, plate]: [L; 2]) -> [L; 2] {
    [
        beyond
            .plate_by_plate
            .fma(plate, beyond.plate_by_grid.mul(grid)),
        beyond.grid_by_grid.mul(grid),
    ]
}

/// Tubes exchanged.
#[inline(always)]
fn swapped<L: Lanes>([a, b]: [L; 2]) -> [L; 2] {
    [a.swapped(), b.swapped()]
}

#[cfg(test)]
mod tests {
    use super::super::equations::Setup;
    use super::super::lanes::Portable;
    use super::super::matrix::{identity, solve};
    use super::super::network::{DAMPED, Network, PASSIVE};
    use super::*;

    type Way = Controls<Portable>;

    const fn both(one: f64, two: f64) -> [f64; 4] {
        [one, one, two, two]
    }

    /// The currents of V1 and of V2, by elimination.
    fn all_at_once(ways: Ways<'_, true>, beyond: &Slopes<Portable>, miss: Way) -> [f64; 6] {
        let own = |kind: usize| Controls {
            grid: ways.own(0, kind),
            plate: ways.own(1, kind),
            flux: ways.own(2, kind),
            core: ways.own(3, kind),
        };
        let across = |kind: usize| Controls {
            grid: ways.across(0, kind),
            plate: ways.across(1, kind),
            flux: ways.across(2, kind),
            core: ways.across(3, kind),
        };
        let mut equations = identity::<6>();
        let mut currents = [[0.0]; 6];
        for tube in 0..2 {
            let drawn = |of: Way| {
                let drawn = beyond.times(of);
                [drawn.plate, drawn.grid, drawn.core].map(|amps| amps.store()[2 * tube])
            };
            for kind in 0..3 {
                let row = 3 * tube + kind;
                currents[row] = [drawn(miss)[kind]];
                for by in 0..3 {
                    equations[row][3 * tube + by] -= drawn(own(by))[kind];
                    equations[row][3 * (1 - tube) + by] -= drawn(across(by))[kind];
                }
            }
        }
        solve(&mut equations, &mut currents);
        currents.map(|[amps]| amps)
    }

    #[test]
    fn it_is_the_way_of_all_equations_at_once() {
        let setup = Setup {
            source_ohms: 150.0,
            load_ohms: 10_000.0,
            step: 6,
        };
        let network = Network::prepare(&setup, 1.0 / 384e3);
        for place in [0, PASSIVE, DAMPED] {
            for conducting in [0.0, 3e-4, 1e-3] {
                let ways = Ways::same(network.model(place));
                let rows = [
                    both(1.6e-3, 2.4e-3),
                    both(1.6e-5, 1.1e-4),
                    both(conducting, 0.7 * conducting),
                    both(1e-4, 2e-4),
                    both(2e-5, 1e-5),
                ];
                let beyond = Slopes::<Portable>::load(&rows).sub(ways.slopes());
                let miss = Controls {
                    grid: Portable::load(&both(0.3, -1.0)),
                    plate: Portable::load(&both(-4.0, 9.0)),
                    flux: Portable::load(&both(0.01, -0.02)),
                    core: Portable::load(&both(0.02, 0.1)),
                };
                let (_, more) = direction(ways, &Cores::of(ways, &beyond), &beyond, miss);
                let got = [more.plate, more.grid, more.core].map(Portable::store);
                let want = all_at_once(ways, &beyond, miss);
                let largest = want.iter().fold(0.0_f64, |most, amps| most.max(amps.abs()));
                for (n, want) in want.into_iter().enumerate() {
                    let off = (got[n % 3][2 * (n / 3)] - want).abs();
                    println!("{place} {conducting} {n}: {want:.3e} A, off {off:.1e}");
                    assert!(
                        off < 1e-7 * largest,
                        "{place}, current {n}: {want}, off {off}"
                    );
                }
            }
        }
    }
}
