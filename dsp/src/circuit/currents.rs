//! The nonlinear currents at a step's controls.

use super::core::Core;
use super::lanes::{self, Lanes, Portable};
use super::network::Network;
use super::wires::{Amps, Controls, Slopes};

/// The law of the [`Core`]s of T1 and T2 by milliwebers, without divisions, in lanes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Iron {
    /// 1/L, 1/R of the loss, in amperes a milliweber and siemens.
    by_flux: [f64; 4],
    by_volts: [f64; 4],
    /// 1/knee, 1/wall, by milliwebers.
    knee: [f64; 4],
    wall: [f64; 4],
}

impl Iron {
    /// Of both.
    pub(super) fn of([one, two]: &[Core; 2]) -> Self {
        let lanes = |of: fn(&Core) -> f64| [of(one), of(one), of(two), of(two)];
        Self {
            by_flux: lanes(|core| 1e-3 / core.henries),
            by_volts: lanes(|core| 1.0 / core.loss_ohms),
            knee: lanes(|core| 1e-3 / core.knee_webers),
            wall: lanes(|core| 1e-3 / core.wall_webers),
        }
    }

    /// As [`Core::current`]: current, its slopes by flux and by voltage.
    #[inline(always)]
    fn current<L: Lanes>(&self, milliwebers: L, volts: L) -> [L; 3] {
        let (by_flux, by_volts) = (L::load(&self.by_flux), L::load(&self.by_volts));
        let per_knee = L::load(&self.knee);
        let (knee, wall) = (
            per_knee.mul(milliwebers),
            L::load(&self.wall).mul(milliwebers),
        );
        let (knee_2, wall_2) = (knee.mul(knee), wall.mul(wall));
        let wall_4 = wall_2.mul(wall_2);
        let wall_8 = wall_4.mul(wall_4);
        let one = L::splat(1.0);
        let by_volts_here = by_volts.mul(knee_2);
        let straight = by_flux.mul(knee_2.add(wall_8).add(one));
        let slope = wall_8.fma(L::splat(9.0), knee_2.fma(L::splat(3.0), one));
        let twice = volts.add(volts).mul(by_volts).mul(per_knee);
        [
            straight.fma(milliwebers, volts.mul(by_volts_here)),
            by_flux.fma(slope, twice.mul(knee)),
            by_volts_here,
        ]
    }
}

/// Currents beyond rest, and their slopes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Drawn<L> {
    pub(super) amps: Amps<L>,
    pub(super) slopes: Slopes<L>,
}

impl Network {
    /// The currents at rest, by the code that this processor runs.
    pub(super) fn rest_here(&self) -> [[f64; 4]; 3] {
        #[cfg(target_arch = "x86_64")]
        if self.avx2 {
            #[expect(unsafe_code, reason = "the processor has what `lanes::avx2` looks for")]
            return unsafe { self.rest_avx2() };
        }
        self.currents::<Portable>(Controls::nothing()).amps.store()
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn rest_avx2(&self) -> [[f64; 4]; 3] {
        self.currents::<lanes::Avx2>(Controls::nothing())
            .amps
            .store()
    }

    /// Currents beyond rest at deviations of the controls, and slopes.
    #[inline(always)]
    pub(super) fn currents<L: Lanes>(&self, v: Controls<L>) -> Drawn<L> {
        let rest = &self.rest_controls;
        let tubes = self.tables.currents(
            v.grid.add(L::load(&rest[0])),
            v.plate.add(L::load(&rest[1])),
        );
        let [core, by_flux, by_volts] = self
            .iron
            .current(v.flux.add(L::load(&rest[2])), v.core.add(L::load(&rest[3])));
        Drawn {
            amps: Amps {
                plate: tubes.plate_amps,
                grid: tubes.grid_amps,
                core,
            }
            .sub(Amps::load(&self.rest_amps)),
            slopes: Slopes {
                plate_by_grid: tubes.plate_by_grid,
                plate_by_plate: tubes.plate_by_plate,
                grid_by_grid: tubes.grid_by_grid,
                core_by_flux: by_flux,
                core_by_volts: by_volts,
            },
        }
    }

    /// Which grids conduct, and which of the other tubes are cut off: a bit a lane.
    #[inline(always)]
    pub(super) fn regions<L: Lanes>(&self, grid: L, plate_by_grid: L) -> (u8, u8) {
        let at = grid.add(L::load(&self.rest_controls[0]));
        let conducting = L::splat(super::region::CONDUCTS_VOLTS).less(at).bits();
        let cut_off = plate_by_grid.less(L::load(&self.cut_off)).bits();
        (conducting, cut_off & !conducting)
    }
}

#[cfg(test)]
mod tests {
    use super::super::elements::{T1_CORE, T2_CORE};
    use super::*;

    #[test]
    fn iron_is_the_core() {
        let cores = [T1_CORE, T2_CORE];
        let iron = Iron::of(&cores);
        for (milliwebers, volts) in [(0.0, 0.0), (3.0, 0.2), (-40.0, 5.0), (400.0, -30.0)] {
            let got = iron
                .current(Portable::splat(milliwebers), Portable::splat(volts))
                .map(Portable::store);
            for (n, core) in cores.iter().enumerate() {
                let want = core.current(1e-3 * milliwebers, volts);
                let near = |got: f64, want: f64| (got - want).abs() <= 1e-12 * want.abs();
                assert!(near(got[0][2 * n], want.amps));
                assert!(near(got[1][2 * n], 1e-3 * want.by_flux));
                assert!(near(got[2][2 * n], want.by_volts));
            }
        }
    }
}
