//! The nonlinear currents at a step's controls, and what a model's exact step leaves of them.

use super::core::{Core, CoreCurrent};
use super::equations::{CONTROLS, PORTS};
use super::lanes::{self, Lanes, Portable};
use super::network::{Model, Network};

/// Slopes, laid out as the tubes' currents are.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Slopes {
    /// Plate and grid of V1, of V2, by the grid's voltage.
    pub(super) by_grid: [f64; 4],
    /// By the plate's voltage.
    pub(super) by_plate: [f64; 4],
    /// Cores, by milliwebers and by volts.
    pub(super) cores: [[f64; 2]; 2],
}

impl Slopes {
    /// The currents that controls make.
    #[inline(always)]
    pub(super) fn times(&self, v: &[f64; CONTROLS]) -> [f64; PORTS] {
        let (g, p, c) = (&self.by_grid, &self.by_plate, &self.cores);
        let [c0, c1] = [c[0], c[1]];
        [
            g[0] * v[0] + p[0] * v[1],
            g[1] * v[0] + p[1] * v[1],
            g[2] * v[2] + p[2] * v[3],
            g[3] * v[2] + p[3] * v[3],
            c0[0] * v[4] + c0[1] * v[6],
            c1[0] * v[5] + c1[1] * v[7],
        ]
    }
}

/// Slopes beyond those of a model, four at a time.
pub(super) struct Beyond<L> {
    by_grid: L,
    by_plate: L,
    cores: [[f64; 2]; 2],
}

impl<L: Lanes> Beyond<L> {
    #[inline(always)]
    pub(super) fn of(slopes: &Slopes, model: &Slopes) -> Self {
        let mut cores = slopes.cores;
        for (core, model) in cores.iter_mut().zip(&model.cores) {
            core[0] -= model[0];
            core[1] -= model[1];
        }
        Self {
            by_grid: L::load(&slopes.by_grid).sub(L::load(&model.by_grid)),
            by_plate: L::load(&slopes.by_plate).sub(L::load(&model.by_plate)),
            cores,
        }
    }

    /// What these slopes make of a way of the controls.
    #[inline(always)]
    pub(super) fn amps(&self, way: [L; 2]) -> [f64; PORTS] {
        let [v, u] = [way[0].store(), way[1].store()];
        let grids = L::load(&[v[0], v[0], v[2], v[2]]);
        let plates = L::load(&[v[1], v[1], v[3], v[3]]);
        let [a, b, c, d] = self.by_plate.fma(plates, self.by_grid.mul(grids)).store();
        let [one, two] = self.cores;
        [
            a,
            b,
            c,
            d,
            one[0] * u[0] + one[1] * u[2],
            two[0] * u[1] + two[1] * u[3],
        ]
    }
}

/// What a model's exact step leaves of the currents.
#[inline(always)]
pub(super) fn left(model: &Model, v: &[f64; CONTROLS], amps: &[f64; PORTS]) -> [f64; PORTS] {
    let mut left = *amps;
    for (left, by) in left.iter_mut().zip(&model.slopes.times(v)) {
        *left -= by;
    }
    left
}

/// The law of a [`Core`], by milliwebers, without divisions.
#[derive(Clone, Copy, Debug)]
pub(super) struct Iron {
    /// 1/L, 1/R of the loss, in amperes a milliweber and siemens.
    by_flux: f64,
    by_volts: f64,
    /// 1/knee, 1/wall, by milliwebers.
    knee: f64,
    wall: f64,
}

impl Iron {
    /// Of a core.
    pub(super) fn of(core: &Core) -> Self {
        Self {
            by_flux: 1e-3 / core.henries,
            by_volts: 1.0 / core.loss_ohms,
            knee: 1e-3 / core.knee_webers,
            wall: 1e-3 / core.wall_webers,
        }
    }

    /// As [`Core::current`].
    #[inline(always)]
    fn current(&self, milliwebers: f64, volts: f64) -> CoreCurrent {
        let (knee, wall) = (self.knee * milliwebers, self.wall * milliwebers);
        let (knee_2, wall_2) = (knee * knee, wall * wall);
        let wall_4 = wall_2 * wall_2;
        let wall_8 = wall_4 * wall_4;
        let by_volts = self.by_volts * knee_2;
        CoreCurrent {
            amps: self.by_flux * milliwebers * (1.0 + knee_2 + wall_8) + volts * by_volts,
            by_flux: self.by_flux * (1.0 + 3.0 * knee_2 + 9.0 * wall_8)
                + 2.0 * volts * self.by_volts * knee * self.knee,
            by_volts,
        }
    }
}

impl Network {
    /// As [`Network::currents`], by the code that this processor runs.
    pub(super) fn currents_here(&self, v: &[f64; CONTROLS]) -> ([f64; PORTS], Slopes) {
        #[cfg(target_arch = "x86_64")]
        if self.avx2 {
            #[expect(unsafe_code, reason = "the processor has what `lanes::avx2` looks for")]
            return unsafe { self.currents_avx2(v) };
        }
        self.currents::<Portable>(v)
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn currents_avx2(&self, v: &[f64; CONTROLS]) -> ([f64; PORTS], Slopes) {
        self.currents::<lanes::Avx2>(v)
    }

    /// Currents beyond rest at deviations of the controls, and slopes.
    #[inline(always)]
    pub(super) fn currents<L: Lanes>(&self, v: &[f64; CONTROLS]) -> ([f64; PORTS], Slopes) {
        let mut at = *v;
        for (at, rest) in at.iter_mut().zip(&self.rest_controls) {
            *at += rest;
        }
        let tubes = self.tables.currents::<L>([at[0], at[1], at[2], at[3]]);
        let one = self.irons[0].current(at[4], at[6]);
        let two = self.irons[1].current(at[5], at[7]);
        let [a, b, c, d] = tubes.amps;
        let mut amps = [a, b, c, d, one.amps, two.amps];
        for (amps, rest) in amps.iter_mut().zip(&self.rest_amps) {
            *amps -= rest;
        }
        let slopes = Slopes {
            by_grid: tubes.by_grid,
            by_plate: tubes.by_plate,
            cores: [[one.by_flux, one.by_volts], [two.by_flux, two.by_volts]],
        };
        (amps, slopes)
    }
}

#[cfg(test)]
mod tests {
    use super::super::elements::{T1_CORE, T2_CORE};
    use super::*;

    #[test]
    fn iron_is_the_core() {
        for core in [T1_CORE, T2_CORE] {
            for (milliwebers, volts) in [(0.0, 0.0), (3.0, 0.2), (-40.0, 5.0), (400.0, -30.0)] {
                let got = Iron::of(&core).current(milliwebers, volts);
                let want = core.current(1e-3 * milliwebers, volts);
                let near = |got: f64, want: f64| (got - want).abs() <= 1e-12 * want.abs();
                assert!(near(got.amps, want.amps));
                assert!(near(got.by_flux, 1e-3 * want.by_flux));
                assert!(near(got.by_volts, want.by_volts));
            }
        }
    }
}
