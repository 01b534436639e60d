//! The iron of a transformer: magnetising current from flux and voltage.
//!
//! `i = flux/Lm (1 + (flux/knee)^2 + (flux/wall)^8) + volts/Rl (flux/knee)^2`
//!
//! The even polynomial is the usual static saturation curve of a core. The last term is a loss that
//! grows with flux, of our own making: without it the third harmonic of a core fed from a
//! resistance falls with the third power of frequency, with it a little faster than the second, as
//! measured transformers do.

/// A core's law; everything as seen from the primary.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Core {
    /// Magnetising inductance of the unsaturated core, in henries.
    pub henries: f64,
    /// Flux at which the cubic term equals the linear one, in webers.
    pub knee_webers: f64,
    /// Flux at which the ninth power equals the linear term, in webers.
    pub wall_webers: f64,
    /// Resistance of the loss when the flux is at the knee, in ohms.
    pub loss_ohms: f64,
}

/// Current and its slopes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CoreCurrent {
    /// In amperes.
    pub amps: f64,
    /// By flux, in amperes a weber.
    pub by_flux: f64,
    /// By voltage, in siemens.
    pub by_volts: f64,
}

impl Core {
    /// Current at a flux in webers and a voltage.
    #[must_use]
    pub fn current(&self, webers: f64, volts: f64) -> CoreCurrent {
        let knee = webers / self.knee_webers;
        let wall = webers / self.wall_webers;
        // Explicit products: a power of a negative number is where simulators differ.
        let (knee_2, wall_2) = (knee * knee, wall * wall);
        let wall_8 = wall_2 * wall_2 * wall_2 * wall_2;
        CoreCurrent {
            amps: webers / self.henries * (1.0 + knee_2 + wall_8) + volts / self.loss_ohms * knee_2,
            by_flux: (1.0 + 3.0 * knee_2 + 9.0 * wall_8) / self.henries
                + 2.0 * volts / self.loss_ohms * knee / self.knee_webers,
            by_volts: knee_2 / self.loss_ohms,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CORE: Core = Core {
        henries: 10.0,
        knee_webers: 5e-3,
        wall_webers: 10e-3,
        loss_ohms: 2_500.0,
    };

    #[test]
    fn slopes_are_the_derivatives() {
        for (flux, volts) in [(0.0, 0.0), (3e-3, 1.0), (-12e-3, 2.0)] {
            let at = |flux: f64, volts: f64| CORE.current(flux, volts).amps;
            let (df, dv) = (1e-8, 1e-4);
            let by_flux = (at(flux + df, volts) - at(flux - df, volts)) / (2.0 * df);
            let by_volts = (at(flux, volts + dv) - at(flux, volts - dv)) / (2.0 * dv);
            let now = CORE.current(flux, volts);
            assert!((now.by_flux - by_flux).abs() <= 1e-6 * by_flux.abs());
            assert!((now.by_volts - by_volts).abs() <= 1e-6 * by_volts.abs().max(1e-9));
        }
    }

    #[test]
    fn the_curve_is_odd() {
        let (up, down) = (CORE.current(7e-3, 0.3), CORE.current(-7e-3, -0.3));
        assert_eq!(up.amps, -down.amps);
    }
}
