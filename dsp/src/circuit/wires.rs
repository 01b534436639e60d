//! What the tubes and cores of two channels are controlled by, and the currents that they draw, in
//! lanes: V1 and T1 of the first channel, of the second, then V2 and T2 of both.
//!
//! One channel alone stands in both places.

use super::lanes::Lanes;
use super::ways::Ways;

/// What plates and cores' voltages count in the length of a way.
pub(super) const LESS_WEIGHT: f64 = 0.03;

/// Voltages of grids and plates, each to its cathode; cores' fluxes in milliwebers and voltages.
#[derive(Clone, Copy, Debug)]
pub(super) struct Controls<L> {
    pub(super) grid: L,
    pub(super) plate: L,
    pub(super) flux: L,
    pub(super) core: L,
}

/// Currents into plates, grids and cores.
#[derive(Clone, Copy, Debug)]
pub(super) struct Amps<L> {
    pub(super) plate: L,
    pub(super) grid: L,
    pub(super) core: L,
}

/// The slopes of those by the controls of their own tube and core; all others are nothing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slopes<L> {
    pub(super) plate_by_grid: L,
    pub(super) plate_by_plate: L,
    pub(super) grid_by_grid: L,
    pub(super) core_by_flux: L,
    pub(super) core_by_volts: L,
}

impl<L: Lanes> Controls<L> {
    #[inline(always)]
    pub(super) fn nothing() -> Self {
        let nothing = L::splat(0.0);
        Self {
            grid: nothing,
            plate: nothing,
            flux: nothing,
            core: nothing,
        }
    }

    /// From the first eight rows of two columns.
    #[inline(always)]
    pub(super) fn of(one: [L; 2], other: [L; 2]) -> Self {
        Self {
            grid: one[0].evens(other[0]),
            plate: one[0].odds(other[0]),
            flux: one[1].evens(other[1]),
            core: one[1].odds(other[1]),
        }
    }

    #[inline(always)]
    pub(super) fn store(self) -> [[f64; 4]; 4] {
        [
            self.grid.store(),
            self.plate.store(),
            self.flux.store(),
            self.core.store(),
        ]
    }

    #[inline(always)]
    pub(super) fn add(self, other: Self) -> Self {
        Self {
            grid: self.grid.add(other.grid),
            plate: self.plate.add(other.plate),
            flux: self.flux.add(other.flux),
            core: self.core.add(other.core),
        }
    }

    #[inline(always)]
    pub(super) fn sub(self, other: Self) -> Self {
        Self {
            grid: self.grid.sub(other.grid),
            plate: self.plate.sub(other.plate),
            flux: self.flux.sub(other.flux),
            core: self.core.sub(other.core),
        }
    }

    /// This, and a share of a way.
    #[inline(always)]
    pub(super) fn moved(self, share: L, way: Self) -> Self {
        Self {
            grid: way.grid.fma(share, self.grid),
            plate: way.plate.fma(share, self.plate),
            flux: way.flux.fma(share, self.flux),
            core: way.core.fma(share, self.core),
        }
    }

    /// Of a mask's lanes this, of the others `other`.
    #[inline(always)]
    pub(super) fn where_set(self, mask: L, other: Self) -> Self {
        Self {
            grid: mask.select(self.grid, other.grid),
            plate: mask.select(self.plate, other.plate),
            flux: mask.select(self.flux, other.flux),
            core: mask.select(self.core, other.core),
        }
    }

    /// How long a way is for the laws: volts of a grid, milliwebers; plates and cores' voltages count
    /// less. No number, if any is none.
    #[inline(always)]
    pub(super) fn length(self) -> L {
        let less = L::splat(LESS_WEIGHT);
        let one = self.plate.abs().fma(less, self.grid.abs());
        self.core.abs().fma(less, self.flux.abs()).add(one)
    }

    /// Sum of the squares in each lane.
    #[inline(always)]
    pub(super) fn size(self) -> L {
        let one = self.plate.fma(self.plate, self.grid.mul(self.grid));
        self.core.fma(self.core, self.flux.fma(self.flux, one))
    }

    /// These, and what currents add to them.
    #[inline(always)]
    pub(super) fn led<const SAME: bool>(self, by: Amps<L>, ways: Ways<'_, SAME>) -> Self {
        let other = by.swapped();
        Self {
            grid: ways.led(0, by, other, self.grid),
            plate: ways.led(1, by, other, self.plate),
            flux: ways.led(2, by, other, self.flux),
            core: ways.led(3, by, other, self.core),
        }
    }
}

impl<L: Lanes> Amps<L> {
    #[inline(always)]
    pub(super) fn load(rows: &[[f64; 4]; 3]) -> Self {
        Self {
            plate: L::load(&rows[0]),
            grid: L::load(&rows[1]),
            core: L::load(&rows[2]),
        }
    }

    #[inline(always)]
    pub(super) fn store(self) -> [[f64; 4]; 3] {
        [self.plate.store(), self.grid.store(), self.core.store()]
    }

    #[inline(always)]
    pub(super) fn add(self, other: Self) -> Self {
        Self {
            plate: self.plate.add(other.plate),
            grid: self.grid.add(other.grid),
            core: self.core.add(other.core),
        }
    }

    #[inline(always)]
    pub(super) fn sub(self, other: Self) -> Self {
        Self {
            plate: self.plate.sub(other.plate),
            grid: self.grid.sub(other.grid),
            core: self.core.sub(other.core),
        }
    }

    /// Tubes exchanged.
    #[inline(always)]
    pub(super) fn swapped(self) -> Self {
        Self {
            plate: self.plate.swapped(),
            grid: self.grid.swapped(),
            core: self.core.swapped(),
        }
    }

    /// Of a mask's lanes this, of the others `other`.
    #[inline(always)]
    pub(super) fn where_set(self, mask: L, other: Self) -> Self {
        Self {
            plate: mask.select(self.plate, other.plate),
            grid: mask.select(self.grid, other.grid),
            core: mask.select(self.core, other.core),
        }
    }
}

impl<L: Lanes> Slopes<L> {
    #[inline(always)]
    pub(super) fn load([a, b, c, d, e]: &[[f64; 4]; 5]) -> Self {
        Self {
            plate_by_grid: L::load(a),
            plate_by_plate: L::load(b),
            grid_by_grid: L::load(c),
            core_by_flux: L::load(d),
            core_by_volts: L::load(e),
        }
    }

    #[inline(always)]
    pub(super) fn store(self) -> [[f64; 4]; 5] {
        [
            self.plate_by_grid.store(),
            self.plate_by_plate.store(),
            self.grid_by_grid.store(),
            self.core_by_flux.store(),
            self.core_by_volts.store(),
        ]
    }

    /// The currents that controls make.
    #[inline(always)]
    pub(super) fn times(&self, v: Controls<L>) -> Amps<L> {
        Amps {
            plate: self
                .plate_by_plate
                .fma(v.plate, self.plate_by_grid.mul(v.grid)),
            grid: self.grid_by_grid.mul(v.grid),
            core: self
                .core_by_volts
                .fma(v.core, self.core_by_flux.mul(v.flux)),
        }
    }

    #[inline(always)]
    pub(super) fn sub(self, other: Self) -> Self {
        Self {
            plate_by_grid: self.plate_by_grid.sub(other.plate_by_grid),
            plate_by_plate: self.plate_by_plate.sub(other.plate_by_plate),
            grid_by_grid: self.grid_by_grid.sub(other.grid_by_grid),
            core_by_flux: self.core_by_flux.sub(other.core_by_flux),
            core_by_volts: self.core_by_volts.sub(other.core_by_volts),
        }
    }
}
