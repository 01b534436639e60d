//! Where a tube works: three regions, each with slopes of its own to step with.
//!
//! The exact part of a step (see `model`) must be near what the tubes really do, or what is left
//! over, taken as a parabola in time, would swing up: a grid that conducts has a thousand times the
//! conductance of one at rest, a tube that is cut off none at all.

use super::equations::{CONTROLS, Laws, PORTS};
use super::matrix::Matrix;

/// Regions of one tube.
pub(super) const REGIONS: usize = 3;
/// Regions of both.
pub(super) const PLACES: usize = REGIONS * REGIONS;

/// Grid to cathode from which on a grid is taken to conduct, in volts.
pub(super) const CONDUCTS_VOLTS: f64 = -0.15;
/// Share of the transconductance at rest below which a tube is taken to be cut off.
pub(super) const CUT_OFF_SHARE: f64 = 0.15;
/// A conducting tube's usual place: grid and plate to cathode, in volts.
const CONDUCTING: [[f64; 2]; 2] = [[0.3, 60.0], [0.6, 45.0]];

/// The place of each channel, from bits of its lanes: which grids conduct, which tubes are cut off.
#[inline(always)]
pub(super) fn place(conducting: u8, cut_off: u8, channel: usize) -> usize {
    let bit = |bits: u8, tube: usize| usize::from(bits >> (2 * tube + channel) & 1);
    let region = |tube: usize| bit(conducting, tube) + 2 * bit(cut_off, tube);
    region(0) + REGIONS * region(1)
}

/// Whether a tube conducts at a place, and whether it is cut off.
pub(super) fn of_tube(place: usize, tube: usize) -> (bool, bool) {
    let region = [place % REGIONS, place / REGIONS][tube];
    (region == 1, region == 2)
}

/// The slopes to step with at a place.
pub(super) fn slopes(
    laws: &Laws,
    place: usize,
    rest: &Matrix<PORTS, CONTROLS>,
) -> Matrix<PORTS, CONTROLS> {
    let mut slopes = *rest;
    for (tube, region) in [(0, place % REGIONS), (1, place / REGIONS)] {
        let [grid, plate] = CONDUCTING[tube];
        let (row, column) = (2 * tube, 2 * tube);
        match region {
            1 => {
                let at = laws.tubes[tube].currents(grid, plate);
                slopes[row][column] = at.plate_by_grid;
                slopes[row][column + 1] = at.plate_by_plate;
                slopes[row + 1][column] = at.grid_by_grid;
            }
            2 => {
                slopes[row] = [0.0; CONTROLS];
                slopes[row + 1] = [0.0; CONTROLS];
            }
            _ => {}
        }
    }
    slopes
}
