//! Triode laws: plate and grid current from the two voltages, with their slopes.
//!
//! - [`PlateLaw::Koren`]: N. Koren, "Improved vacuum tube models for SPICE simulations", Glass
//!   Audio 8(5), 1996: `E = (Vp/KP) ln(1 + exp(KP (1/MU + Vg/sqrt(KVB + Vp^2))))`,
//!   `Ip = 2 E^EX / KG1`. The factor 2 is the `1 + sgn E` of the original listing; ports that drop
//!   it halve the current.
//! - [`PlateLaw::Dempwolf`] and [`GridLaw`]: K. Dempwolf, U. Zoelzer, "A physically-motivated
//!   triode model for circuit simulations", DAFx-11, 2011: cathode current
//!   `Ik = G (ln(1 + exp(C (Vp/mu + Vg)))/C)^gamma`, grid current
//!   `Ig = Gg (ln(1 + exp(Cg Vg))/Cg)^xi + Ig0`, `Ip = Ik - Ig`; the sets are measured specimens.
//!
//! Tubes of one type may differ by about 20 %; no published set fits every published table.

/// How the plate current follows from the voltages.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(
    missing_docs,
    reason = "the letters are those of the papers named above"
)]
pub enum PlateLaw {
    /// Koren 1996; volts and amperes.
    Koren {
        mu: f64,
        ex: f64,
        kg1: f64,
        kp: f64,
        kvb: f64,
    },
    /// Dempwolf and Zoelzer 2011; volts and amperes. Gives the cathode current.
    Dempwolf { g: f64, mu: f64, gamma: f64, c: f64 },
}

/// How the grid current follows from the grid voltage (Dempwolf and Zoelzer 2011).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GridLaw {
    /// Perveance, A/V^xi.
    pub g: f64,
    /// Exponent.
    pub xi: f64,
    /// Sharpness of the onset, 1/V.
    pub c: f64,
    /// Leakage, A.
    pub leak_amps: f64,
}

/// A triode: laws, capacitances, and where they are from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Triode {
    /// Type and parameter set.
    pub name: &'static str,
    /// Where the parameters are from.
    pub source: &'static str,
    /// Plate law.
    pub plate: PlateLaw,
    /// Grid law.
    pub grid: GridLaw,
    /// Grid to cathode, in farads.
    pub grid_cathode_farads: f64,
    /// Grid to plate, in farads.
    pub grid_plate_farads: f64,
}

/// Currents into grid and plate and their slopes, in amperes and siemens.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Currents {
    /// Into the plate.
    pub plate_amps: f64,
    /// Into the grid.
    pub grid_amps: f64,
    /// Plate current by grid voltage (transconductance).
    pub plate_by_grid: f64,
    /// Plate current by plate voltage (1/rp).
    pub plate_by_plate: f64,
    /// Grid current by grid voltage.
    pub grid_by_grid: f64,
}

const DEMPWOLF: &str = "Dempwolf and Zoelzer, DAFx-11, measured specimen";

/// 12AX7/ECC83, specimen RSD-1.
pub const ECC83_RSD_1: Triode = ecc83(
    "12AX7/ECC83 RSD-1",
    DEMPWOLF,
    PlateLaw::Dempwolf {
        g: 2.242e-3,
        mu: 103.2,
        gamma: 1.26,
        c: 3.40,
    },
    GridLaw {
        g: 6.177e-4,
        xi: 1.314,
        c: 9.901,
        leak_amps: 8.025e-8,
    },
);

const RSD_2_GRID: GridLaw = GridLaw {
    g: 5.911e-4,
    xi: 1.358,
    c: 11.76,
    leak_amps: 4.527e-8,
};

/// 12AX7/ECC83, specimen RSD-2: the set of the preamplifier's first tube. Of the published sets
/// it has the smallest errors over both data-sheet tables taken together.
pub const ECC83_RSD_2: Triode = ecc83(
    "12AX7/ECC83 RSD-2",
    DEMPWOLF,
    PlateLaw::Dempwolf {
        g: 2.173e-3,
        mu: 100.2,
        gamma: 1.28,
        c: 3.19,
    },
    RSD_2_GRID,
);

/// 12AX7/ECC83, specimen EHX-1.
pub const ECC83_EHX_1: Triode = ecc83(
    "12AX7/ECC83 EHX-1",
    DEMPWOLF,
    PlateLaw::Dempwolf {
        g: 1.371e-3,
        mu: 86.9,
        gamma: 1.349,
        c: 4.56,
    },
    GridLaw {
        g: 3.263e-4,
        xi: 1.156,
        c: 11.99,
        leak_amps: 3.917e-8,
    },
);

/// 12AX7/ECC83, Koren 1996, with the grid law of RSD-2.
pub const ECC83_KOREN_1996: Triode = ecc83(
    "12AX7/ECC83 Koren 1996",
    "Koren, Glass Audio 8(5); grid law: RSD-2",
    PlateLaw::Koren {
        mu: 100.0,
        ex: 1.4,
        kg1: 1060.0,
        kp: 600.0,
        kvb: 300.0,
    },
    RSD_2_GRID,
);

/// 6DJ8/ECC88, Koren 1996. No grid law of this tube is published: it is assumed to be that of
/// RSD-2 with three times the perveance and no leakage.
pub const ECC88_KOREN_1996: Triode = Triode {
    name: "6DJ8/ECC88 Koren 1996",
    source: "Koren, Glass Audio 8(5); grid law: assumed, RSD-2 with three times the perveance",
    plate: PlateLaw::Koren {
        mu: 28.0,
        ex: 1.3,
        kg1: 330.0,
        kp: 320.0,
        kvb: 300.0,
    },
    grid: GridLaw {
        g: 3.0 * RSD_2_GRID.g,
        leak_amps: 0.0,
        ..RSD_2_GRID
    },
    grid_cathode_farads: 3.3e-12,
    grid_plate_farads: 1.4e-12,
};

/// Capacitances of the 12AX7/ECC83 data sheets.
const fn ecc83(name: &'static str, source: &'static str, plate: PlateLaw, grid: GridLaw) -> Triode {
    Triode {
        name,
        source,
        plate,
        grid,
        grid_cathode_farads: 1.6e-12,
        grid_plate_farads: 1.7e-12,
    }
}

/// ln(1 + exp x) and its slope, without overflow.
pub(super) fn softplus(x: f64) -> (f64, f64) {
    if x > 36.0 {
        return (x, 1.0);
    }
    let e = x.exp();
    (e.ln_1p(), e / (1.0 + e))
}

/// Middle and width of [`plate_share`], in volts.
pub const PLATE_SHARE_VOLTS: [f64; 2] = [12.0, 4.0];

/// What a plate near its cathode's potential takes of the current, and its slope. The law of the
/// paper was measured well above; taken literally it would draw current into a plate that is
/// hundreds of volts negative. This end of it is ours: 1 to a millionth from 70 V up.
pub(super) fn plate_share(plate_volts: f64) -> (f64, f64) {
    let [middle, width] = PLATE_SHARE_VOLTS;
    let e = (-(plate_volts - middle) / width).clamp(-700.0, 700.0).exp();
    let share = 1.0 / (1.0 + e);
    (share, share * e / (1.0 + e) / width)
}

impl GridLaw {
    /// Grid current and its slope at a grid-to-cathode voltage.
    #[must_use]
    pub fn current(&self, grid_volts: f64) -> (f64, f64) {
        let (soft, slope) = softplus(self.c * grid_volts);
        if soft < 1e-30 {
            return (self.leak_amps, 0.0);
        }
        let power = self.g * (soft / self.c).powf(self.xi);
        (
            power + self.leak_amps,
            self.xi * power * self.c * slope / soft,
        )
    }
}

impl Triode {
    /// Currents at grid-to-cathode and plate-to-cathode voltages.
    #[must_use]
    pub fn currents(&self, grid_volts: f64, plate_volts: f64) -> Currents {
        let (grid_amps, grid_by_grid) = self.grid.current(grid_volts);
        match self.plate {
            PlateLaw::Koren {
                mu,
                ex,
                kg1,
                kp,
                kvb,
            } => {
                if plate_volts <= 0.0 {
                    return Currents {
                        grid_amps,
                        grid_by_grid,
                        ..Currents::default()
                    };
                }
                let root = (kvb + plate_volts * plate_volts).sqrt();
                let (soft, slope) = softplus(kp * (1.0 / mu + grid_volts / root));
                let e = plate_volts * soft / kp;
                let plate_amps = 2.0 * e.powf(ex) / kg1;
                let by_e = if e > 0.0 { ex * plate_amps / e } else { 0.0 };
                let e_by_plate =
                    soft / kp - plate_volts * plate_volts * grid_volts * slope / root.powi(3);
                Currents {
                    plate_amps,
                    grid_amps,
                    plate_by_grid: by_e * plate_volts * slope / root,
                    plate_by_plate: by_e * e_by_plate,
                    grid_by_grid,
                }
            }
            PlateLaw::Dempwolf { g, mu, gamma, c } => {
                let (soft, slope) = softplus(c * (plate_volts / mu + grid_volts));
                let cathode = g * (soft / c).powf(gamma);
                let by_grid = if soft > 1e-30 {
                    gamma * cathode * c * slope / soft
                } else {
                    0.0
                };
                let (share, share_slope) = plate_share(plate_volts);
                let whole = cathode - grid_amps;
                Currents {
                    plate_amps: share * whole,
                    grid_amps,
                    plate_by_grid: share * (by_grid - grid_by_grid),
                    plate_by_plate: share * by_grid / mu + share_slope * whole,
                    grid_by_grid,
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_the_derivatives() {
        for tube in [ECC83_RSD_2, ECC83_KOREN_1996, ECC88_KOREN_1996] {
            for (vg, vp) in [(-2.0, 250.0), (-0.3, 90.0), (0.4, 60.0), (1.0, 14.0)] {
                let (at, h) = (tube.currents(vg, vp), 1e-5);
                let by = |dg: f64, dp: f64| {
                    let (up, down) = (
                        tube.currents(vg + dg, vp + dp),
                        tube.currents(vg - dg, vp - dp),
                    );
                    (
                        (up.plate_amps - down.plate_amps),
                        (up.grid_amps - down.grid_amps),
                    )
                };
                let close = |a: f64, b: f64| (a - b).abs() <= 1e-6 * a.abs().max(1e-6);
                assert!(
                    close(at.plate_by_grid, by(h, 0.0).0 / (2.0 * h)),
                    "{}",
                    tube.name
                );
                assert!(
                    close(at.plate_by_plate, by(0.0, h).0 / (2.0 * h)),
                    "{}",
                    tube.name
                );
                assert!(
                    close(at.grid_by_grid, by(h, 0.0).1 / (2.0 * h)),
                    "{}",
                    tube.name
                );
            }
        }
    }

    #[test]
    fn extreme_voltages_give_finite_currents() {
        for tube in [ECC83_RSD_2, ECC83_KOREN_1996, ECC88_KOREN_1996] {
            for vg in [-1e4, -50.0, 0.0, 50.0, 1e4] {
                for vp in [-1e4, 0.0, 1e-9, 300.0, 1e4] {
                    let c = tube.currents(vg, vp);
                    assert!((c.plate_amps + c.plate_by_grid + c.plate_by_plate).is_finite());
                    assert!((c.grid_amps + c.grid_by_grid).is_finite());
                }
            }
        }
    }
}
